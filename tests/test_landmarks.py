"""Handle marks of outlines whose handle is known."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.landmarks import (
    AFTER_BEGIN_MM,
    FILLET_MM,
    NARROWED_SD_MM,
    UNSEEN_SD_MM,
    UNSEEN_SHARE,
    WIDENED_SD_MM,
    HandleMarks,
    half_widths,
    handle_marks,
    has_head,
)
from tests.drawn_view import paddle_half_width, paddle_ring


def test_half_widths_of_a_rectangle() -> None:
    y_mm, half = half_widths(np.array([[17.0, 5.0], [17.0, 105.0], [-17.0, 105.0], [-17.0, 5.0]]))
    np.testing.assert_allclose(half, 17.0)
    np.testing.assert_allclose(np.diff(y_mm), 1.0)
    assert y_mm[0] == 1.0
    assert y_mm[-1] == 99.0


def test_half_widths_of_a_paddle() -> None:
    y_mm, half = half_widths(paddle_ring())
    np.testing.assert_allclose(half, paddle_half_width(y_mm), atol=0.05)


def test_a_collar_is_the_grip_s_end() -> None:
    y_mm = np.arange(1.0, 400.0)
    half = np.interp(y_mm, [0, 12, 13, 120, 120.01, 140, 200, 400], [19, 19, 17, 17, 15.5, 15.5, 90, 90])
    marks = handle_marks(y_mm, half)
    assert marks.width_mm == 2 * 17.0
    assert marks.butt_width_mm == pytest.approx(2 * 19.0)
    # The width falls at 120, and stays fallen: a shaft.
    assert marks.top_mm == pytest.approx(120.0, abs=1.0)
    assert marks.top_sd_mm == NARROWED_SD_MM
    assert marks.collar is None


def test_without_a_step_the_neck_is_and_it_is_less_sure() -> None:
    y_mm = np.arange(1.0, 400.0)
    marks = handle_marks(y_mm, paddle_half_width(y_mm))
    # The neck widens by 78 mm over 60, from 130 on: of a fillet it would be the part from 4 to 16 mm.
    near_mm, far_mm = (130 + more * 60 / 78 for more in FILLET_MM)
    assert marks.top_mm == pytest.approx(2 * near_mm - far_mm + AFTER_BEGIN_MM, abs=2.0)
    assert marks.butt_width_mm == marks.width_mm == pytest.approx(34.0)
    assert marks.top_sd_mm == WIDENED_SD_MM
    assert marks.collar is None


def test_a_collar_wider_than_the_grip_is_told_by_where_the_width_falls_behind_it() -> None:
    y_mm = np.arange(1.0, 400.0)
    half = np.interp(y_mm, [0, 110, 111, 120, 122, 130, 190, 400], [17, 17, 17.6, 17.6, 16.4, 16.4, 94, 94])
    marks = handle_marks(y_mm, half)
    assert marks.collar is not None
    end_mm, fall_mm = marks.collar
    assert end_mm == pytest.approx(121.0, abs=1.0)
    assert fall_mm == pytest.approx(17.6 - 16.4)


def test_a_shaft_that_widens_into_the_head_slowly_begins_where_the_grip_ends() -> None:
    y_mm = np.arange(1.0, 700.0)
    half = np.interp(y_mm, [0, 183, 183.01, 225, 260, 300, 700], [16, 16, 12.5, 12.5, 17, 30, 130])
    marks = handle_marks(y_mm, half)
    assert marks.top_mm == pytest.approx(183.0, abs=1.0)
    assert marks.top_sd_mm == NARROWED_SD_MM


@pytest.mark.parametrize("radius_mm", [15.0, 40.0, 90.0])
def test_a_neck_begins_where_its_fillet_does_whatever_its_radius(radius_mm: float) -> None:
    y_mm = np.arange(1.0, 400.0)
    half = 17 + np.minimum(np.maximum(y_mm - 130, 0) ** 2 / (2 * radius_mm), 80)
    marks = handle_marks(y_mm, half)
    assert marks.top_mm == pytest.approx(130 + AFTER_BEGIN_MM, abs=1.5)
    assert marks.top_sd_mm == WIDENED_SD_MM


def test_a_bump_on_the_grip_is_no_neck() -> None:
    """As where the outline takes in the corner of a shadow."""
    y_mm = np.arange(1.0, 400.0)
    plain = paddle_half_width(y_mm)
    bumped = plain + np.interp(y_mm, [80, 86, 92], [0, 5, 0])
    assert handle_marks(y_mm, bumped) == handle_marks(y_mm, plain)


def test_places_2_mm_apart_tell_the_same() -> None:
    y_mm = np.arange(1.0, 400.0)
    fine, coarse = (handle_marks(y, paddle_half_width(y)) for y in (y_mm, y_mm[::2]))
    assert coarse.top_mm == pytest.approx(fine.top_mm, abs=1.0)
    assert coarse.width_mm == pytest.approx(fine.width_mm)


def test_a_staff_has_its_usual_share_as_handle_and_hardly_known() -> None:
    marks = handle_marks(np.arange(1.0, 401.0), np.full(400, 16.0))
    assert marks.top_mm == UNSEEN_SHARE * 400
    assert marks.top_sd_mm == UNSEEN_SD_MM


def test_a_handle_to_the_very_tip_leaves_no_head() -> None:
    def marks(top_mm: float) -> HandleMarks:
        return HandleMarks(32.0, 36.0, top_mm, 5.0)

    assert has_head(marks(339.0), 400.0)
    assert not has_head(marks(341.0), 400.0)
    assert not has_head(marks(400.0), 400.0)
