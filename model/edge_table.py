"""Running integrals of tape along the edge: what a strip between any two places adds, at once.

The integrals of one gram per mm from the tip to every corner of the edge are summed once;
between corners they are polynomials, so a stretch costs two look-ups and is exact.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.edge import Edge
from model.sweep import Section, swept_per_gram

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class EdgeTable:
    """``running`` (n, 6): integrals of 1, x, y, xx, yy, zz of 1 g/mm from the tip to each edge point."""

    edge: Edge
    section: Section
    running: Array

    def upto(self, s_mm: Array) -> Array:
        """Integrals (..., 6) from the tip clockwise to distances s (...), negative ones to the left."""
        s = np.asarray(s_mm, dtype=np.float64)
        turns = np.floor(s / self.edge.perimeter_mm)
        rest = s - turns * self.edge.perimeter_mm
        along, points = self.edge.along_mm, self.edge.points_mm
        i = np.clip(np.searchsorted(along, rest, side="right") - 1, 0, len(along) - 2)
        step = points[i + 1] - points[i]
        length = along[i + 1] - along[i]
        unit = step / length[..., None]
        part = (rest - along[i])[..., None]
        across = np.stack([-unit[..., 1], unit[..., 0]], axis=-1)
        u, uu = self.section.u, self.section.uu
        # The point moves as p + t·unit: integrate p, p² and the offset's terms over t from 0 to part.
        start = points[i]
        sum_p = part * start + part**2 / 2 * unit
        sum_pp = part * start**2 + part**2 * start * unit + part**3 / 3 * unit**2
        first = sum_p + part * u * across
        second = sum_pp + 2 * u * across * sum_p + part * uu * across**2
        partial = np.concatenate([part, first, second, part * self.section.zz], axis=-1)
        return np.asarray(self.running[i] + partial + turns[..., None] * self.running[-1])

    def between(self, start_mm: Array, end_mm: Array) -> Array:
        """Integrals (..., 6) of 1 g/mm from start to end, start ≤ end."""
        return self.upto(end_mm) - self.upto(start_mm)

    def density(self, s_mm: Array) -> Array:
        """What a mm more at distances s (...) adds: the derivative (..., 6) of :meth:`upto`."""
        s = np.asarray(s_mm, dtype=np.float64) % self.edge.perimeter_mm
        along, points = self.edge.along_mm, self.edge.points_mm
        i = np.clip(np.searchsorted(along, s, side="right") - 1, 0, len(along) - 2)
        unit = (points[i + 1] - points[i]) / (along[i + 1] - along[i])[..., None]
        at = points[i] + (s - along[i])[..., None] * unit
        across = np.stack([-unit[..., 1], unit[..., 0]], axis=-1)
        u, uu = self.section.u, self.section.uu
        ones = np.ones((*s.shape, 1))
        squares = at**2 + 2 * u * across * at + uu * across**2
        return np.concatenate([ones, at + u * across, squares, ones * self.section.zz], axis=-1)


def edge_table(edge: Edge, section: Section) -> EdgeTable:
    """The table of one edge and one cross-section of tape."""
    steps = swept_per_gram(edge.points_mm, section) * edge.perimeter_mm
    return EdgeTable(edge, section, np.vstack([np.zeros(6), np.cumsum(steps, axis=0)]))
