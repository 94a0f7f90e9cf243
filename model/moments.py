"""Exact moments of polygons and polylines: area or length, first and second moments.

Polygon integrals come from Green's theorem, segment by segment (formulas as in Steger,
"On the calculation of arbitrary moments of polygons", 1996); a polyline's are those of thin
straight rods. Areas count positive whatever the winding.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import get_coordinates, get_rings
from shapely.geometry.base import BaseGeometry

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Moments:
    """Integrals of 1, x, y, xx, yy and xy over a region (mm², ...) or along a curve (mm, ...)."""

    size: float
    x: float
    y: float
    xx: float
    yy: float
    xy: float

    def __add__(self, other: Moments) -> Moments:
        return Moments(*(a + b for a, b in zip(self.values(), other.values(), strict=True)))

    def __sub__(self, other: Moments) -> Moments:
        return self + other.times(-1.0)

    def times(self, factor: float) -> Moments:
        """All integrals multiplied by a constant density."""
        return Moments(*(factor * a for a in self.values()))

    def values(self) -> tuple[float, float, float, float, float, float]:
        """(size, x, y, xx, yy, xy)."""
        return (self.size, self.x, self.y, self.xx, self.yy, self.xy)


NOTHING = Moments(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


def polygon_moments(ring: Array) -> Moments:
    """Area moments of a simple ring (n, 2) in mm, first point not repeated; either winding.

    >>> polygon_moments(np.array([[0, 0], [0, 3], [2, 3], [2, 0.0]])).values()
    (6.0, 6.0, 9.0, 8.0, 18.0, 9.0)
    """
    # About the ring's own middle, so that rings far from the origin lose no digits.
    middle = ring.mean(axis=0)
    x0, y0 = (ring - middle).T
    x1, y1 = np.roll(x0, -1), np.roll(y0, -1)
    cross = x0 * y1 - x1 * y0
    local = Moments(
        float(cross.sum() / 2),
        float(((x0 + x1) * cross).sum() / 6),
        float(((y0 + y1) * cross).sum() / 6),
        float(((x0 * x0 + x0 * x1 + x1 * x1) * cross).sum() / 12),
        float(((y0 * y0 + y0 * y1 + y1 * y1) * cross).sum() / 12),
        float(((x0 * y1 + 2 * x0 * y0 + 2 * x1 * y1 + x1 * y0) * cross).sum() / 24),
    )
    return shifted(local.times(-1.0) if local.size < 0 else local, float(middle[0]), float(middle[1]))


def polyline_moments(points: Array) -> Moments:
    """Moments along an open polyline (n, 2) in mm per unit of line density."""
    a, b = points[:-1], points[1:]
    length = np.hypot(*(b - a).T)
    middle, half = (a + b) / 2, (b - a) / 2
    second = middle[:, :, None] * middle[:, None, :] + half[:, :, None] * half[:, None, :] / 3
    x, y = length @ middle
    xx, yy, xy = length @ second[:, 0, 0], length @ second[:, 1, 1], length @ second[:, 0, 1]
    return Moments(float(length.sum()), float(x), float(y), float(xx), float(yy), float(xy))


def shifted(moments: Moments, dx_mm: float, dy_mm: float) -> Moments:
    """The same region moved by (dx, dy): the parallel-axis rule."""
    m = moments
    return Moments(
        m.size,
        m.x + m.size * dx_mm,
        m.y + m.size * dy_mm,
        m.xx + 2 * dx_mm * m.x + m.size * dx_mm**2,
        m.yy + 2 * dy_mm * m.y + m.size * dy_mm**2,
        m.xy + dx_mm * m.y + dy_mm * m.x + m.size * dx_mm * dy_mm,
    )


def geometry_moments(shape: BaseGeometry) -> Moments:
    """Moments of a shapely geometry: polygons by area (holes taken out), lines by length.

    A collection counts its polygons if it has any, else its lines; points weigh nothing.
    """
    pieces = list(getattr(shape, "geoms", [shape]))
    polygons = [p for p in pieces if p.geom_type == "Polygon" and not p.is_empty]
    if polygons:
        return _areas(polygons)
    lines = [p for p in pieces if p.geom_type in ("LineString", "LinearRing") and not p.is_empty]
    return sum((polyline_moments(np.asarray(p.coords)) for p in lines), NOTHING)


def _areas(polygons: list[BaseGeometry]) -> Moments:
    """All rings at once, by the sums of :func:`polygon_moments`, about the middle of them all."""
    rings = get_rings(polygons)
    is_hole = np.concatenate([np.arange(len(p.interiors) + 1) > 0 for p in polygons])
    points, ring = get_coordinates(rings, return_index=True)
    middle = points.mean(axis=0)
    x, y = (points - middle).T
    inside = ring[:-1] == ring[1:]  # steps within one ring; rings come closed
    x0, y0, x1, y1 = x[:-1], y[:-1], x[1:], y[1:]
    cross = np.where(inside, x0 * y1 - x1 * y0, 0.0)
    terms = np.array(
        [
            cross / 2,
            (x0 + x1) * cross / 6,
            (y0 + y1) * cross / 6,
            (x0 * x0 + x0 * x1 + x1 * x1) * cross / 12,
            (y0 * y0 + y0 * y1 + y1 * y1) * cross / 12,
            (x0 * y1 + 2 * x0 * y0 + 2 * x1 * y1 + x1 * y0) * cross / 24,
        ]
    )
    sums = np.array([np.bincount(ring[:-1], row, minlength=len(rings)) for row in terms])
    sums *= np.sign(sums[0]) * np.where(is_hole, -1.0, 1.0)
    total = Moments(*(float(v) for v in sums.sum(axis=1)))
    return shifted(total, float(middle[0]), float(middle[1]))
