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
        powers = np.zeros((len(start), 4, 6))
        powers[:, 0] = self.running[:-1]
        powers[:, 1, 0] = 1.0
        powers[:, 1, 1:3] = start + u * across
        powers[:, 1, 3:5] = start**2 + 2 * u * across * start + uu * across**2
        powers[:, 1, 5] = self.section.zz
        powers[:, 2, 1:3] = unit / 2
        powers[:, 2, 3:5] = (start + u * across) * unit
        powers[:, 3, 3:5] = unit**2 / 3
        return powers

    def _looked_up(self, s_mm: Array) -> tuple[Array, Array, NDArray[np.intp]]:
        """For distances s (...): whole turns round, mm past an edge point, and which point."""
        s = np.asarray(s_mm, dtype=np.float64)
        along = self.edge.along_mm
        turns = np.floor(s / self.edge.perimeter_mm)
        s = s - turns * self.edge.perimeter_mm
        # a hair before the tip, so near that the quotient underflows, belongs to the first step
        i = np.clip(along.searchsorted(s, side="right") - 1, 0, len(along) - 2)
        return turns, s - along[i], i

    def upto(self, s_mm: Array) -> Array:
        """Integrals (..., 6) from the tip clockwise to distances s (...), negative ones to the left."""
        turns, t, i = self._looked_up(s_mm)
        t, cubic = t[..., None], self._powers[i]  # all of a place's coefficients lie together: one look-up
        within = cubic[..., 0, :] + t * (cubic[..., 1, :] + t * (cubic[..., 2, :] + t * cubic[..., 3, :]))
        return np.asarray(within + turns[..., None] * self.running[-1])

    def upto_of(self, s_mm: Array, slopes: Array) -> Array:
        """:meth:`upto` times slopes (6,): (...,)."""
        turns, t, i = self._looked_up(s_mm)
        c = np.moveaxis((self._powers @ slopes)[i], -1, 0)
        return np.asarray(c[0] + t * (c[1] + t * (c[2] + t * c[3])) + turns * (self.running[-1] @ slopes))

    def between(self, start_mm: Array, end_mm: Array) -> Array:
        """Integrals (..., 6) of 1 g/mm from start to end, start ≤ end."""
        return self.upto(end_mm) - self.upto(start_mm)

    def upto_and_density(self, s_mm: Array) -> tuple[Array, Array]:
        """:meth:`upto` (..., 6) and what a mm more adds there, its derivative (..., 6)."""
        turns, t, i = self._looked_up(s_mm)
        t, cubic = t[..., None], self._powers[i]
        first, second, third = cubic[..., 1, :], t * cubic[..., 2, :], t * t * cubic[..., 3, :]
        within = cubic[..., 0, :] + t * (first + second + third)
        return within + turns[..., None] * self.running[-1], first + 2 * second + 3 * third


def edge_table(edge: Edge, section: Section) -> EdgeTable:
    """The table of one edge and one cross-section of tape."""
    steps = swept_per_gram(edge.points_mm, section) * edge.perimeter_mm
    return EdgeTable(edge, section, np.vstack([np.zeros(6), np.cumsum(steps, axis=0)]))
