"""How looks of a table change in shadow."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.table_shade import CONTACT_DEPTH, LEFT, shade_of
from digitise.tone import LIGHT_FLOOR, log_colour


def test_what_is_bright_keeps_its_tint() -> None:
    """Light 10,000 times the floor and more: nothing fades, and the tint counts above the least."""
    bright = np.array([800.0, 400.0, 100.0])
    shade = shade_of(log_colour(bright), 0.0)
    assert shade.fading == pytest.approx(np.zeros(2), abs=2e-4)
    tint = np.hypot(np.log(2.0), np.log(100.0) - np.log(800.0 * 400.0) / 2)
    assert float(shade.depth) == pytest.approx(0.4 + (tint - 0.5), abs=1e-3)


def test_what_is_dark_fades_by_the_floor() -> None:
    """Red 0.08, green and blue 0.02: with three tenths left each stands on the floor's 0.008."""
    shade = shade_of(log_colour(np.array([0.08, 0.02, 0.02])), 0.0)
    red = np.log((LEFT * 0.08 + LIGHT_FLOOR) / (0.08 + LIGHT_FLOOR))
    green = np.log((LEFT * 0.02 + LIGHT_FLOOR) / (0.02 + LIGHT_FLOOR))
    darker = (red + 2 * green) / 3
    assert shade.fading == pytest.approx(
        np.array([red - green, green - (red + green) / 2]) / darker, rel=1e-6
    )
    tint = np.hypot(1.0, 0.5) * np.log((LEFT * 0.08 + LIGHT_FLOOR) / (LEFT * 0.02 + LIGHT_FLOOR))
    assert float(shade.depth) == pytest.approx(0.4 + tint - 0.5, rel=1e-6)


@pytest.mark.parametrize(("texture", "want"), [(0.1, CONTACT_DEPTH), (0.6, 0.6)])
def test_of_a_grey_table_the_depth_is_that_of_any(texture: float, want: float) -> None:
    looks = log_colour(np.full((5, 3), 0.3))
    assert shade_of(looks, texture).depth == pytest.approx(np.full(5, want))
    assert shade_of(looks, texture).fading == pytest.approx(np.zeros((5, 2)), abs=1e-12)


@pytest.mark.parametrize(("green", "fades"), [(0.040, True), (0.035, False)])
def test_where_there_is_hardly_a_tint_none_fades(green: float, fades: bool) -> None:
    """Green beside 0.02 of red and blue, the floor's 0.008 added to each: log ratios of ln(48 / 28) = 0.54
    and half of that, 0.60 in all, or of ln(43 / 28) = 0.43 and half of that, 0.48, under the least."""
    shade = shade_of(log_colour(np.array([0.02, green, 0.02])), 0.0)
    assert bool(np.abs(shade.fading).max() > 0.01) is fades


def test_a_black_table_has_no_shade() -> None:
    """Light 0: nothing gets darker, and nothing is divided by 0."""
    shade = shade_of(log_colour(np.zeros(3)), 0.0)
    assert float(shade.depth) == CONTACT_DEPTH
    assert shade.fading == pytest.approx(np.zeros(2))
