"""An outline without the loops that offsets along its normals tie at sharp corners."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import LinearRing
from shapely.geometry.polygon import orient

from digitise.tone import FloatArray


def without_loops(ring_mm: FloatArray) -> FloatArray:
    """The closed ring (n, 2) itself, or if it crosses itself the border of the largest part it encloses.

    The ring is symmetric about x = 0 and begins at its lowest place on that axis, counter-clockwise, and so
    does the result.
    """
    line = LinearRing(ring_mm)
    if line.is_simple:
        return ring_mm
    parts = shapely.polygonize([shapely.unary_union(line)]).geoms
    largest = max(parts, key=shapely.area, default=None)
    if largest is None:
        return ring_mm
    around = np.asarray(orient(largest).exterior.coords)[:-1]
    return _from_lowest_crossing(around)


def _from_lowest_crossing(ring_mm: FloatArray) -> FloatArray:
    """The ring begun where it crosses x = 0 from left to right, which is at its bottom."""
    x, nxt = ring_mm[:, 0], np.roll(ring_mm, -1, axis=0)
    upward = np.flatnonzero((x <= 0) & (nxt[:, 0] > 0))
    if len(upward) == 0:
        return ring_mm
    share = -x[upward] / (nxt[upward, 0] - x[upward])
    height = ring_mm[upward, 1] + share * (nxt[upward, 1] - ring_mm[upward, 1])
    lowest = int(np.argmin(height))
    after = np.roll(ring_mm, -int(upward[lowest]) - 1, axis=0)
    return np.vstack([[0.0, height[lowest]], after])
