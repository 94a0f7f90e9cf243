"""Where the knots of a least-squares cubic spline go: as many as a line's own noise asks for, and no more.

A span whose misfit is more than noise is halved until none is. Then knots at which the third derivative
hardly jumps are taken out again, many at a time, and the rest is fitted anew each time.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import BSpline

Array = NDArray[np.float64]

WORST_SDS = 4.0
"""No point of a line may lie farther than this many sds from its fit; their rms at most one sd."""
LONGEST_MM = 1.6
"""Where a line's points are farther apart, others are put between, so that no span is without points."""
_SPAN_MISFIT = 1.6
"""Mean square misfit, in variances, from which a span is halved: a little under two coordinates' worth."""
_LEAST_STEPS, _LEAST_DATA, _FEWEST_ROUND, _MOST_HALVINGS = 32, 2, 6, 12
_END_SDS = 1 / 30  # two stretches must meet in the corner itself
_FIRST_SPAN_MM = 40.0
"""Spans of the first fit of a long line; where they are shorter than need be, knots are taken out again."""
_ROOM = 0.9
"""Share of the allowed misfit that is used up here: the curve through a fit's points is not quite the fit."""
_FIRST_SHARE, _MOST_REFUSALS = 0.4, 2
"""Share of the knots that are taken out at once in the first try, and how many single ones may turn out to be
needed before all others are taken to be needed, too."""


@dataclass(frozen=True, eq=False)
class Line:
    """Points (n, 2) at ``along_mm`` (n,), from 0 up to ``span_mm``, with weights (n,), 1 / sd.

    ``own`` (m,) are the indices of those that were not put between others. A closed line ends before its
    first point comes again. Made by :func:`line_through`.
    """

    along_mm: Array
    points_mm: Array
    weight: Array
    own: NDArray[np.intp]
    span_mm: float
    closed: bool


@dataclass(frozen=True, eq=False)
class Fit:
    """The spline with knots at ``edges_mm`` (k + 1,) and its ``values_mm`` (n, 2) at the line's points."""

    edges_mm: Array
    spline: BSpline
    values_mm: Array

    @property
    def knot_values_mm(self) -> Array:
        """Its points (k + 1, 2) at the knots."""
        return np.asarray(self.spline(self.edges_mm))


