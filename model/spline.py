"""Closed smooth curves through a few points: what a person drags, and the outline it stands for.

A curve passes through its points in order. Between corners it is one cubic spline over the chord length
(continuous in direction and curvature; periodic where there is no corner, not-a-knot ends at corners),
so points and corner flags alone define it, here as well as in the page that draws it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import CubicSpline, PPoly

from model.errors import OutlineError

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

LEAST_POINTS = 3
SAME_POINT_MM = 1e-6  # closer neighbours leave the curve's direction between them to rounding
RING_TOLERANCE_MM = 0.005
"""How far a dense ring may run beside its curve: a tenth of the finest nudge."""
_GAUSS_AT, _GAUSS_WEIGHT = np.polynomial.legendre.leggauss(12)
_PARTS = 4  # pieces a span is cut into for its length: 12 Gauss points each leave under 1e-6 mm


@dataclass(frozen=True, eq=False)
class Curve:
    """A closed curve through ``points_mm`` (k, 2), with a corner where ``corners`` (k,) says so.

    Made by :func:`curve_through`. Places on it are ``u`` from 0 to ``knots[-1]``: whole ``knots`` (k + 1,)
    are the points, the last being the first again.
    """

    points_mm: Array
    corners: Flags

    @cached_property
    def knots(self) -> Array:
        """Cumulated chord lengths (k + 1,) in mm."""
        closed = np.vstack([self.points_mm, self.points_mm[:1]])
        return np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])

    @cached_property
    def pieces(self) -> PPoly:
        """The k cubics; called with u (n,) it gives points (n, 2)."""
        return PPoly(self._coefficients(), self.knots)

    def _coefficients(self) -> Array:
        """(4, k, 2), highest power first, in u from each piece's own start."""
        k, knots = len(self.points_mm), self.knots
        if not self.corners.any():
            closed = np.vstack([self.points_mm, self.points_mm[:1]])
            return np.asarray(CubicSpline(knots, closed, bc_type="periodic").c)
        out = np.empty((4, k, 2))
        starts = np.flatnonzero(self.corners)
        for first, last in zip(starts, [*starts[1:], starts[0] + k], strict=True):
            which = np.arange(first, last + 1) % k
            along = np.concatenate([[0.0], np.cumsum(np.diff(knots)[which[:-1]])])
            out[:, which[:-1]] = _open_coefficients(along, self.points_mm[which])
        return out

    def moved(self, by_mm: Array) -> Curve:
        """The same curve elsewhere, by (2,); its cubics come with it."""
        coefficients = self.pieces.c.copy()
        coefficients[3] += by_mm
        other = Curve(self.points_mm + by_mm, self.corners)
        other.__dict__["pieces"] = PPoly(coefficients, self.knots)
        return other

    @cached_property
    def bezier_mm(self) -> Array:
        """The same curve as k Bézier cubics (k, 4, 2): start, two handles, end."""
        c, h = self.pieces.c, np.diff(self.knots)[:, None]
        start, slope, bend, twist = c[3], c[2] * h, c[1] * h**2, c[0] * h**3
        handles = start + slope / 3, start + 2 * slope / 3 + bend / 3
        return np.stack([start, *handles, start + slope + bend + twist], axis=1)

    @cached_property
    def lengths_mm(self) -> Array:
        """Arc length from the first point to each point and all the way round (k + 1,)."""
        parts = np.linspace(self.knots[:-1], self.knots[1:], _PARTS + 1)
        each = self._lengths_between(parts[:-1].ravel(), parts[1:].ravel())
        return np.concatenate([[0.0], np.cumsum(each.reshape(_PARTS, -1).sum(axis=0))])

    def length_to(self, u: float) -> float:
        """Arc length in mm from the first point to the place u, by Gauss-Legendre quadrature."""
        piece = min(max(int(np.searchsorted(self.knots, u, side="right")) - 1, 0), len(self.knots) - 2)
        parts = np.linspace(self.knots[piece], u, _PARTS + 1)
        return float(self.lengths_mm[piece] + self._lengths_between(parts[:-1], parts[1:]).sum())

    def _lengths_between(self, start: Array, end: Array) -> Array:
        """Arc lengths (n,) from places to places (n,), none with a point between."""
        middle, half = (end + start) / 2, (end - start) / 2
        at = middle[:, None] + half[:, None] * _GAUSS_AT
        speed = np.linalg.norm(self.pieces(at.ravel(), 1), axis=1).reshape(at.shape)
        return np.asarray((speed @ _GAUSS_WEIGHT) * half)


