"""What the page tells of the file besides its figures."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from model.reading_text import weight_reading
from model.recalibrate import recalibrated
from model.storage import read_racquet, write_racquet
from tests.page_browser import Hand, correcting

NewHand = Callable[..., Hand]


def test_cautions_of_the_readings_stand_under_the_figures(paddle_path: Path, new_hand: NewHand) -> None:
    light, _ = recalibrated(read_racquet(paddle_path), [weight_reading("150")])
    assert any("lighter than usual" in note for note in light.notes)
    write_racquet(paddle_path, light)
    with correcting(paddle_path) as address:
        hand = new_hand()
        hand.open(address)
        words = hand.page.get_by_role("list", name="Notes").inner_text()
        hand.page.goto("about:blank")  # it would miss the server
    assert "lighter than usual" in words
    assert words[0].isupper()


def test_where_a_tape_measure_gave_the_scale_there_is_no_card_to_move(
    paddle_path: Path, new_hand: NewHand
) -> None:
    write_racquet(paddle_path, read_racquet(paddle_path).model_copy(update={"scale": None}))
    with correcting(paddle_path) as address:
        hand = new_hand()
        hand.open(address)
        hand.tool("Card")
        options = hand.page.locator("#options")
        assert "there is no card to move" in options.inner_text()
        assert options.get_by_role("button").count() == 0
        hand.at_drawing()
        hand.press("ArrowRight")
        assert hand.page.evaluate("drawing.history.at") == 0
        assert hand.troubles == []
        hand.page.goto("about:blank")
