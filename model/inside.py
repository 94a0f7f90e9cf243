"""Insides are not uniform: how far a part's centre and spread may be from its outline's.

The density of a part is its mean times 1 + f, where f is a smooth Gaussian random field, alike
on both sides of the long axis: cov f(p) f(q) = uneven² exp(-|p' - q'|² / (2 reach²)) with the
sign of x dropped in p', q'. To first order a mean over the part, u = ∫ g ρ / ∫ ρ, then
varies by ∫ f (g - ū) over the part's area, whose covariance is a double integral done here by
points.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from shapely import contains_xy, get_coordinates
from shapely.geometry.base import BaseGeometry

Array = NDArray[np.float64]

POINTS_WANTED = 120  # enough for fields that vary over a third of the part, cheap to multiply out


def uneven_modes(shape: BaseGeometry, uneven: float, reach_mm: float) -> Array:
    """Independent one-sd changes of a part's mean (y, xx, yy): rows of a (3, 3) array, mm and mm².

    The rows are a symmetric square root of the covariance in units of the part's own size, so that two
    racquets of nearly the same outline have nearly the same rows.
    """
    points = _sample(shape)
    if uneven == 0 or len(points) < 2:
        return np.zeros((3, 3))
    x, y = np.abs(points[:, 0]), points[:, 1]
    looked_at = np.column_stack([y, x * x, y * y])
    weighed = (looked_at - looked_at.mean(axis=0)) / len(points)
    apart = (x[:, None] - x) ** 2 + (y[:, None] - y) ** 2
    kernel = uneven**2 * np.exp(-apart / (2 * reach_mm**2))
    size = looked_at.std(axis=0) + 1e-9
    weighed = weighed / size
    values, vectors = np.linalg.eigh(weighed.T @ kernel @ weighed)
    root = (vectors * np.sqrt(np.clip(values, 0, None))) @ vectors.T
    return np.asarray(root * size)


def _sample(shape: BaseGeometry) -> Array:
    """Evenly spread points (n, 2): a grid over an area, or equal steps along lines."""
    pieces = [p for p in getattr(shape, "geoms", [shape]) if not p.is_empty]
    areas = [p for p in pieces if p.geom_type == "Polygon"]
    if not areas:
        return _along_lines(pieces)
    step = float(np.sqrt(sum(p.area for p in areas) / POINTS_WANTED))
    x0, y0, x1, y1 = shape.bounds
    xs, ys = np.meshgrid(_centres(x0, x1, step), _centres(y0, y1, step))
    grid = np.column_stack([xs.ravel(), ys.ravel()])
    return np.asarray(grid[contains_xy(shape, grid[:, 0], grid[:, 1])])


def _centres(low: float, high: float, step: float) -> Array:
    n = max(int(np.ceil((high - low) / step)), 1)
    return np.asarray(low + (np.arange(n) + 0.5) * (high - low) / n)


def _along_lines(pieces: list[BaseGeometry]) -> Array:
    total = sum(p.length for p in pieces)
    counts = [max(round(POINTS_WANTED * float(p.length) / total), 1) for p in pieces]
    shares = [(np.arange(n) + 0.5) / n for n in counts]
    return np.vstack([_at(get_coordinates(p), s) for p, s in zip(pieces, shares, strict=True)])


def _at(points: Array, shares: Array) -> Array:
    """Points (m, 2) at shares of a polyline's length."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    wanted = shares * along[-1]
    return np.column_stack([np.interp(wanted, along, points[:, k]) for k in (0, 1)])
