"""From a dense ring to the curve through as few points as its noise justifies.

Where the ring turns sharply a corner is kept. Between corners a cubic spline is fitted by least squares, with
as few knots as will do (``spline_knots``); the curve through its values at the knots is what is checked.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.spatial import cKDTree

from model.errors import OutlineError
from model.spline import Curve, curve_through, dense_places
from model.spline_knots import WORST_SDS as WORST_SDS
from model.spline_knots import Fit, choices, line_through

Array = NDArray[np.float64]

CORNER_REACH_MM, CORNER_DEG = 3.0, 60.0
"""A corner: chords of this reach before and after a point turn by this much, as on a circle of radius 3."""
_TIGHTER = (1.0, 0.5)
_NEAR_MM, _STEP_MM, _FOOT_STEPS = 0.05, 2.0, 3
"""How near its curve the ring keeps on which feet are first sought, its longest step (on a shaft no point of
the other side may be nearer than the next of this one), and Newton's steps from there."""


def fit_curve(ring_mm: ArrayLike, sd_mm: ArrayLike = 0.1) -> Curve:
    """The curve for a closed ring (n, 2), n at least 8, whose points are good to ``sd_mm`` (scalar or (n,)).

    Distances of the ring's points from the curve are at most one sd in root mean square and WORST_SDS
    anywhere, unless the ring itself is too coarse for that. Raises OutlineError for a ring of fewer points
    or an sd that is not positive.
    """
    ring, sd = _checked(ring_mm, sd_mm)
    corner = np.flatnonzero(_corners(ring))
    for tighter in _TIGHTER:
        curve, holds = _coarsest(_choices(ring, sd * tighter, corner), ring, sd, corner)
        if holds:
            break
    return curve


def _coarsest(fits: list[list[Fit]], ring: Array, sd: Array, corner: NDArray[np.intp]) -> tuple[Curve, bool]:
    """The last of the curves that keeps to the ring, and True: sought by halving, the first being finest.

    Where the finest does not, the last that keeps to it as well as that, and False.
    """
    curve = _curve(fits[-1], ring[corner])
    promised = np.array([1.0, WORST_SDS])
    if (_off_sds(curve, ring, sd) <= promised).all():
        return curve, True
    found = _curve(fits[0], ring[corner])
    limits = np.maximum(_off_sds(found, ring, sd), promised)
    low, high = 1, len(fits) - 2
    while low <= high:
        at = (low + high) // 2
        curve = _curve(fits[at], ring[corner])
        if (_off_sds(curve, ring, sd) <= limits).all():
            low, found = at + 1, curve
        else:
            high = at - 1
    return found, bool((limits == promised).all())


def fit_stretch(points_mm: ArrayLike, sd_mm: float, first_mm: float) -> Array:
    """Points (k, 2), both ends among them, of the smooth open curve for a dense line (n, 2) good to an sd.

    The spans from either end on are about ``first_mm`` long, twice as long, and so on at most (half as much
    more beside a knot of the fit): so a curve of which the stretch becomes a part keeps to it whatever comes
    before and after.
    """
    line = np.asarray(points_mm, float)
    apart = np.concatenate([[True], np.linalg.norm(np.diff(line, axis=0), axis=1) > 1e-6])
    line = line[apart]
    if len(line) < 2:
        raise OutlineError(
            "a line of fewer than 2 different points is no stretch of an outline: draw it again"
        )
    fit = choices(line_through(line, np.full(len(line), sd_mm), closed=False))[-1]
    places = _graded(fit.edges_mm, first_mm)
    return np.vstack([line[:1], fit.spline(places[1:-1]), line[-1:]])


def _graded(places: Array, first_mm: float) -> Array:
    """The places (k,) along a line with others between where a span is longer than the doubled one nearer to
    an end."""
    span = float(places[-1])
    from_end = first_mm * (2.0 ** np.arange(max(int(np.log2(span / first_mm)), 0) + 1) - 1)[1:]
    from_end = from_end[from_end < span / 2]
    more = np.concatenate([from_end, span - from_end, [span / 2]])
    apart = np.abs(more[:, None] - places[None, :]).min(axis=1)
    return np.sort(np.concatenate([places, more[apart > first_mm / 2]]))


def ring_distances_mm(curve: Curve, ring_mm: Array) -> Array:
    """Distance (n,) of points (n, 2) from the curve: from the nearest of its dense ring or a foot near it."""
    places = dense_places(curve, _NEAR_MM, _STEP_MM)
    nearest_mm, which = cKDTree(curve.pieces(places)).query(ring_mm)
    around = np.concatenate([[places[-1] - curve.knots[-1]], places, [curve.knots[-1]]])
    best = np.asarray(nearest_mm)
    for low, high in ((around[which], around[which + 1]), (around[which + 1], around[which + 2])):
        best = np.minimum(best, _to_foot_mm(curve, ring_mm, low, high))
    return best