def line_through(points_mm: Array, sd_mm: Array, closed: bool) -> Line:
    """The line through points (n, 2) with sds (n,); of a closed one the last is the first again."""
    steps = np.linalg.norm(np.diff(points_mm, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    longest = min(LONGEST_MM, along[-1] / _LEAST_STEPS)
    more = np.ceil(steps / (longest * (1 + 1e-9))).astype(int)
    which = np.repeat(np.arange(len(steps)), more)
    share = (np.arange(len(which)) - np.repeat(np.cumsum(more) - more, more)) / more[which]
    at = np.append(along[which] + share * steps[which], along[-1])
    points = np.column_stack([np.interp(at, along, points_mm[:, k]) for k in range(2)])
    weight = 1 / np.interp(at, along, sd_mm)
    own = np.flatnonzero(np.append(share, 0.0) == 0)
    if closed:
        at, points, weight, own = at[:-1], points[:-1], weight[:-1], own[:-1]
    else:
        weight[[0, -1]] /= _END_SDS
    return Line(at, points, weight, own, float(along[-1]), closed)


def fitted(line: Line, edges_mm: Array) -> Fit:
    """The least-squares spline through points at ``edges_mm`` (k + 1,), from 0 to the line's span.

    Its kind is that of ``spline.Curve``: a closed one is periodic, an open one has not-a-knot ends, and is a
    parabola or a line where there are too few. By the normal equations.
    """
    k = len(edges_mm) - 1
    degree = 3 if line.closed else min(k, 3)
    if line.closed:
        knots = np.concatenate([edges_mm[-4:-1] - line.span_mm, edges_mm, edges_mm[1:4] + line.span_mm])
    else:
        ends = np.zeros(degree + 1), np.full(degree + 1, line.span_mm)
        knots = np.concatenate([ends[0], edges_mm[2:-2], ends[1]])
    basis = BSpline.design_matrix(line.along_mm, knots, degree)
    at, share = basis.indices.reshape(-1, degree + 1), basis.data.reshape(-1, degree + 1)
    free = k if line.closed else k + 1
    at %= free
    answer = _solved(at, share, line, free)
    values = np.column_stack([np.sum(share * answer[:, k][at], axis=1) for k in range(2)])
    return Fit(edges_mm, BSpline(knots, answer[np.arange(len(knots) - degree - 1) % free], degree), values)


def _solved(at: NDArray[np.integer], share: Array, line: Line, free: int) -> Array:
    """Coefficients (free, 2) of which shares (n, d) at indices (n, d) come nearest to the line's points."""
    weighted = share * line.weight[:, None]
    cells = at[:, :, None] * free + at[:, None, :]
    products = weighted[:, :, None] * weighted[:, None, :]
    normal = np.bincount(cells.ravel(), products.ravel(), free * free).reshape(free, free)
    wanted = line.points_mm * line.weight[:, None]
    right = [np.bincount(at.ravel(), (weighted * wanted[:, k, None]).ravel(), free) for k in range(2)]
    return np.asarray(np.linalg.solve(normal, np.column_stack(right)))


def choices(line: Line) -> list[Fit]:
    """Fits that keep to the line as well as its noise asks for, or as well as is possible: the one with the
    most knots first, then fewer and fewer."""
    fit = _halved(line)
    tried, refused = [fit], np.zeros(0)
    limits = np.maximum(_ROOM * np.array([1.0, WORST_SDS**2]), _misfit(line, fit))
    fewest = _FEWEST_ROUND if line.closed else 1
    batch = max(round(_FIRST_SHARE * len(fit.edges_mm)), 1)
    while len(fit.edges_mm) - 1 > fewest and len(refused) < _MOST_REFUSALS:
        out = _needless(line, fit, refused, min(batch, len(fit.edges_mm) - 1 - fewest))
        if len(out) == 0:
            break
        again = fitted(line, np.delete(fit.edges_mm, out))
        if (_misfit(line, again) <= limits).all():
            fit = again
            tried.append(fit)
        elif len(out) > 1:
            batch = len(out) // 2
        else:
            refused = np.append(refused, fit.edges_mm[out])
    return tried


def _halved(line: Line) -> Fit:
    """The fit with few knots at first; wherever a span's misfit is more than noise it is halved."""
    spans = max(round(line.span_mm / _FIRST_SPAN_MM), _FEWEST_ROUND if line.closed else 1)
    edges = np.linspace(0.0, line.span_mm, spans + 1)
    fit = fitted(line, edges)
    for _ in range(_MOST_HALVINGS):
        off2 = np.sum((fit.values_mm - line.points_mm) ** 2, axis=1) * line.weight**2
        starts = np.searchsorted(line.along_mm, edges[:-1])
        count = np.diff(np.append(starts, len(off2)))
        mean, most = np.add.reduceat(off2, starts) / count, np.maximum.reduceat(off2, starts)
        middles = (edges[:-1] + edges[1:]) / 2
        first_half = np.searchsorted(line.along_mm, middles) - starts
        enough = np.minimum(first_half, count - first_half) >= _LEAST_DATA
        misfit = enough & ((mean > _SPAN_MISFIT) | (most > WORST_SDS**2))
        if not misfit.any():
            break
        edges = np.sort(np.concatenate([edges, middles[misfit]]))
        fit = fitted(line, edges)
    return fit


def _misfit(line: Line, fit: Fit) -> Array:
    """Mean and largest squared distance of the line from its fit, across it, in variances: (2,)."""
    off = fit.values_mm - line.points_mm
    if line.closed:
        slope = np.roll(fit.values_mm, -1, axis=0) - np.roll(fit.values_mm, 1, axis=0)
    else:
        slope = np.gradient(fit.values_mm, axis=0)
    across = (off[:, 0] * slope[:, 1] - off[:, 1] * slope[:, 0]) / np.linalg.norm(slope, axis=1)
    off2 = (across * line.weight) ** 2
    # What was put between two points is nearer to any fit than they are.
    return np.array([max(off2.mean(), off2[line.own].mean()), off2.max()])


def _needless(line: Line, fit: Fit, refused: Array, most: int) -> NDArray[np.intp]:
    """Indices of up to ``most`` inner edges that matter least, no two of them neighbours.

    Without a knot at which the third derivative jumps by J the spline moves by a share of |J| h³. At the
    first and last inner edge of an open line it does not jump: without them their neighbour's jump goes.
    """
    edges = fit.edges_mm
    spans = np.diff(edges)
    third = fit.spline((edges[:-1] + edges[1:]) / 2, 3)
    jump = np.linalg.norm(np.diff(third, axis=0), axis=1)
    if not line.closed:
        jump[[0, -1]] = jump[[1, -2]] if len(jump) > 2 else np.linalg.norm(third[0])
    moved = jump * (spans[:-1] * spans[1:]) ** 1.5 * np.interp(edges[1:-1], line.along_mm, line.weight)
    moved[np.isin(edges[1:-1], refused)] = np.inf
    out: list[int] = []
    for i in (np.argsort(moved, kind="stable") + 1).tolist():
        if len(out) == most or not np.isfinite(moved[i - 1]):
            break
        if i - 1 not in out and i + 1 not in out:
            out.append(i)
    return np.array(out, dtype=np.intp)
