"""Loops cut off an outline."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import LinearRing, Polygon

from digitise.loops import without_loops

BOX = np.array([[0.0, 0.0], [30.0, 0.0], [30.0, 100.0], [-30.0, 100.0], [-30.0, 0.0]])


def test_a_simple_ring_is_left_alone() -> None:
    assert without_loops(BOX) is BOX


def test_loops_at_both_corners_are_cut_off() -> None:
    """Each lower corner runs on past itself: a triangle of 10 by 10 mm hangs on it, the other way round."""
    right = np.array([[40.0, 0.0], [40.0, -10.0], [30.0, 0.0]])
    ring = np.vstack([BOX[:1], right, BOX[2:4], right[::-1] * [-1.0, 1.0]])
    ring[3] = [30.0, 5.0]
    ring[6] = [-30.0, 5.0]
    assert not LinearRing(ring).is_simple
    mended = without_loops(ring)
    assert LinearRing(mended).is_simple
    assert LinearRing(mended).is_ccw
    np.testing.assert_allclose(mended[0], [0.0, 0.0], atol=1e-12)
    whole = Polygon(mended)
    assert whole.covers(Polygon(BOX).buffer(-5.1))
    assert np.abs(mended[:, 0]).max() == pytest.approx(np.abs(mended[:, 0]).max())
    assert whole.symmetric_difference(Polygon(mended * [-1.0, 1.0])).area == pytest.approx(0.0, abs=1e-9)
