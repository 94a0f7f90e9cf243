"""The butt's end of an outline on its way."""

from __future__ import annotations

import numpy as np

from digitise.band import even_ring
from digitise.butt_end import without_horns

CAP = np.array([[0.0, 0.0], [18.0, 0.0], [18.0, 60.0], [-18.0, 60.0], [-18.0, 0.0]])


def test_horns_at_the_corners_are_cut_off_level_with_the_middle() -> None:
    horned = np.vstack([CAP[:1], [[12.0, 0.0], [16.0, -5.0], [20.0, -4.0]], CAP[2:4]])
    horned = np.vstack([horned, [[-20.0, -4.0], [-16.0, -5.0], [-12.0, 0.0]]])
    mended = without_horns(even_ring(horned, 1.0))
    assert mended[:, 1].min() == 0.0
    upper = even_ring(horned, 1.0)
    np.testing.assert_array_equal(mended[upper[:, 1] > 0], upper[upper[:, 1] > 0])


def test_a_rounded_or_a_straight_end_stays() -> None:
    straight = even_ring(CAP, 1.0)
    np.testing.assert_allclose(without_horns(straight), straight, atol=1e-9)
    angle = np.linspace(-np.pi / 2, 1.5 * np.pi, 200, endpoint=False)
    round_end = np.column_stack([18 * np.cos(angle), 60 + 60 * np.sin(angle)])
    kept = without_horns(round_end)
    assert (
        np.abs(kept - round_end).max() < 4.0
    )  # only the very end, flattened to the height of its middle half
