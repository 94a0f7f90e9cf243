"""The pattern of holes: what is missing is found from what is there."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.holes import _missing, _on_pattern

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


def test_a_dark_corner_off_the_pattern_is_no_hole() -> None:
    """Staggered rows; the corner has two holes within one and a half pitches, but stands in no row."""
    rows = [(y, shift) for y, shift in ((300.0, 0.0), (325.0, 14.0), (350.0, 0.0), (375.0, 14.0))]
    pattern = np.array([[x + shift, y] for y, shift in rows for x in 28.0 * np.arange(-2, 3)])
    corner = np.array([[50.0, 266.0]])
    assert np.sort(np.linalg.norm(pattern - corner, axis=1))[1] < 1.5 * 28.0
    on = _on_pattern(np.vstack([pattern, corner]), 6.0)
    assert on[:-1].all()
    assert not on[-1]


def test_without_a_pattern_every_hole_stays() -> None:
    assert _on_pattern(np.array([[0.0, 200.0], [0.0, 300.0], [0.0, 400.0]]), 6.0).all()
