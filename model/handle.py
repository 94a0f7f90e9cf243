"""Weight on and in the handle: rings round its section and plugs in the butt, integrated along it."""

from __future__ import annotations

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


def ring_integrals(
    edge: Edge,
    low_mm: float,
    high_mm: float,
    handle_thickness_mm: float,
    stand_off_mm: float,
    radius_mm: float | None = None,
) -> Array:
    """Integrals (6,) of one gram spread evenly along the handle and round its section.

    The section is an ellipse of the outline's width and the handle's thickness, grown by
    ``stand_off_mm``; or a circle of ``radius_mm``.
    """
    nodes = np.arange(np.floor(low_mm / STEP_MM), np.ceil(high_mm / STEP_MM) + 1) * STEP_MM
    bottom, top = float(edge.points_mm[:, 1].min()), float(edge.points_mm[:, 1].max())
    left, right = sides_at(edge, np.clip(nodes, bottom, top))
    half_x = np.maximum((right - left) / 2 + stand_off_mm, 0.5)
    half_z = np.full_like(half_x, max(handle_thickness_mm / 2 + stand_off_mm, 0.5))
    if radius_mm is not None:
        half_x = half_z = np.full_like(half_x, radius_mm)
    xx, zz = ring_means(half_x, half_z)
    centre = (left + right) / 2
    return _along_handle(nodes, low_mm, high_mm, centre, xx + centre**2, zz)


def plug_integrals(edge: Edge, depth_mm: float, handle_thickness_mm: float) -> Array:
    """Integrals (6,) of one gram filling the handle's section from the butt's end to a depth."""
    bottom = float(edge.points_mm[:, 1].min())
    left, right = sides_at(edge, np.array([bottom + depth_mm / 2]))
    half_x, half_z, middle = float(right[0] - left[0]) / 2, handle_thickness_mm / 2, bottom + depth_mm / 2
    return np.array([1.0, 0.0, middle, half_x**2 / 4, middle**2 + depth_mm**2 / 12, half_z**2 / 4])


def _along_handle(nodes: Array, low: float, high: float, x: Array, xx: Array, zz: Array) -> Array:
    """Means over y from low to high of values that run straight between nodes."""
    inner = nodes[(nodes > low) & (nodes < high)]
    y = np.concatenate([[low], inner, [high]])
    weight = np.diff(y) / (high - low)
    means = [float(weight @ (v[:-1] + v[1:])) / 2 for v in (np.interp(y, nodes, w) for w in (x, xx, zz))]
    middle = (low + high) / 2
    return np.array([1.0, means[0], middle, means[1], middle**2 + (high - low) ** 2 / 12, means[2]])
