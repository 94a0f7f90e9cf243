"""Widest place and straight sides of outlines whose sides are known."""

from __future__ import annotations

import numpy as np
import pytest

from model.outline import outline_from_rings
from model.side_edges import EDGE_SD_MM, LEAST_MM, STRAIGHT_MM, half_widths, straight_sides, widest

Y = np.arange(1.0, 400.0)


def test_half_widths_are_those_of_the_outline() -> None:
    outline = outline_from_rings([[-10.0, 0.0], [10.0, 0.0], [40.0, 200.0], [-40.0, 200.0]])
    y, half = half_widths(outline)
    np.testing.assert_allclose(half, 10 + 30 * y / 200, atol=1e-9)
    np.testing.assert_allclose(np.diff(y), 1.0)


def test_straight_sides_between_a_neck_and_a_round_top() -> None:
    """Straight from 200 to 320 mm, then arcs of 80 mm radius that leave a line slowly."""
    half = np.where(Y < 200, 100 - (200 - Y) ** 2 / 160, 100.0)
    half = np.where(Y > 320, 100 - (Y - 320) ** 2 / 160, half)
    found = straight_sides(Y, half)
    assert found is not None
    # An arc of radius r strays by s over a length of sqrt(2 r s).
    slack = np.sqrt(2 * 80 * 2 * STRAIGHT_MM) + 2
    assert found.start_mm.value == pytest.approx(200.0, abs=slack)
    assert found.end_mm.value == pytest.approx(320.0, abs=slack)
    assert 1.0 <= found.start_mm.sd < slack
    assert found.end_mm.value - found.start_mm.value >= 120.0


def test_a_round_face_has_none() -> None:
    half = np.sqrt(np.clip(130.0**2 - (Y - 265.0) ** 2, 1.0, None))
    assert straight_sides(Y, half) is None


def test_straight_sides_may_taper_but_not_be_short() -> None:
    taper = np.where(Y < 180, 20.0, 110 - 0.1 * (Y - 180))
    found = straight_sides(Y, np.where(Y > 180 + 1.5 * LEAST_MM, 20.0, taper))
    assert found is not None
    assert found.end_mm.value == pytest.approx(180 + 1.5 * LEAST_MM, abs=4)
    assert straight_sides(Y, np.where(Y > 180 + 0.7 * LEAST_MM, 20.0, taper)) is None


def test_the_widest_place_of_an_arc_is_its_middle_as_sure_as_the_arc_is_bent() -> None:
    half = 100 - (Y - 250.0) ** 2 / (2 * 150.0)
    place = widest(Y, half)
    assert place.value == pytest.approx(250.0, abs=0.5)
    # Within the edge's sd s of the largest lies 2 sqrt(2 r s), evenly: its sd is the length over sqrt 12.
    assert place.sd == pytest.approx(2 * np.sqrt(2 * 150 * EDGE_SD_MM) / np.sqrt(12), rel=0.1)
