"""From a dense ring to the curve through as few points as its noise justifies.

Where the ring turns sharply a corner is kept. Between corners a cubic spline is fitted by least squares;
a span whose misfit is more than noise is halved until none is. Then every point that is not needed is taken
out again; the curve through what is left is what is checked.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import BSpline, make_lsq_spline
from scipy.spatial import cKDTree

from model.errors import OutlineError
from model.spline import Curve, curve_through, dense_ring

Array = NDArray[np.float64]

CORNER_REACH_MM, CORNER_DEG = 3.0, 60.0
"""A corner: chords of this reach before and after a point turn by this much, as on a circle of radius 3."""
WORST_SDS = 4.0
"""No point of the ring may lie farther than this many sds from the curve; their rms at most one sd."""
_SPAN_MISFIT = 1.6
"""Mean square misfit, in variances, from which a span is halved: a little under two coordinates' worth."""
_TIGHTER = (1.0, 0.5)
EVEN_MM = 0.4
_LEAST_STEPS, _LEAST_DATA, _FEWEST_ROUND, _MOST_HALVINGS = 32, 3, 6, 12


def fit_curve(ring_mm: ArrayLike, sd_mm: ArrayLike = 0.1) -> Curve:
    """The curve for a closed ring (n, 2), n at least 8, whose points are good to ``sd_mm`` (scalar or (n,)).

    Distances of the ring's points from the curve are at most one sd in root mean square and WORST_SDS
    anywhere, unless the ring itself is too coarse for that. Raises OutlineError for a ring of fewer points
    or an sd that is not positive.
    """
    ring, sd = _checked(ring_mm, sd_mm)
    corner = np.flatnonzero(_corners(ring))
    for tighter in _TIGHTER:
        curve = _fitted(ring, sd * tighter, corner)
        if _holds(curve, ring, sd):
            break
    return _thinned(curve, ring, sd)


def fit_stretch(points_mm: ArrayLike, sd_mm: float) -> Array:
    """Points (k, 2), both ends among them, of the smooth open curve for a dense line (n, 2) good to an sd."""
    line = np.asarray(points_mm, float)
    apart = np.concatenate([[True], np.linalg.norm(np.diff(line, axis=0), axis=1) > 1e-6])
    line = line[apart]
    if len(line) < 2:
        raise OutlineError(
            "a line of fewer than 2 different points is no stretch of an outline: draw it again"
        )
    return _knot_values(*_evenly(line, np.full(len(line), sd_mm)))


def ring_distances_mm(curve: Curve, ring_mm: Array) -> Array:
    """Distance (n,) of points (n, 2) from the curve, within 0.002 mm."""
    dense = dense_ring(curve, 0.001)
    after = np.roll(dense, -1, axis=0)
    _, near = cKDTree(dense).query(ring_mm)
    best = np.full(len(ring_mm), np.inf)
    for i in (near, (near - 1) % len(dense)):
        start, step = dense[i], after[i] - dense[i]
        share = np.sum((ring_mm - start) * step, axis=1) / np.maximum(np.sum(step**2, axis=1), 1e-30)
        foot = start + np.clip(share, 0, 1)[:, None] * step
        best = np.minimum(best, np.linalg.norm(ring_mm - foot, axis=1))
    return best


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


def _fitted(ring: Array, sd: Array, corner: NDArray[np.intp]) -> Curve:
    """Least-squares knots for each stretch between corners; the fit's values there are the points."""
    n = len(ring)
    if len(corner) == 0:
        return curve_through(_round_knot_values(*_evenly(ring[_once(n)], sd[_once(n)])))
    pieces, flags = [], []
    for first, last in zip(corner, [*corner[1:], corner[0] + n], strict=True):
        which = np.arange(first, last + 1) % n
        points = _knot_values(*_evenly(ring[which], sd[which]))
        pieces.append(points[:-1])
        flags += [True] + [False] * (len(points) - 2)
    return curve_through(np.vstack(pieces), flags)


def _once(n: int) -> NDArray[np.intp]:
    """Indices once round a ring, the first again at the end."""
    return np.arange(n + 1) % n


def _evenly(line: Array, sd: Array) -> tuple[Array, Array]:
    """The line and its sd at even steps, so that no span of a fit is without points."""
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    count = max(round(along[-1] / EVEN_MM), _LEAST_STEPS)
    at = np.linspace(0.0, along[-1], count + 1)
    points = np.column_stack([np.interp(at, along, line[:, k]) for k in range(2)])
    return points, np.interp(at, along, sd)


