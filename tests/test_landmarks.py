"""Handle marks of outlines whose handle is known."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.landmarks import HandleMarks, half_widths, handle_marks, has_head
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
    assert marks.top_mm == pytest.approx(120.0, abs=2.0)
    assert marks.top_sd_mm == 2.0


def test_without_a_collar_the_neck_is_and_it_is_less_sure() -> None:
    y_mm = np.arange(1.0, 400.0)
    marks = handle_marks(y_mm, paddle_half_width(y_mm))
    # The neck widens by 78 mm over 60: 8 % of 17 is reached 17 * 0.08 * 60 / 78 beyond its start.
    assert marks.top_mm == pytest.approx(130 + 17 * 0.08 * 60 / 78, abs=1.0)
    assert marks.butt_width_mm == marks.width_mm == pytest.approx(34.0)
    assert marks.top_sd_mm == 5.0


def test_a_handle_to_the_very_tip_leaves_no_head() -> None:
    def marks(top_mm: float) -> HandleMarks:
        return HandleMarks(32.0, 36.0, top_mm, 5.0)

    assert has_head(marks(339.0), 400.0)
    assert not has_head(marks(341.0), 400.0)
    assert not has_head(marks(400.0), 400.0)
