"""Clicks that are not quite still, arrows that lead nowhere, and looking without changing anything."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from model.racquet_file import RacquetFile
from model.storage import read_racquet, write_racquet
from tests.page_browser import Hand, correcting

NewHand = Callable[..., Hand]
MIDDLE_PX = "[drawing.view.x * drawing.view.scale, drawing.view.y * drawing.view.scale]"
STEPS = "drawing.history.steps.length"


def jitter(hand: Hand, spot: tuple[float, float], px: tuple[float, float]) -> None:
    """Press the button on a spot, move by some pixels and let go."""
    x, y = hand.on_screen(spot)
    hand.page.mouse.move(x, y)
    hand.page.mouse.down()
    hand.page.mouse.move(x + px[0], y + px[1], steps=2)
    hand.page.mouse.up()
    hand.settled()


@pytest.mark.parametrize("px", [(1.0, 0.0), (30.0, 0.0), (0.0, 2.0)])
def test_a_click_on_a_landmark_is_no_step(px: tuple[float, float], hand: Hand) -> None:
    """Nor is a drag across the axis, along which the handle top can't go."""
    hand.tool("Landmarks")
    before = hand.edit()
    jitter(hand, (46.0, before["handle_top_mm"]), px)
    assert hand.page.evaluate("drawing.mark") == "handle top"
    assert hand.page.evaluate(STEPS) == 1
    assert hand.edit() == before


def test_a_click_on_a_corner_of_the_card_does_not_rescale(hand: Hand) -> None:
    hand.tool("Card")
    x, y = hand.page.evaluate("drawing.sheet.card[2]")
    jitter(hand, (x, y), (1.0, 1.0))
    assert hand.page.evaluate("drawing.tool.chosen") == 2
    hand.page.wait_for_timeout(300)
    assert hand.page.evaluate(STEPS) == 1


def test_a_click_on_the_line_pulls_nothing(hand: Hand) -> None:
    hand.tool("Pull")
    spot = next(p for p in hand.points() if p[0] > 80 and p[1] > 220)
    jitter(hand, (spot[0], spot[1]), (1.0, 0.0))
    assert hand.page.evaluate(STEPS) == 1


def test_an_arrow_that_moves_nothing_says_so(hand: Hand) -> None:
    hand.tool("Landmarks")
    hand.at_drawing()
    hand.page.evaluate("drawing.mark = 'handle top'")
    hand.press("ArrowLeft")
    assert hand.page.evaluate(STEPS) == 1
    readout = hand.page.locator("#readout")
    assert readout.inner_text() == "The handle top moves along the axis only: use the arrows up and down."
    before = hand.edit()["handle_top_mm"]
    hand.press("Shift+ArrowUp")
    assert hand.edit()["handle_top_mm"] == pytest.approx(before + 1.0)
    hand.page.evaluate("drawing.mark = 'axis-high'")
    hand.press("ArrowUp")
    assert "moves sideways only" in readout.inner_text()
    hand.press("Shift+ArrowRight")
    assert hand.edit()["axis"]["at_tip_mm"] > 0.9


@pytest.mark.parametrize("name", ["Flicker", "Before"])
def test_while_looking_a_drag_moves_the_view(name: str, hand: Hand) -> None:
    hand.page.get_by_role("button", name=name).click()
    assert f"While {name} is on, dragging moves the view" in hand.page.locator("#options").inner_text()
    spot = next(p for p in hand.points() if p[0] > 80 and p[1] > 220)
    for _ in range(4):
        before = hand.page.evaluate("drawing.view.x")
        jitter(hand, (spot[0], spot[1]), (13.0, 0.0))
        moved = before - hand.page.evaluate("drawing.view.x")
        assert moved * hand.page.evaluate("drawing.view.scale") == pytest.approx(13.0, abs=0.01)
        hand.page.wait_for_timeout(300)  # both halves of a flicker have their turn
    assert hand.page.evaluate(STEPS) == 1
    hand.page.get_by_role("button", name=name).click()
    jitter(hand, (spot[0], spot[1]), (13.0, 0.0))
    assert hand.page.evaluate(STEPS) == 2


@pytest.mark.parametrize("name", ["Flicker", "Before"])
def test_while_looking_keys_move_the_view_and_change_nothing(name: str, hand: Hand) -> None:
    hand.at_drawing()
    hand.press("n")
    hand.page.get_by_role("button", name=name).click()
    hand.at_drawing()
    count = len(hand.points())
    for _ in range(2):
        before = hand.page.evaluate(MIDDLE_PX)
        hand.press("ArrowRight", "Shift+ArrowUp", "Enter", "k", "Delete")
        after = hand.page.evaluate(MIDDLE_PX)
        assert [after[0] - before[0], after[1] - before[1]] == pytest.approx([60, 60], abs=0.01)
        hand.page.wait_for_timeout(500)  # both halves of a flicker have their turn
    assert (hand.page.evaluate(STEPS), len(hand.points())) == (1, count)
    hand.page.get_by_role("button", name=name).click()
    hand.at_drawing()
    hand.press("ArrowRight")
    assert hand.page.evaluate(STEPS) == 2


@pytest.mark.parametrize("size", [(420, 860), (400, 800), (1280, 800)])
def test_no_handle_lies_under_the_zoom_buttons(
    size: tuple[int, int], paddle_path: Path, new_hand: NewHand
) -> None:
    with correcting(paddle_path) as address:
        hand = new_hand(viewport={"width": size[0], "height": size[1]})
        hand.open(address)
        hand.tool("Landmarks")
        hand.page.get_by_role("button", name="Whole").click()
        under = hand.page.evaluate(
            """() => {
                const box = document.getElementById("drawing").getBoundingClientRect();
                return drawing.tool.spots().map(([name, spot]) => {
                    const [x, y] = drawing.view.toScreen(...spot);
                    return [name, document.elementFromPoint(box.left + x, box.top + y)?.id ?? ""];
                });
            }"""
        )
        hand.page.goto("about:blank")
    assert [name for name, _ in under] == ["axis-high", "axis-low", "butt", "handle top"]
    assert {element for _, element in under} == {"drawing"}


def test_what_was_marked_by_hand_is_not_called_checked(paddle_path: Path, new_hand: NewHand) -> None:
    from digitise.page.desk import Desk
    from digitise.photo import read_photo
    from tests.page_browser import PHOTO

    desk = Desk(paddle_path, read_photo(PHOTO))
    file: RacquetFile = desk.save(0)
    desk.close()
    assert file.correction is not None
    by_hand = file.correction.model_copy(update={"automatic": None})
    write_racquet(paddle_path, file.model_copy(update={"correction": by_hand}))
    assert read_racquet(paddle_path).doubts == []
    with correcting(paddle_path) as address:
        hand = new_hand()
        hand.open(address)
        words = hand.page.get_by_role("region", name="In doubt").inner_text()
        hand.at_drawing()
        hand.press("v")
        assert hand.page.evaluate("drawing.before") is False
        assert "no automatic outline to compare with" in hand.page.locator("#readout").inner_text()
        hand.page.goto("about:blank")
    assert "No stretch was checked: the outline was marked by hand." in words
    assert "clear edge" not in words
