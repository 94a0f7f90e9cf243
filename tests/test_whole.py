"""Outlines that are not one whole racquet."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.landmarks import half_widths, handle_marks
from digitise.refusal import Reason, Refused
from digitise.tone import FloatArray
from digitise.whole import (
    NEAR_FRAME_SHARE,
    OVER_CARD,
    THINNEST_MM,
    check_bed,
    check_off_card,
    check_on_face,
    check_whole,
)
from tests.drawn_view import paddle_ring

SIZE_PX = (2000, 1500)
PX_PER_MM = 3.0


def check(ring_mm: FloatArray, low_px: float, construction: str = "solid") -> None:
    """Check a ring that is seen upright, its lowest place ``low_px`` from the left edge of the picture."""
    rim_px = np.column_stack([low_px + PX_PER_MM * ring_mm[:, 1], 700 + PX_PER_MM * ring_mm[:, 0]])
    check_whole(SIZE_PX, rim_px, ring_mm, handle_marks(*half_widths(ring_mm)), construction)


def cut_at(y_mm: float) -> FloatArray:
    """The paddle without what lies below a place."""
    ring = paddle_ring()
    kept = ring[ring[:, 1] >= y_mm]
    return np.asarray(kept - np.array([0.0, y_mm]))


def test_a_whole_paddle_passes() -> None:
    check(paddle_ring(), NEAR_FRAME_SHARE * 1999 + 1)


@pytest.mark.parametrize(
    ("handle_gone_mm", "low_px", "reason"),
    [
        (0.0, NEAR_FRAME_SHARE * 1999 - 1, Reason.RACQUET_CUT),
        (120.0, 170.0, Reason.RACQUET_CUT),  # 57 mm from the edge: a handle may run out there
        (120.0, 200.0, Reason.NO_RACQUET),
    ],
)
def test_reasons(handle_gone_mm: float, low_px: float, reason: Reason) -> None:
    with pytest.raises(Refused) as refused:
        check(cut_at(handle_gone_mm), low_px)
    assert refused.value.reason is reason


def test_a_hoop_ends_round() -> None:
    ring = paddle_ring()
    check(ring, 100.0, "strung")  # its tip is elliptic: at 8 mm sqrt(1 - 0.9**2) = 0.44 of the full width
    flat = ring.copy()
    flat[:, 1] = np.minimum(flat[:, 1], 330.0)
    check(flat, 100.0)
    with pytest.raises(Refused, match="hoop"):
        check(flat, 100.0, "strung")


def test_an_outline_that_runs_over_a_card_is_refused() -> None:
    outline = np.array([[0.0, 0.0], [400.0, 0.0], [400.0, 100.0], [0.0, 100.0]])

    def card_at(x_px: float) -> FloatArray:
        return np.array([[x_px, 20.0], [x_px + 80, 20.0], [x_px + 80, 70.0], [x_px, 70.0]])

    hidden_px = OVER_CARD * 80  # so much of its length may lie under the outline's end
    check_off_card(outline, [card_at(500.0), card_at(401.0 - hidden_px)])
    with pytest.raises(Refused, match=r"over 11 % of it") as refused:
        check_off_card(outline, [card_at(500.0), card_at(399.2 - hidden_px)])
    assert refused.value.reason is Reason.NO_RACQUET
    with pytest.raises(Refused, match=r"--card-on face"):
        check_off_card(outline, [card_at(200.0)])


def test_a_card_on_the_face_lies_within_the_outline() -> None:
    outline = np.array([[0.0, 0.0], [400.0, 0.0], [400.0, 100.0], [0.0, 100.0]])

    def card_at(x_px: float) -> FloatArray:
        return np.array([[x_px, 20.0], [x_px + 80, 20.0], [x_px + 80, 70.0], [x_px, 70.0]])

    hidden_px = OVER_CARD * 80
    check_on_face(outline, [card_at(200.0), card_at(399.0 - hidden_px)])
    check_on_face(outline, [])
    for beside in (500.0, 401.0 - hidden_px):
        with pytest.raises(Refused, match="without --card-on face") as refused:
            check_on_face(outline, [card_at(200.0), card_at(beside)])
        assert refused.value.reason is Reason.NO_RACQUET


def test_a_string_bed_lies_inside_its_frame() -> None:
    """A square of 100 mm: a bed as far from its sides as a rim is thick passes, a wider one does not."""
    square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    widest = 100.0 - 2 * THINNEST_MM
    check_bed(100.0 * square, 50.0 + (widest - 0.01) * (square - 0.5))
    with pytest.raises(Refused) as refused:
        check_bed(100.0 * square, 50.0 + (widest + 0.01) * (square - 0.5))
    assert refused.value.reason is Reason.NO_RACQUET


@pytest.mark.parametrize(("shaft_mm", "whole"), [(10.0, False), (26.0, True)])
def test_a_hoop_on_a_shaft_whose_grip_was_missed_is_no_racquet(shaft_mm: float, whole: bool) -> None:
    ring = paddle_ring()
    handle = ring[:, 1] < 120
    ring[handle, 0] *= shaft_mm / np.ptp(ring[handle, 0])
    if whole:
        check(ring, 300.0)
    else:
        with pytest.raises(Refused) as refused:
            check(ring, 300.0)
        assert refused.value.reason is Reason.NO_RACQUET
