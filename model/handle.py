"""Weight on and in the handle: rings round its section and plugs in the butt, integrated along it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ellipe, ellipk

from model.edge import Edge
from model.errors import StripError

Array = NDArray[np.float64]

STEP_MM = 1.0  # the handle's width is read every mm and taken straight between
GRIP_MM = 1.8  # a replacement grip's thickness
ROUND = 1e-6  # an ellipse this near a circle is one


def ring_means(half_x: Array, half_z: Array) -> tuple[Array, Array]:
    """Mean x² and z² along the perimeter of ellipses with these semi-axes, mm².

    With a the larger semi-axis, m = 1 - b²/a² and the complete elliptic integrals K and E, the
    mean of x² / a² is ((2m - 1) E + (1 - m) K) / (3 m E).
    """
    longest, shortest = np.maximum(half_x, half_z), np.minimum(half_x, half_z)
    m = 1 - (shortest / longest) ** 2
    safe = np.where(m < ROUND, 0.5, m)
    e, k = ellipe(safe), ellipk(safe)
    share = np.where(m < ROUND, 0.5, ((2 * safe - 1) * e + (1 - safe) * k) / (3 * safe * e))
    long2, short2 = longest**2 * share, shortest**2 * (1 - share)
    wide = half_x >= half_z
    return np.where(wide, long2, short2), np.where(wide, short2, long2)


def sides_at(edge: Edge, y_mm: Array) -> tuple[Array, Array]:
    """x of the racquet's left and right side (n,) at heights (n,) mm. Raises StripError outside it."""
    a, b = edge.points_mm[:-1], edge.points_mm[1:]
    rise = b[:, 1] - a[:, 1]
    reached = (a[:, 1] - y_mm[:, None]) * (b[:, 1] - y_mm[:, None]) <= 0
    share = np.divide(
        y_mm[:, None] - a[:, 1], rise, out=np.zeros((len(y_mm), len(a))), where=reached & (rise != 0)
    )
    x = a[:, 0] + share * (b[:, 0] - a[:, 0])
    left = np.where(reached, x, np.inf).min(axis=1, initial=np.inf)
    right = np.where(reached, x, -np.inf).max(axis=1, initial=-np.inf)
    if not np.isfinite([left, right]).all():
        raise StripError("a piece on the handle lies outside the racquet: move it or make it shorter")
    return left, right


@dataclass(frozen=True, eq=False)
class HandleTable:
    """Rings along the handle: ``nodes`` (n,) every mm, and at them x, x² and z² of the ring (n, 3).

    Values run straight between nodes; ``running`` (n, 3) are their integrals from the first node.
    """

    nodes: Array
    means: Array
    running: Array

    def _place(self, y_mm: float) -> tuple[int, float, Array]:
        """The node before a height, mm beyond it, and how much the means rise a mm there (3,)."""
        i = int(np.clip(np.floor((y_mm - float(self.nodes[0])) / STEP_MM), 0, len(self.nodes) - 2))
        return i, y_mm - float(self.nodes[i]), (self.means[i + 1] - self.means[i]) / STEP_MM

    def upto(self, y_mm: float) -> Array:
        """Integrals (6,) of 1, x, y, xx, yy, zz of 1 g/mm from the first node to a height."""
        y0 = float(self.nodes[0])
        i, part, rise = self._place(y_mm)
        x, xx, zz = self.running[i] + part * self.means[i] + part**2 / 2 * rise
        return np.array([y_mm - y0, x, (y_mm**2 - y0**2) / 2, xx, (y_mm**3 - y0**3) / 3, zz])

    def density(self, y_mm: float) -> Array:
        """What a mm more at a height adds: the derivative (6,) of :meth:`upto`."""
        i, part, rise = self._place(y_mm)
        x, xx, zz = self.means[i] + part * rise
        return np.array([1.0, x, y_mm, xx, y_mm**2, zz])

    def between(self, low_mm: float, high_mm: float) -> Array:
        """Integrals (6,) of 1 g/mm along the handle from low to high."""
        return self.upto(high_mm) - self.upto(low_mm)


def handle_table(
    edge: Edge,
    top_mm: float,
    handle_thickness_mm: float,
    stand_off_mm: float,
    radius_mm: float | None = None,
) -> HandleTable:
    """Rings of one kind from the butt to ``top_mm``.

    The section is an ellipse of the outline's width and the handle's thickness, grown by
    ``stand_off_mm``; or a circle of ``radius_mm``.
    """
    bottom, tip = float(edge.points_mm[:, 1].min()), float(edge.points_mm[:, 1].max())
    nodes = np.arange(np.floor(bottom / STEP_MM), np.ceil(top_mm / STEP_MM) + 1) * STEP_MM
    left, right = sides_at(edge, np.clip(nodes, bottom, tip))
    half_x = np.maximum((right - left) / 2 + stand_off_mm, 0.5)
    half_z = np.full_like(half_x, max(handle_thickness_mm / 2 + stand_off_mm, 0.5))
    if radius_mm is not None:
        half_x = half_z = np.full_like(half_x, radius_mm)
    xx, zz = ring_means(half_x, half_z)
    centre = (left + right) / 2
    means = np.column_stack([centre, xx + centre**2, zz])
    steps = (means[:-1] + means[1:]) / 2 * STEP_MM
    return HandleTable(nodes, means, np.vstack([np.zeros(3), np.cumsum(steps, axis=0)]))


def plug_integrals(edge: Edge, depth_mm: float, handle_thickness_mm: float) -> Array:
    """Integrals (6,) of one gram filling the handle's section from the butt's end to a depth."""
    bottom = float(edge.points_mm[:, 1].min())
    left, right = sides_at(edge, np.array([bottom + depth_mm / 2]))
    half_x, half_z, middle = float(right[0] - left[0]) / 2, handle_thickness_mm / 2, bottom + depth_mm / 2
    return np.array([1.0, 0.0, middle, half_x**2 / 4, middle**2 + depth_mm**2 / 12, half_z**2 / 4])
