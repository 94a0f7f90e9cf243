"""Looks of drawn bands: which colours beside an outline speak against it."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.band import ACROSS_MM, Band
from digitise.doubt_looks import BAND_MM, Looks, looks_of
from digitise.tone import log_colour

COUNT = 200
TABLE, SHADE = (0.4, 0.4, 0.4), (0.16, 0.16, 0.16)
RED, WHITE = (0.3, 0.03, 0.03), (0.8, 0.8, 0.8)
OFFSET = np.arange(-BAND_MM[0], BAND_MM[1] + ACROSS_MM / 2, ACROSS_MM)
RIGHT, LEFT = slice(20, 80), slice(COUNT - 80, COUNT - 20)
"""Points of either side: point i mirrors point -i."""

Painted = tuple[slice, float, float, tuple[float, float, float]]


def looks(*painted: Painted) -> Looks:
    """A red racquet on a grey table, with rows painted over between two offsets."""
    light = np.empty((COUNT, len(OFFSET), 3), np.float32)
    light[:, OFFSET < 0], light[:, OFFSET >= 0] = RED, TABLE
    for rows, low, high, colour in painted:
        light[rows, (low <= OFFSET) & (high > OFFSET)] = colour
    ring, normal = np.zeros((COUNT, 2)), np.tile([1.0, 0.0], (COUNT, 1))
    table = np.repeat(log_colour(np.array(TABLE, np.float32))[None].astype(float), COUNT, axis=0)
    return looks_of(Band(light, ring, normal, OFFSET), table, np.array([0.03, 0.01, 0.01]))


def test_red_on_grey_is_in_no_doubt() -> None:
    seen = looks()
    assert not any(flags.any() for flags in (seen.shadow, seen.unlike, seen.rival, seen.alike))


def test_a_shadow_outside_on_one_side_is_no_doubt() -> None:
    seen = looks((RIGHT, 0.0, 8.0, SHADE))
    assert not any(flags.any() for flags in (seen.shadow, seen.unlike, seen.rival))


def test_shadow_taken_for_racquet_on_one_side() -> None:
    seen = looks((RIGHT, -6.0, 0.0, SHADE))
    assert seen.shadow[RIGHT].mean() > 0.9
    assert not seen.shadow[COUNT // 2 :].any()


@pytest.mark.parametrize(
    ("outside", "blur_mm", "doubt"), [(0.05, 0.0, False), (0.05, 2.0, True), (0.3, 0.0, True)]
)
def test_what_is_lighter_than_what_lies_outside_is_no_shadow_if_its_border_is_sharp(
    outside: float, blur_mm: float, doubt: bool
) -> None:
    """A grey rim with its own dark shadow outside; the same with a soft border; and on the open table."""
    soft = np.clip(0.5 - OFFSET / blur_mm, 0, 1) if blur_mm else (OFFSET < 0).astype(float)
    colours = outside + (SHADE[0] - outside) * soft
    painted = [(RIGHT, low, low + ACROSS_MM, (value,) * 3)
               for low, value in zip(OFFSET[OFFSET < 8], colours, strict=False)]  # fmt: skip
    assert bool(looks(*painted).shadow[RIGHT].mean() > 0.9) == doubt


def test_a_white_rim_left_outside_is_not_the_table() -> None:
    seen = looks((RIGHT, 0.0, 6.0, WHITE))
    assert seen.unlike[RIGHT].mean() > 0.9
    assert not seen.unlike[COUNT // 2 :].any()


@pytest.mark.parametrize("both", [True, False])
def test_a_grey_rim_left_outside_on_both_sides_shows_by_its_own_edge(both: bool) -> None:
    rims: list[Painted] = [(rows, 0.0, 7.0, SHADE) for rows in ((RIGHT, LEFT) if both else (RIGHT,))]
    assert (looks(*rims).rival[RIGHT].mean() > 0.8) == both


@pytest.mark.parametrize(
    ("line_mm", "colour", "told"), [(0.6, WHITE, False), (0.6, SHADE, True), (4.0, WHITE, True)]
)
def test_a_light_line_on_the_table_is_no_rim(
    line_mm: float, colour: tuple[float, float, float], told: bool
) -> None:
    """A mat's, along both sides of a handle; a seam is darker than what lies beside it, a band is no line."""
    lines: list[Painted] = [(rows, 5.0, 5.0 + line_mm, colour) for rows in (RIGHT, LEFT)]
    assert (looks(*lines).rival[RIGHT].mean() > 0.8) == told


def test_a_racquet_of_the_table_s_colour_is_alike() -> None:
    assert looks((RIGHT, -6.0, 0.0, TABLE)).alike[RIGHT].mean() > 0.9
