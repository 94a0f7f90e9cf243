"""Redrawing on the page: which line is meant, and what happens to spots that are set."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from tests.page_browser import Hand

NewHand = Callable[..., Hand]
SPOTS = "drawing.tool.anchors.length"
REFUSED = "422"  # the browser notes a refused request as an error of its own


@pytest.fixture
def hand(hand: Hand) -> Hand:
    hand.tool("Redraw")
    hand.page.get_by_role("button", name="Snap to edges").click()
    return hand


def click(hand: Hand, *spots: tuple[float, float]) -> None:
    for spot in spots:
        hand.page.mouse.click(*hand.on_screen(spot))
        hand.page.evaluate("drawing.tool.last")


def spots(hand: Hand) -> Any:
    return hand.page.evaluate(SPOTS)


def readout(hand: Hand) -> str:
    return str(hand.page.locator("#readout").inner_text())


def test_a_pinch_keeps_the_spots(address: str, new_hand: NewHand) -> None:
    hand = new_hand(viewport={"width": 820, "height": 1180}, has_touch=True)
    hand.open(address)
    hand.tool("Redraw")
    for spot in ((95.0, 240.0), (94.5, 285.0)):
        hand.page.touchscreen.tap(*hand.on_screen(spot))
        hand.page.evaluate("drawing.tool.last")
    hand.until(f"{SPOTS} === 2")
    session = hand.page.context.new_cdp_session(hand.page)

    def touch(kind: str, *fingers: tuple[float, float]) -> None:
        at = [{"x": x, "y": y, "id": i} for i, (x, y) in enumerate(fingers)]
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": at})

    before = hand.page.evaluate("drawing.view.scale")
    touch("touchStart", (300, 500))
    touch("touchStart", (300, 500), (500, 500))
    touch("touchMove", (200, 500), (600, 500))
    touch("touchEnd")
    assert hand.page.evaluate("drawing.view.scale") == pytest.approx(2 * before, rel=0.05)
    assert spots(hand) == 2


def test_too_few_spots_for_an_opening_stay(hand: Hand) -> None:
    hand.page.get_by_role("button", name="New opening").click()
    close = hand.page.get_by_role("button", name="Close the line")
    for count, spot in ((1, (-20.0, 260.0)), (2, (20.0, 260.0))):
        click(hand, spot)
        close.click()
        hand.page.evaluate("drawing.tool.last")
        assert f"needs 3 spots or more; {count} set so far" in readout(hand)
        assert spots(hand) == count
    click(hand, (0.0, 300.0))
    close.click()
    hand.until(f"{SPOTS} === 0")
    hand.settled()
    (opening,) = hand.edit()["openings"]
    away = np.hypot(*(np.array(opening["points"]) - [0.0, 300.0]).T)
    assert away.min() < 1.0


def test_one_spot_is_no_line_and_stays(hand: Hand) -> None:
    click(hand, (95.0, 240.0))
    hand.page.get_by_role("button", name="Finish").click()
    hand.page.evaluate("drawing.tool.last")
    assert "A line needs 2 spots or more; 1 set so far" in readout(hand)
    assert spots(hand) == 1


def test_a_refused_line_stays_and_undo_takes_back_its_spots(hand: Hand) -> None:
    before = hand.edit()
    hand.page.evaluate("drawing.ring = 7")  # there is no such line: the program refuses
    click(hand, (95.0, 240.0), (97.0, 262.0), (94.5, 285.0))
    hand.page.get_by_role("button", name="Finish").click()
    hand.page.wait_for_selector("#banner:not([hidden])")
    assert spots(hand) == 3
    hand.page.get_by_role("button", name="Undo").click()
    assert spots(hand) == 2
    hand.page.evaluate("drawing.ring = 0")
    hand.page.get_by_role("button", name="Finish").click()
    hand.until(f"{SPOTS} === 0")
    hand.settled()
    assert hand.edit() != before
    hand.troubles = [trouble for trouble in hand.troubles if REFUSED not in trouble]


def test_a_refused_freehand_line_stays(hand: Hand) -> None:
    hand.page.evaluate("drawing.ring = 7")
    hand.drag([(95.0, 240.0), (97.0, 262.0), (94.5, 285.0)])
    hand.page.wait_for_selector("#banner:not([hidden])")
    assert spots(hand) == 2
    assert hand.page.evaluate("drawing.tool.line.length") > 5
    hand.page.evaluate("drawing.ring = 0")
    hand.page.get_by_role("button", name="Finish").click()
    hand.until(f"{SPOTS} === 0 && drawing.history.at === 1")
    hand.settled()
    hand.troubles = [trouble for trouble in hand.troubles if REFUSED not in trouble]


def test_the_line_that_is_redrawn_is_shown_and_chosen_beside_the_tool(hand: Hand) -> None:
    choice = hand.page.get_by_label("Line to redraw")
    assert choice.count() == 0  # there is but one
    hand.page.get_by_role("button", name="New opening").click()
    turn = np.linspace(0, 2 * np.pi, 30)
    hand.drag([(30 * np.cos(a), 250 + 30 * np.sin(a)) for a in turn])
    assert choice.input_value() == "1"
    choice.select_option("0")
    assert hand.page.evaluate("drawing.ring") == 0
    assert hand.page.get_by_label("Line", exact=True).input_value() == "0"
    opening = hand.edit()["openings"]
    outer = hand.edit()["outer"]
    hand.drag([(95.0, 240.0), (98.0, 262.0), (94.5, 285.0)])
    assert hand.edit()["openings"] == opening
    assert hand.edit()["outer"] != outer
    hand.page.get_by_label("Line", exact=True).select_option("1")
    assert choice.input_value() == "1"
