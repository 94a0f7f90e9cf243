"""The page's keys wherever the focus is, and stretches in doubt by keyboard and by name."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from model.racquet_file import RacquetFile
from model.sight_record import DoubtRecord
from model.storage import read_racquet, write_racquet
from tests.page_browser import Hand, correcting

NewHand = Callable[..., Hand]
FOCUSED = "document.activeElement.id || document.activeElement.textContent"
HEIGHTS_MM = ((150, 190), (220, 260), (290, 330))


def with_doubts(path: Path) -> None:
    """Three stretches of the right side in doubt, from the lowest up."""
    file: RacquetFile = read_racquet(path)
    ring = file.outline.outer_mm
    doubts = []
    for low, high in HEIGHTS_MM:
        ends = sorted((xy for xy in ring if xy[0] > 0 and low < xy[1] < high), key=lambda xy: xy[1])
        doubts.append(
            DoubtRecord(
                start_mm=ends[0], end_mm=ends[-1], length_mm=40.0, side=f"side {low}", reason="faint edge"
            )
        )
    write_racquet(path, file.model_copy(update={"doubts": doubts}))


@pytest.fixture
def hand(paddle_path: Path, new_hand: NewHand) -> Iterator[Hand]:
    with_doubts(paddle_path)
    with correcting(paddle_path) as address:
        opened = new_hand()
        opened.open(address)
        yield opened
        opened.page.goto("about:blank")  # it would miss the server


def settled(hand: Hand) -> list[bool]:
    """Of each doubtful stretch, whether it was answered for."""
    return [doubt["settled"] for doubt in hand.page.evaluate("drawing.outcome.doubts")]


def readout(hand: Hand) -> str:
    return str(hand.page.locator("#readout").inner_text())


def height(hand: Hand) -> float:
    """What height is in the middle of the view, mm."""
    return float(hand.page.evaluate("drawing.view.y"))


def test_only_a_stretch_that_was_gone_to_is_declared_right(hand: Hand) -> None:
    hand.press("y")
    assert settled(hand) == [False, False, False]
    assert "Go to a stretch first" in readout(hand)
    hand.page.get_by_role("button", name="side 220").click()
    assert height(hand) == pytest.approx(240, abs=3)
    hand.press("y")
    assert settled(hand) == [False, True, False]
    hand.press("y")
    assert settled(hand) == [False, True, False]


def test_after_one_is_declared_right_the_next_comes(hand: Hand) -> None:
    hand.press("d")
    assert "side 150, 40 mm: faint edge. 1 of 3" in readout(hand)
    hand.press("y")
    hand.press("d")
    assert settled(hand) == [True, False, False]
    assert "side 220, 40 mm: faint edge. 1 of 2" in readout(hand)
    assert height(hand) == pytest.approx(240, abs=3)
    hand.press("d")
    assert height(hand) == pytest.approx(310, abs=3)
    hand.press("y")
    hand.press("d")
    assert settled(hand) == [True, False, True]
    assert height(hand) == pytest.approx(240, abs=3)


def test_the_stretch_gone_to_is_marked_in_the_list(hand: Hand) -> None:
    hand.press("d", "d")
    marked = hand.page.locator(".doubts [aria-current=true]")
    assert marked.all_inner_texts() == ["side 220, 40 mm"]


def test_keys_work_without_the_drawing_having_the_focus(hand: Hand) -> None:
    assert hand.page.evaluate("document.activeElement === document.body")
    hand.press("4")
    assert hand.page.evaluate("drawing.tool.name") == "marks"
    hand.page.get_by_role("radio", name="Points").focus()
    hand.press("b")
    assert hand.page.evaluate("drawing.both") is True
    hand.page.get_by_label("Handle top").focus()
    hand.press("b")
    assert hand.page.evaluate("drawing.both") is True  # a field has its keys for itself
    hand.page.evaluate("document.activeElement.blur()")
    steps = hand.page.evaluate("drawing.history.steps.length")
    hand.press("ArrowDown", "Enter")  # nothing is chosen: the page's own
    assert hand.page.evaluate("drawing.point") == -1
    assert hand.page.evaluate("drawing.history.steps.length") == steps
    hand.press("1", "n", "Shift+ArrowUp")
    assert hand.page.evaluate("drawing.history.steps.length") == steps + 1


@pytest.mark.parametrize("name", ["Both sides", "Before", "Flicker"])
def test_a_switch_keeps_the_focus(name: str, hand: Hand) -> None:
    hand.page.get_by_role("button", name=name).focus()
    hand.press("Space")
    assert hand.page.evaluate(FOCUSED) == name
    assert hand.page.get_by_role("button", name=name).get_attribute("aria-pressed") == "true"
    hand.press("Enter")
    assert hand.page.get_by_role("button", name=name).get_attribute("aria-pressed") == "false"


def test_answers_and_steps_keep_the_focus(hand: Hand) -> None:
    hand.page.get_by_role("button", name="Right as it is").nth(1).focus()
    hand.press("Enter")
    assert settled(hand) == [False, True, False]
    assert hand.page.evaluate(FOCUSED) == "side 220, 40 mm"
    hand.page.get_by_role("button", name="Undo").focus()
    hand.press("Enter")
    assert settled(hand) == [False, False, False]
    assert hand.page.evaluate(FOCUSED) == "drawing"  # no step is left to undo
