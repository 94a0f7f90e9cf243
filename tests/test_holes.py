"""The pattern of holes: what is missing is found from what is there."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.holes import _missing

PITCH_MM = 25.0


def test_a_hole_left_out_of_a_square_pattern_is_wanted_there() -> None:
    """Of a 5 by 5 pattern, symmetric about the axis, one inner hole is taken away."""
    steps = PITCH_MM * np.arange(-2, 3)
    pattern = np.array([[x, 300.0 + y] for x in steps for y in steps])
    gone = np.array([PITCH_MM, 300.0])
    left = pattern[np.linalg.norm(pattern - gone, axis=1) > 1.0]
    wanted = _missing(left, 6.0)
    inside = wanted[(np.abs(wanted[:, 0]) < 2.2 * PITCH_MM) & (np.abs(wanted[:, 1] - 300) < 2.2 * PITCH_MM)]
    assert len(inside) == 1
    assert inside[0] == pytest.approx(gone, abs=0.01)


def test_holes_without_a_pattern_want_none() -> None:
    """Three holes far apart repeat nothing."""
    assert len(_missing(np.array([[0.0, 200.0], [0.0, 300.0], [0.0, 400.0]]), 6.0)) == 0
