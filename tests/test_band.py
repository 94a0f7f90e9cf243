"""Rings in closed form, and the line through a band."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.band import even_ring, ring_normals, smooth_ring
from digitise.best_line import best_closed_line
from digitise.edge import MAX_STEPS, STEP_COST

ANGLE = 2 * np.pi * np.arange(300) / 300
CIRCLE = 50.0 * np.column_stack([np.cos(ANGLE), np.sin(ANGLE)])


def test_a_square_evenly_spaced() -> None:
    ring = even_ring(np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]]), 1.0)
    assert len(ring) == 40
    gaps = np.linalg.norm(np.roll(ring, -1, axis=0) - ring, axis=1)
    np.testing.assert_allclose(gaps, 1.0)


def test_normals_of_a_circle_point_outward() -> None:
    np.testing.assert_allclose(ring_normals(CIRCLE), CIRCLE / 50.0, atol=1e-12)


def test_a_smoothed_circle_shrinks_by_its_gaussian() -> None:
    share = np.exp(-0.5 * (5.0 * 2 * np.pi / 300) ** 2)
    np.testing.assert_allclose(smooth_ring(CIRCLE, 5.0), share * CIRCLE, atol=1e-3)


@pytest.mark.parametrize(("bump", "follows"), [(1.9, False), (2.5, True)])
def test_a_line_leaves_its_column_only_for_more_than_two_steps_cost(bump: float, follows: bool) -> None:
    gain = np.zeros((9, 3))
    gain[:, 1] = 1.0
    gain[4, 2] = bump
    # Aside and back costs 2 STEP_COST = 1.2, and the column left was worth 1.
    assert (bump - 1.0 > 2 * STEP_COST) is follows
    expected = np.ones(9, int)
    expected[4] = 2 if follows else 1
    np.testing.assert_array_equal(best_closed_line(gain, STEP_COST, MAX_STEPS), expected)
