"""Running integrals of tape along the edge: what a strip between any two places adds, at once.

The integrals of one gram per mm from the tip to every corner of the edge are summed once;
between corners they are polynomials, so a stretch costs two look-ups and is exact.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

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

    @cached_property
    def _powers(self) -> Array:
        """Coefficients (n - 1, 4, 6) of 1, t, t² and t³ of the integrals from the tip to t past each point.

        The tape's middle moves as p + t e, its cross-section lies across e: mass, position, its square
        and z² times density are integrated over t.
        """
        start, length = self.edge.points_mm[:-1], np.diff(self.edge.along_mm)
        unit = np.diff(self.edge.points_mm, axis=0) / length[:, None]
        across = np.column_stack([-unit[:, 1], unit[:, 0]])
        u, uu = self.section.u, self.section.uu
        one, none, nothing = np.ones((len(start), 1)), np.zeros((len(start), 1)), np.zeros_like(start)
        squares = start**2 + 2 * u * across * start + uu * across**2
        return np.stack(
            [
                self.running[:-1],
                np.hstack([one, start + u * across, squares, one * self.section.zz]),
                np.hstack([none, unit / 2, start * unit + u * across * unit, none]),
                np.hstack([none, nothing, unit**2 / 3, none]),
            ],
            axis=1,
        )

    def _place(self, s: Array) -> tuple[NDArray[np.intp], Array]:
        """The edge point before each of the distances s (0 to once round), and how far beyond it."""
        along = self.edge.along_mm
        i = np.minimum(np.searchsorted(along, s, side="right") - 1, len(along) - 2)
        return i, (s - along[i])[..., None]

    def upto(self, s_mm: Array) -> Array:
        """Integrals (..., 6) from the tip clockwise to distances s (...), negative ones to the left."""
        s = np.asarray(s_mm, dtype=np.float64)
        turns = np.floor(s / self.edge.perimeter_mm)
        i, t = self._place(s - turns * self.edge.perimeter_mm)
        here = self._powers[i]  # all of a place's coefficients lie together: one look-up
        within = here[..., 0, :] + t * (here[..., 1, :] + t * (here[..., 2, :] + t * here[..., 3, :]))
        return np.asarray(within + turns[..., None] * self.running[-1])

    def between(self, start_mm: Array, end_mm: Array) -> Array:
        """Integrals (..., 6) of 1 g/mm from start to end, start ≤ end."""
        return self.upto(end_mm) - self.upto(start_mm)

    def density(self, s_mm: Array) -> Array:
        """What a mm more at distances s (...) adds: the derivative (..., 6) of :meth:`upto`."""
        i, t = self._place(np.asarray(s_mm, dtype=np.float64) % self.edge.perimeter_mm)
        here = self._powers[i]
        return np.asarray(here[..., 1, :] + t * (2 * here[..., 2, :] + 3 * t * here[..., 3, :]))


def edge_table(edge: Edge, section: Section) -> EdgeTable:
    """The table of one edge and one cross-section of tape."""
    steps = swept_per_gram(edge.points_mm, section) * edge.perimeter_mm
    return EdgeTable(edge, section, np.vstack([np.zeros(6), np.cumsum(steps, axis=0)]))
