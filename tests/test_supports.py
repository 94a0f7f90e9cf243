"""Supports against moments worked by hand."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from model.supports import balance_from_scale_mm, scale_shows_g, width_sd_mm


def test_two_supports_by_hand() -> None:
    """300 g at 240 mm on supports at 20 and 420 mm: 300 · 220 / 400 = 165 g under the upper one."""
    assert scale_shows_g(300.0, 240.0, 20.0, 420.0) == pytest.approx(165.0)
    assert scale_shows_g(300.0, 240.0, 420.0, 20.0) == pytest.approx(135.0)
    assert balance_from_scale_mm(300.0, 165.0, 20.0, 420.0) == pytest.approx(240.0)


def test_tilt_against_vectors() -> None:
    """Moments of upright forces on a body turned by the tilt, worked with coordinates."""
    mass, balance, block, scale, height, tilt = 231.0, 238.0, 10.0, 390.0, 14.0, math.radians(4.0)

    def across(y: float, z: float) -> float:  # horizontal place of a point of the racquet
        return y * math.cos(tilt) - z * math.sin(tilt)

    want = mass * (across(balance, height) - across(block, 0)) / (across(scale, 0) - across(block, 0))
    assert scale_shows_g(mass, balance, block, scale, 4.0, height) == pytest.approx(want, rel=1e-12)


@given(st.floats(50, 400), st.floats(30, 380), st.floats(-10, 25), st.floats(385, 690), st.floats(-20, 20))
def test_there_and_back(mass: float, balance: float, block: float, scale: float, tilt: float) -> None:
    shown = scale_shows_g(mass, balance, block, scale, tilt, 12.0)
    assert balance_from_scale_mm(mass, shown, block, scale, tilt, 12.0) == pytest.approx(balance)
    other = scale_shows_g(mass, balance, scale, block, tilt, 12.0)
    assert shown + other == pytest.approx(mass)


def test_a_flat_support_counts_as_anywhere_on_it() -> None:
    assert width_sd_mm(6.0) ** 2 == pytest.approx(6.0**2 / 12)
