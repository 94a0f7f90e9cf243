"""What counts as a handle, on half widths of known measure."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.grip import SHORTEST_GRIP_MM, grip_length_mm, has_grip, suits_thickness
from tests.drawn_view import paddle_half_width

Y_MM = np.arange(0.0, 400.0, 2.0)


def test_a_grip_ends_where_the_neck_has_widened_by_a_quarter() -> None:
    # The neck widens by 78 mm over 60 from 130 mm on; the places are 2 mm apart.
    expected = 130 + 0.25 * 17 * 60 / 78
    assert grip_length_mm(Y_MM, paddle_half_width(Y_MM)) == pytest.approx(expected, abs=2.0)
    assert has_grip(Y_MM, paddle_half_width(Y_MM))


def test_a_flared_cap_and_a_notch_do_not_end_it() -> None:
    half = paddle_half_width(Y_MM)
    half[Y_MM < 20] = 22.0
    half[(Y_MM > 90) & (Y_MM < 96)] = 5.0
    assert grip_length_mm(Y_MM, half) == grip_length_mm(Y_MM, paddle_half_width(Y_MM))


@pytest.mark.parametrize("missing_mm", [60.0, 120.0])
def test_a_head_without_its_handle_has_none(missing_mm: float) -> None:
    kept = missing_mm <= Y_MM
    y_mm, half = Y_MM[kept] - missing_mm, paddle_half_width(Y_MM[kept])
    assert grip_length_mm(y_mm, half) < SHORTEST_GRIP_MM
    assert not has_grip(y_mm, half)


def test_what_no_hand_closes_round_is_no_handle() -> None:
    blade = 80.0 * np.sqrt(np.clip(Y_MM * (400.0 - Y_MM), 0, None)) / 200.0  # an ellipse, 160 mm wide
    assert grip_length_mm(Y_MM, blade) == 0.0


@pytest.mark.parametrize(
    ("wide_mm", "held"), [(8.0, False), (14.0, False), (16.0, True), (58.0, True), (62.0, False)]
)
def test_a_shaft_is_no_grip_and_nor_is_a_blade(wide_mm: float, held: bool) -> None:
    half = np.where(Y_MM < 150, wide_mm / 2, 100.0)
    assert has_grip(Y_MM, half) is held


@pytest.mark.parametrize(
    ("width_mm", "thickness_mm", "sd_mm", "suits"),
    [
        (32.0, 30.0, 0.5, True),
        (24.0, 25.0, 0.5, True),
        (35.5, 27.5, 0.5, True),  # 1.29 times as wide as thick
        (25.5, 30.0, 0.5, False),  # 0.88 x 29.5 is 25.96
        (26.5, 30.0, 0.5, True),
        (45.0, 30.0, 0.5, False),  # 1.42 x 30.5 is 43.3
        (45.0, 30.0, 2.0, True),  # where the thickness was not measured, more may be
    ],
)
def test_how_wide_a_grip_of_some_thickness_may_be(
    width_mm: float, thickness_mm: float, sd_mm: float, suits: bool
) -> None:
    assert suits_thickness(width_mm, thickness_mm, sd_mm) is suits