def _round_knot_values(ring: Array, sd: Array) -> Array:
    """Knot values (k, 2) once round a closed line; a quarter of it is laid on at either end for the fit."""
    once = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(ring, axis=0), axis=1))])
    n, whole = len(ring) - 1, float(once[-1])
    lead = n // 4
    which = np.arange(-lead, n + lead)
    along = once[which % n] + whole * (which // n)
    knots = _knots(along, ring[which % n], sd[which % n], (0.0, whole), period=whole)
    fit = _least_squares(along, ring[which % n], sd[which % n], knots)
    inside = knots[(knots >= 0) & (knots < whole - 1e-9)]
    return np.asarray(fit(inside))


def _knot_values(line: Array, sd: Array) -> Array:
    """Knot values (k, 2) of an open line, whose ends are kept."""
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    sd = sd.copy()
    sd[[0, -1]] /= 30.0  # two stretches must meet in the corner itself
    knots = _knots(along, line, sd, (0.0, float(along[-1])))
    inner = _least_squares(along, line, sd, knots)(knots)
    return np.vstack([line[:1], inner, line[-1:]])


def _knots(along: Array, points: Array, sd: Array, span: tuple[float, float], period: float = 0.0) -> Array:
    """Interior knots: few at first, and wherever a span's misfit is more than noise it is halved."""
    low, high = span
    count = _FEWEST_ROUND if period else 1
    edges = np.linspace(low, high, count + 1)
    for _ in range(_MOST_HALVINGS):
        knots = _wrapped(edges, along, period) if period else edges[1:-1]
        fit = _least_squares(along, points, sd, knots)
        off2 = np.sum((fit(along) - points) ** 2, axis=1) / sd**2
        which = np.searchsorted(edges, along, side="right") - 1
        halved = []
        for i in range(len(edges) - 1):
            inside = off2[which == i]
            misfit = len(inside) > 2 * _LEAST_DATA and (
                inside.mean() > _SPAN_MISFIT or inside.max() > WORST_SDS**2
            )
            if misfit:
                halved.append((edges[i] + edges[i + 1]) / 2)
        if not halved:
            break
        edges = np.sort(np.concatenate([edges, halved]))
    return _wrapped(edges, along, period) if period else edges[1:-1]


def _wrapped(edges: Array, along: Array, period: float) -> Array:
    """Knots of one round repeated before and after it, as far as there are points."""
    once = edges[:-1]
    knots = np.concatenate([once - period, once, once + period])
    return np.asarray(knots[(knots > along[2]) & (knots < along[-3])])


def _least_squares(along: Array, points: Array, sd: Array, knots: Array) -> BSpline:
    ends = np.full(4, along[0]), np.full(4, along[-1])
    return make_lsq_spline(along, points, np.concatenate([ends[0], knots, ends[1]]), k=3, w=1 / sd)


def _off_sds(curve: Curve, ring: Array, sd: Array) -> tuple[float, float]:
    """How far the ring lies from the curve, in sds: root mean square, and the most."""
    off = ring_distances_mm(curve, ring) / sd
    return float(np.sqrt(np.mean(off**2))), float(off.max())


def _holds(curve: Curve, ring: Array, sd: Array) -> bool:
    rms, most = _off_sds(curve, ring, sd)
    return rms <= 1.0 and most <= WORST_SDS


def _thinned(curve: Curve, ring: Array, sd: Array) -> Curve:
    """The curve without the points it does as well without, those on the straightest places first."""
    points, corners = curve.points_mm, curve.corners
    rms, most = _off_sds(curve, ring, sd)
    rms, most = max(rms, 1.0), max(most, WORST_SDS)
    for _ in range(len(points)):
        bow = _bow_mm(points)
        bow[corners] = np.inf
        for i in np.argsort(bow)[: max(8, len(points) // 4)]:
            if corners[i] or len(points) <= 6:
                continue
            without = curve_through(np.delete(points, i, axis=0), np.delete(corners, i))
            now = _off_sds(without, ring, sd)
            if now[0] <= rms and now[1] <= most:
                points, corners = without.points_mm, without.corners
                break
        else:
            break
    return curve_through(points, corners)


def _bow_mm(points: Array) -> Array:
    """How far (k,) each point stands off the chord of its neighbours."""
    before, after = np.roll(points, 1, axis=0), np.roll(points, -1, axis=0)
    chord, off = after - before, points - before
    across = np.abs(chord[:, 0] * off[:, 1] - chord[:, 1] * off[:, 0])
    return np.asarray(across / np.maximum(np.linalg.norm(chord, axis=1), 1e-9))
