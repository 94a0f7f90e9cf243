"""Marking from scratch, step by step: nothing set is lost, and no key or click does what can't be seen."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.page_browser import PHOTO, Hand, correcting
from tests.page_marks import OPTIONS, to_racquet

NewHand = Callable[..., Hand]
CORNERS, SPOTS = "drawing.tool.corners", "drawing.tool.anchors.length"
REFUSED = "422"  # the browser notes a refused request as an error of its own
TRIANGLE = ((-60.0, 60.0), (0.0, 180.0), (60.0, 60.0))


@pytest.fixture
def hand(new_hand: NewHand, tmp_path: Path) -> Iterator[Hand]:
    with correcting(PHOTO, *OPTIONS, "--out", tmp_path / "by-hand.racquet.json") as address:
        opened = new_hand()
        opened.page.goto(address)
        opened.until("window.drawing?.tool?.name === 'corners' && drawing.ratio")
        yield opened
        opened.page.goto("about:blank")  # it would miss the server


def click(hand: Hand, spot: tuple[float, float]) -> None:
    hand.page.mouse.click(*hand.on_screen(spot))
    hand.page.evaluate("drawing.tool.last")


def keys(hand: Hand, *names: str) -> None:
    for name in names:
        hand.page.keyboard.press(name)
        hand.page.evaluate("drawing.tool.last")


def value(hand: Hand, script: str) -> Any:
    return hand.page.evaluate(script)


def triangle(hand: Hand) -> None:
    to_racquet(hand)
    for spot in TRIANGLE:
        click(hand, spot)
    assert value(hand, SPOTS) == 3


def test_a_refused_line_keeps_its_spots_and_says_that_it_may_be_the_fault(hand: Hand) -> None:
    triangle(hand)
    hand.page.get_by_role("button", name="Close the line").click()
    hand.page.wait_for_selector("#banner:not([hidden])")
    words = hand.page.locator("#banner").inner_text()
    said = re.match(r"The line marked may be wrong: it makes .* (\d+) mm long and (\d+) mm wide", words)
    assert said is not None, words
    assert [float(mm) for mm in said.groups()] == pytest.approx([120, 120], abs=20)
    assert value(hand, SPOTS) == 3
    click(hand, (0.0, 60.0))
    assert value(hand, SPOTS) == 4
    hand.troubles = [trouble for trouble in hand.troubles if REFUSED not in trouble]


def test_a_second_click_on_the_last_spot_closes_nothing(hand: Hand) -> None:
    triangle(hand)
    x, y = hand.on_screen(TRIANGLE[2])
    hand.page.mouse.click(x + 4, y + 2)
    value(hand, "drawing.tool.last")
    assert value(hand, SPOTS) == 3
    assert "set already" in hand.page.locator("#readout").inner_text()
    assert not hand.page.locator("#banner").is_visible()


@pytest.mark.parametrize("step", [1, 2])
def test_loading_anew_asks_before_what_is_marked_is_lost(step: int, hand: Hand) -> None:
    asked: list[str] = []

    def agree(dialog: Any) -> None:
        asked.append(dialog.type)
        dialog.accept()

    hand.page.on("dialog", agree)
    if step == 2:
        triangle(hand)
    else:
        x, y = value(hand, f"{CORNERS}[0]")
        hand.close_up((x, y), 1.0)
        hand.page.mouse.move(*hand.on_screen((x, y)))
        hand.page.mouse.down()
        hand.page.mouse.move(*hand.on_screen((x + 30, y)), steps=3)
        hand.page.mouse.up()
        assert value(hand, f"{CORNERS}[0][0]") == pytest.approx(x + 30, abs=1)
    hand.page.reload()
    assert asked == ["beforeunload"]


def test_one_can_go_back_to_the_card(hand: Hand) -> None:
    """A corner put right there straightens the table anew; spots that belong to the old one are not lost."""
    corners, first = value(hand, CORNERS), "drawing.sheet.card[0]"
    triangle(hand)
    back = hand.page.get_by_role("button", name="Back to the card")
    back.click()
    assert value(hand, SPOTS) == 3
    assert "drop them first" in hand.page.locator("#readout").inner_text()
    hand.page.get_by_role("button", name="Drop").click()
    key, before = value(hand, "drawing.sheet.key"), value(hand, first)
    back.click()
    assert value(hand, CORNERS) == corners
    assert "Step 1 of 2" in hand.page.locator("#panel").inner_text()
    hand.page.get_by_label("Snap to the card's edges").uncheck()
    hand.at_drawing()
    keys(hand, "Control+ArrowRight")
    to_racquet(hand)
    assert value(hand, "drawing.sheet.key") != key
    assert value(hand, first) != pytest.approx(before, abs=0.5)
    assert "Step 2 of 2" in hand.page.locator("#panel").inner_text()
    click(hand, TRIANGLE[0])
    assert value(hand, SPOTS) == 1
    assert hand.troubles == []


def test_undo_takes_back_the_last_spot(hand: Hand) -> None:
    before = value(hand, CORNERS)
    hand.at_drawing()
    keys(hand, "Shift+ArrowRight", "Control+z")
    assert value(hand, CORNERS) == before
    keys(hand, "Control+z", "Control+y")
    assert value(hand, CORNERS) == before
    triangle(hand)
    keys(hand, "Control+z")
    assert value(hand, SPOTS) == 2
    keys(hand, "Control+z", "Control+z", "Control+z", "Control+y")
    assert value(hand, SPOTS) == 0


def test_keys_for_an_outline_do_nothing_while_there_is_none(hand: Hand) -> None:
    outline_keys = ["1", "3", "o", "d", "Shift+d", "y", "b", "v", "w", "[", "]"]
    for name in (*outline_keys, "s", "n", "p", "x", "0"):
        keys(hand, name)
        assert hand.troubles == [], name
    state = "[drawing.before, Boolean(drawing.isFlickering), drawing.both, drawing.snap, drawing.reach]"
    assert value(hand, state) == [False, False, False, True, 30]
    to_racquet(hand)
    for name in (*outline_keys, "n", "p", "x", "0"):
        keys(hand, name)
        assert hand.troubles == [], name
    assert value(hand, state) == [False, False, False, True, 30]
    click(hand, TRIANGLE[0])
    assert value(hand, SPOTS) == 1


def test_corners_by_keyboard_are_real_ones(hand: Hand) -> None:
    value(hand, "void (drawing.tool.corners = [], drawing.tool.changed())")
    hand.at_drawing()
    following = hand.page.get_by_role("button", name="Next")
    keys(hand, "p")
    assert "No corner is set yet" in hand.page.locator("#readout").inner_text()
    keys(hand, "ArrowRight")
    assert len(value(hand, CORNERS)) == 1
    assert following.is_disabled()
    for count in (2, 3, 4):
        keys(hand, "Enter", "Control+ArrowUp", "p", "n")
        assert len(value(hand, CORNERS)) == count
    assert all(len(corner) == 2 for corner in value(hand, CORNERS))
    assert following.is_enabled()


def test_a_pinch_sets_no_corner(new_hand: NewHand, tmp_path: Path) -> None:
    with correcting(PHOTO, *OPTIONS, "--out", tmp_path / "by-hand.racquet.json") as address:
        hand = new_hand(viewport={"width": 820, "height": 1180}, has_touch=True)
        hand.page.goto(address)
        hand.until("window.drawing?.tool?.name === 'corners' && drawing.ratio")
        value(hand, "void (drawing.tool.corners = [[500, 500]], drawing.tool.changed())")
        session = hand.page.context.new_cdp_session(hand.page)

        def touch(kind: str, *fingers: tuple[float, float]) -> None:
            at = [{"x": x, "y": y, "id": i} for i, (x, y) in enumerate(fingers)]
            session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": at})

        before = value(hand, "drawing.view.scale")
        touch("touchStart", (300, 400))
        assert len(value(hand, CORNERS)) == 2
        touch("touchStart", (300, 400), (500, 400))
        touch("touchMove", (200, 400), (600, 400))
        touch("touchEnd")
        assert value(hand, CORNERS) == [[500, 500]]
        assert value(hand, "drawing.view.scale") == pytest.approx(2 * before, rel=0.05)
        hand.page.goto("about:blank")  # it would miss the server


def test_what_belongs_to_the_card_goes_with_it(hand: Hand) -> None:
    snapping = hand.page.get_by_label("Snap to the card's edges")
    assert snapping.is_visible()
    to_racquet(hand)
    assert snapping.count() == 0