def _to_foot_mm(curve: Curve, ring_mm: Array, low: Array, high: Array) -> Array:
    """Distance (n,) of points from their feet on the curve between places (n,), by Newton's method."""
    whole = float(curve.knots[-1])
    at = (low + high) / 2
    for _ in range(_FOOT_STEPS):
        off, slope = curve.pieces(at % whole) - ring_mm, curve.pieces(at % whole, 1)
        at = np.clip(at - np.sum(off * slope, axis=1) / np.sum(slope**2, axis=1), low, high)
    return np.asarray(np.linalg.norm(curve.pieces(at % whole) - ring_mm, axis=1))


def _checked(ring_mm: ArrayLike, sd_mm: ArrayLike) -> tuple[Array, Array]:
    ring = np.array(ring_mm, dtype=np.float64)
    if ring.ndim != 2 or ring.shape[1:] != (2,) or not np.isfinite(ring).all():
        raise OutlineError("a ring must be a list of [x, y] numbers in mm")
    sd = np.broadcast_to(np.asarray(sd_mm, dtype=np.float64), (len(ring),))
    apart = np.linalg.norm(ring - np.roll(ring, 1, axis=0), axis=1) > 1e-6
    ring, sd = ring[apart], sd[apart]
    if len(ring) < 8:
        raise OutlineError("a ring of fewer than 8 different points is no outline: trace it again")
    if not (sd > 0).all():
        raise OutlineError("the sd of a ring's points must be more than zero")
    return ring, sd


def _corners(ring: Array) -> NDArray[np.bool_]:
    """Flags (n,): the sharpest point of each place where the ring turns as a corner does."""
    before, after = _chord(ring[::-1])[::-1], _chord(ring)
    cosine = np.sum(-before * after, axis=1)
    turn = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
    found = np.zeros(len(ring), bool)
    for i in np.argsort(-turn):
        if turn[i] < CORNER_DEG:
            break
        if not found.any() or np.linalg.norm(ring[found] - ring[i], axis=1).min() > CORNER_REACH_MM:
            found[i] = True
    return found


def _chord(ring: Array) -> Array:
    """Unit vectors (n, 2) from each point to the place CORNER_REACH_MM further along the ring."""
    n = len(ring)
    steps = np.linalg.norm(np.roll(ring, -1, axis=0) - ring, axis=1)
    along = np.concatenate([[0.0], np.cumsum(np.concatenate([steps, steps]))])
    twice = np.vstack([ring, ring, ring[:1]])
    reach = min(CORNER_REACH_MM, along[n] / 4)
    ahead = np.column_stack([np.interp(along[:n] + reach, along, twice[:, k]) for k in range(2)])
    step = ahead - ring
    return np.asarray(step / np.maximum(np.linalg.norm(step, axis=1, keepdims=True), 1e-12))


def _choices(ring: Array, sd: Array, corner: NDArray[np.intp]) -> list[list[Fit]]:
    """Choices of fits, one for each stretch between corners: those with the most knots first."""
    n = len(ring)
    if len(corner) == 0:
        once = np.arange(n + 1) % n
        return [[fit] for fit in choices(line_through(ring[once], sd[once], closed=True))]
    ends = zip(corner, [*corner[1:], corner[0] + n], strict=True)
    which = [np.arange(first, last + 1) % n for first, last in ends]
    each = [choices(line_through(ring[part], sd[part], closed=False)) for part in which]
    longest = max(len(fits) for fits in each)
    return [[fits[min(i, len(fits) - 1)] for fits in each] for i in range(longest)]


def _curve(fits: list[Fit], corners_mm: Array) -> Curve:
    """The curve through the knots of stretches that begin in corners (c, 2), of one closed fit if c is 0."""
    points = [fit.knot_values_mm[:-1] for fit in fits]
    flags = [np.zeros(len(part), bool) for part in points]
    for i, corner_mm in enumerate(corners_mm):
        points[i][0], flags[i][0] = corner_mm, True
    return curve_through(np.vstack(points), np.concatenate(flags))


def _off_sds(curve: Curve, ring: Array, sd: Array) -> Array:
    """How far the ring lies from the curve, in sds: root mean square, and the most, (2,)."""
    off = ring_distances_mm(curve, ring) / sd
    return np.array([np.sqrt(np.mean(off**2)), off.max()])
