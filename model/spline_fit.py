"""From a dense ring to the curve through as few points as its noise justifies.

Where the ring turns sharply a corner is kept. Between corners knots are added where the ring is missed
most (FITPACK's smoothing spline, P. Dierckx, Curve and Surface Fitting with Splines, 1993), then every
point that is not needed is taken out again; the curve through what is left is what is checked.
"""

from __future__ import annotations

import warnings

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import splev, splprep
from scipy.spatial import cKDTree

from model.errors import OutlineError
from model.spline import Curve, curve_through, dense_ring

Array = NDArray[np.float64]

CORNER_REACH_MM, CORNER_DEG = 3.0, 60.0
"""A corner: chords of this reach before and after a point turn by this much, as on a circle of radius 3."""
WORST_SDS = 4.0
"""No point of the ring may lie farther than this many sds from the curve; their rms at most one sd."""
_TIGHTER = (1.0, 0.7, 0.5, 0.3, 0.15, 0.05)
_MOST_ADDED = 200


def fit_curve(ring_mm: ArrayLike, sd_mm: ArrayLike = 0.1) -> Curve:
    """The curve for a closed ring (n, 2), n at least 8, whose points are good to ``sd_mm`` (scalar or (n,)).

    Distances of the ring's points from the curve are at most one sd in root mean square and WORST_SDS
    anywhere. Raises OutlineError for a ring of fewer points or an sd that is not positive.
    """
    ring, sd = _checked(ring_mm, sd_mm)
    corner = np.flatnonzero(_corners(ring))
    for share in _TIGHTER:
        curve = _fitted(ring, sd, corner, share)
        if _off_sds(curve, ring, sd)[0] <= 1.0:
            break
    return _thinned(_mended(curve, ring, sd), ring, sd)


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


def _fitted(ring: Array, sd: Array, corner: NDArray[np.intp], share: float) -> Curve:
    """Knots of a smoothing spline for each stretch between corners; its values there are the points."""
    n = len(ring)
    if len(corner) == 0:
        closed, weight = np.vstack([ring, ring[:1]]), 1 / np.append(sd, sd[0])
        points = _knot_values(closed, weight, share, periodic=True)[:-1]
        return curve_through(points)
    pieces, flags = [], []
    for first, last in zip(corner, [*corner[1:], corner[0] + n], strict=True):
        which = np.arange(first, last + 1) % n
        weight = 1 / sd[which]
        weight[[0, -1]] *= 30.0  # both stretches must meet in the corner itself
        stretch = ring[which]
        points = _knot_values(stretch, weight, share, periodic=False) if len(which) > 4 else stretch
        pieces.append(np.vstack([stretch[:1], points[1:-1]]))
        flags += [True] + [False] * (len(points) - 2)
    return curve_through(np.vstack(pieces), flags)


def _knot_values(points: Array, weight: Array, share: float, periodic: bool) -> Array:
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    with warnings.catch_warnings():
        # FITPACK warns where it stops at as many knots as points: that is what is then taken.
        warnings.simplefilter("ignore", RuntimeWarning)
        tck, _ = splprep(points.T, w=weight, u=along, per=int(periodic), s=share * len(points), k=3, quiet=1)
    inside = tck[0][3:-3]
    return np.column_stack(splev(inside, tck))


def _off_sds(curve: Curve, ring: Array, sd: Array) -> tuple[float, float, int]:
    """How far the ring lies from the curve, in sds: root mean square, the most, and where that is."""
    off = ring_distances_mm(curve, ring) / sd
    worst = int(np.argmax(off))
    return float(np.sqrt(np.mean(off**2))), float(off[worst]), worst


def _holds(curve: Curve, ring: Array, sd: Array) -> bool:
    rms, most, _ = _off_sds(curve, ring, sd)
    return rms <= 1.0 and most <= WORST_SDS


def _mended(curve: Curve, ring: Array, sd: Array) -> Curve:
    """The curve with points of the ring itself added wherever it is missed most, until it is not."""
    for _ in range(_MOST_ADDED):
        rms, most, worst = _off_sds(curve, ring, sd)
        if rms <= 1.0 and most <= WORST_SDS:
            break
        spot = ring[worst]
        at = np.linspace(0, curve.knots[-1], 8 * len(ring), endpoint=False)
        place = at[int(np.argmin(np.linalg.norm(curve.pieces(at) - spot, axis=1)))]
        after = int(np.searchsorted(curve.knots, place, side="right"))
        nearest = np.linalg.norm(curve.points_mm - spot, axis=1)
        if nearest.min() < 1e-3:
            break  # the ring has a spike there, and the curve already passes through it
        curve = curve_through(
            np.insert(curve.points_mm, after, spot, axis=0), np.insert(curve.corners, after, False)
        )
    return curve


def _thinned(curve: Curve, ring: Array, sd: Array) -> Curve:
    """The curve without the points it does as well without, those on the straightest places first."""
    points, corners = curve.points_mm, curve.corners
    for _ in range(len(points)):
        bow = _bow_mm(points)
        bow[corners] = np.inf
        for i in np.argsort(bow)[: max(8, len(points) // 4)]:
            if corners[i] or len(points) <= 6:
                continue
            without = curve_through(np.delete(points, i, axis=0), np.delete(corners, i))
            if _holds(without, ring, sd):
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
