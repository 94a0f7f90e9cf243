"""Marking the sample paddle from scratch on the page, for the tests."""

from __future__ import annotations

from functools import cache

import numpy as np

from digitise.card import find_card
from digitise.card_shape import ID1
from digitise.page.card import camera_from
from digitise.page.marking import table_sheet
from digitise.photo import read_photo
from digitise.recast import seen_px
from digitise.tone import FloatArray
from digitise.trace import Thickness, trace_photo
from model.build import Known
from tests.page_browser import PHOTO, Hand

OPTIONS = (
    *("--construction", "solid", "--face-thickness", "14", "--handle-thickness", "30"),
    *("--weight", "231", "--pendulum", "pivot 30mm, 20 swings, 20.92s"),
)


@cache
def clicks_round() -> FloatArray:
    """Places on the table's sheet round the racquet's rim, half a millimetre off as a hand is."""
    photo = read_photo(PHOTO)
    traced = trace_photo(photo, "solid", Thickness(14.0, 0.3, 30.0, 0.3))
    rim_px = seen_px(traced.estimate.camera, traced.contour, traced.body)
    estimate = camera_from(photo, find_card(photo.pixels_rgb).corners_px, ID1, snap=True)
    sheet = table_sheet(photo, estimate, Known("solid", 14.0, 30.0), False)
    clicked = sheet.from_px(rim_px[:: len(rim_px) // 40])
    return np.asarray(clicked + np.random.default_rng(2).normal(0, 0.5, clicked.shape))


def to_racquet(hand: Hand) -> None:
    """Take the card as it was found, and go on to the racquet."""
    hand.page.get_by_role("button", name="Next: the racquet").click(timeout=60_000)
    hand.until("drawing.tool.name === 'redraw' && !drawing.isBusy")


def mark_racquet(hand: Hand) -> None:
    """Click all the way round the racquet, up to the page on which the outline is corrected."""
    seen = clicks_round()[:40]  # one more would be so near the first that it closes the line
    for x, y in [*seen, seen[0]]:
        before = hand.page.evaluate("drawing.tool.anchors.length")
        hand.page.mouse.click(*hand.on_screen((float(x), float(y))))
        hand.until(f"!window.drawing?.tool?.anchors || drawing.tool.anchors.length !== {before}")
    hand.ready()