def curve_through(points_mm: ArrayLike, corners: ArrayLike | None = None) -> Curve:
    """The closed curve through points (k, 2), k at least 3, the first not repeated.

    ``corners`` (k,) marks points where the direction may jump; none if left out. Raises OutlineError.
    """
    try:
        points = np.array(points_mm, dtype=np.float64)
    except (TypeError, ValueError):
        raise OutlineError("a curve's points must be a list of [x, y] numbers in mm") from None
    if points.ndim != 2 or points.shape[1:] != (2,) or len(points) < LEAST_POINTS:
        raise OutlineError(f"a curve needs at least {LEAST_POINTS} points [x, y] in mm: add a point")
    if not np.isfinite(points).all():
        raise OutlineError("a curve's point has a coordinate that is not a finite number: move it again")
    flags = np.zeros(len(points), bool) if corners is None else np.array(corners, dtype=bool)
    if flags.shape != (len(points),):
        raise OutlineError(f"{len(points)} points need as many corner flags, not {flags.size}")
    if (np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1) < SAME_POINT_MM).any():
        raise OutlineError("two neighbouring points of a curve lie on the same spot: delete one of them")
    return Curve(points, flags)


def dense_ring(curve: Curve, tolerance_mm: float = RING_TOLERANCE_MM, longest_mm: float = np.inf) -> Array:
    """Points (n, 2) on the curve, its own points among them; no chord leaves it by more than the tolerance.

    No chord is longer than about ``longest_mm``.

    A chord over h of a curve whose second derivative stays under b is at most h² b / 8 away from it.
    """
    return np.asarray(curve.pieces(dense_places(curve, tolerance_mm, longest_mm)))


def dense_places(curve: Curve, tolerance_mm: float = RING_TOLERANCE_MM, longest_mm: float = np.inf) -> Array:
    """The places u (n,) of :func:`dense_ring`, in order from 0."""
    spans = np.diff(curve.knots)
    c = curve.pieces.c
    bends = np.maximum(
        np.linalg.norm(2 * c[1], axis=1), np.linalg.norm(2 * c[1] + 6 * c[0] * spans[:, None], axis=1)
    )
    steps = np.maximum(spans * np.sqrt(bends / (8 * tolerance_mm)), spans / longest_mm)
    counts = np.maximum(np.ceil(steps), 1).astype(int)
    which = np.repeat(np.arange(len(counts)), counts)
    step = np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts)
    return np.asarray(step / counts[which] * spans[which] + curve.knots[which])


def tip_place(curve: Curve) -> float:
    """The place u of the tip: where the curve crosses the long axis x = 0 furthest from the butt.

    Raises OutlineError if it never does.
    """
    across = PPoly(curve.pieces.c[:, :, 0], curve.knots)
    at = np.asarray(across.roots(extrapolate=False), float)
    at = at[np.isfinite(at)]
    if len(at) == 0:
        raise OutlineError("the outline does not cross its long axis (x = 0): move the axis into the racquet")
    return float(at[int(np.argmax(curve.pieces(at)[:, 1]))])


def along_from_tip(curve: Curve, u: float) -> float:
    """Distance in mm along the curve from its tip to the place u, right as seen positive, left negative.

    At most half the way round either side; exact to 1e-6 mm.
    """
    whole = float(curve.lengths_mm[-1])
    ahead = (curve.length_to(u) - curve.length_to(tip_place(curve))) % whole
    clockwise = whole - ahead if _is_counter_clockwise(curve) else ahead
    clockwise %= whole
    return clockwise if clockwise <= whole / 2 else clockwise - whole


def place_along(curve: Curve, s_mm: float) -> float:
    """The place u at a distance along the curve from its tip, right as seen positive."""
    whole = float(curve.lengths_mm[-1])
    signed = -s_mm if _is_counter_clockwise(curve) else s_mm
    target = (curve.length_to(tip_place(curve)) + signed) % whole
    piece = min(int(np.searchsorted(curve.lengths_mm, target, side="right")) - 1, len(curve.points_mm) - 1)
    low, high = float(curve.knots[piece]), float(curve.knots[piece + 1])
    for _ in range(60):  # halving: the length grows with u, and no slope can lead it astray
        middle = (low + high) / 2
        low, high = (middle, high) if curve.length_to(middle) < target else (low, middle)
    return (low + high) / 2


def _open_coefficients(along: Array, points: Array) -> Array:
    """Cubics (4, n - 1, 2) through points (n, 2) at ``along`` (n,): a line, a parabola, or not-a-knot."""
    if len(points) > 2:
        return np.asarray(CubicSpline(along, points, bc_type="not-a-knot").c)
    flat = np.zeros((4, 1, 2))
    flat[3, 0], flat[2, 0] = points[0], (points[1] - points[0]) / along[1]
    return flat


def _is_counter_clockwise(curve: Curve) -> bool:
    x, y = dense_ring(curve, 0.1).T
    return bool(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) > 0)
