"""Numbers typed on the page: taken when saved, put back when they make no sense, and undone like all else."""

from __future__ import annotations

from pathlib import Path

import pytest

from model.storage import read_racquet
from tests.page_browser import Hand

REFUSED = "422"  # the browser notes a refused request as an error of its own


def without_refusals(hand: Hand) -> None:
    hand.troubles = [trouble for trouble in hand.troubles if REFUSED not in trouble]


def test_a_number_still_being_typed_is_saved(hand: Hand, paddle_path: Path) -> None:
    field = hand.page.get_by_label("Handle top")
    field.fill("140")
    hand.page.keyboard.press("Control+s")
    hand.until("drawing.history.isSaved && drawing.history.at === 1")
    assert hand.edit()["handle_top_mm"] == 140
    assert field.evaluate("field => field === document.activeElement")
    assert read_racquet(paddle_path).landmarks.handle_top_mm.value == pytest.approx(140, abs=0.5)


def test_a_slip_of_the_decimal_point_makes_no_step(hand: Hand, paddle_path: Path) -> None:
    field = hand.page.get_by_label("Handle top")
    before = field.input_value()
    field.fill("136800")
    hand.page.keyboard.press("Enter")
    banner = hand.page.locator("#banner")
    assert "136800 mm is far off any racquet: check the decimal point" in banner.inner_text()
    assert field.input_value() == before
    assert hand.page.evaluate("drawing.history.steps.length") == 1
    field.fill("137")
    hand.page.keyboard.press("Enter")
    hand.settled()
    assert not banner.is_visible()
    hand.save()
    assert read_racquet(paddle_path).landmarks.handle_top_mm.value == pytest.approx(137, abs=0.5)


def test_an_emptied_field_shows_the_value_it_keeps(hand: Hand) -> None:
    field = hand.page.get_by_label("Handle top")
    field.fill("141.5")
    hand.page.keyboard.press("Enter")
    hand.settled()
    field.fill("")
    hand.page.keyboard.press("Tab")
    assert float(field.input_value()) == 141.5
    assert hand.edit()["handle_top_mm"] == 141.5
    assert "it stays at 141.5" in hand.page.locator("#banner").inner_text()


def test_a_step_that_is_refused_can_be_undone(hand: Hand, paddle_path: Path) -> None:
    """However a drawing came about that the program refuses: undone, it is in nobody's way."""
    hand.at_drawing()
    hand.press("n", "Shift+ArrowRight")
    good = hand.edit()
    hand.page.evaluate("void drawing.commit({ ...drawing.edit, handle_top_mm: 1e6 })")
    hand.page.wait_for_selector("#banner:not([hidden])")
    words = hand.page.locator("#banner").inner_text()
    assert "The handle top is far off any racquet" in words
    assert "input" not in words.lower()
    hand.until("!drawing.isWeighing")
    hand.page.get_by_role("button", name="Undo").click()
    hand.settled()
    assert not hand.page.locator("#banner").is_visible()
    assert hand.page.get_by_role("button", name="Redo").is_disabled()
    hand.save()
    assert hand.edit() == good
    assert read_racquet(paddle_path).correction is not None
    without_refusals(hand)
