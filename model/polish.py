"""Polishing: from cells of a grid to the exact ends of strips, moved continuously along the true edge."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from model.columns import knots_of
from model.layout import Bench, Layout
from model.polish_task import Task
from model.program import Frame

Array = NDArray[np.float64]

SHORTEST_MM = 8.0  # shorter strips are a nuisance to cut
NEAR = 0.02  # of a figure: what a grid may miss and polishing mend
WORTH_A_STRIP = 0.002  # of the goal: what a strip too short to cut is given up for
MET = 1e-7  # of a figure: what counts as meeting a limit
CUT_MM = 0.1  # strips are given to a tenth
MAX_ROUNDED = 4  # strips whose ends are all tried a tenth up and down


@dataclass(frozen=True, eq=False)
class Polished:
    """A layout, the sums it adds, its cost, and whether all limits are met."""

    layout: Layout
    added: Array
    cost: float
    met: bool


def polish(frame: Frame, bench: Bench, layout: Layout) -> Polished:
    """The best layout near this one; strips that shrink to nothing are dropped."""
    best = _judged(frame, bench, layout)
    trial = _moved(frame, bench, layout)
    if trial is not None and (trial.met, -trial.cost) > (best.met, -best.cost):
        best = trial
    for candidate in _dropped(frame, bench, best.layout):
        worth = best.cost + WORTH_A_STRIP * abs(best.cost)
        if candidate.met and (not best.met or candidate.cost <= worth):
            best = candidate
    return best


def rounded(frame: Frame, bench: Bench, found: Polished) -> Polished:
    """Ends to a tenth of a mm where that keeps the limits; of all roundings the best."""
    base = found.layout
    if not base.edge.size or len(base.edge) > MAX_ROUNDED:
        return found
    near = np.round(base.edge / CUT_MM)
    steps = (0.0, 1.0, -1.0) if len(base.edge) <= 2 else (0.0, 1.0)
    shifts = np.array(list(product(steps, repeat=base.edge.size))).reshape(-1, *base.edge.shape)
    trials = (near + shifts) * CUT_MM
    trials = trials[_inside(bench, trials)]
    base = Layout(base.edge, np.round(base.handle / CUT_MM) * CUT_MM, round(base.butt_g, 2))
    others = bench.added(Layout(base.edge[:0], base.handle, base.butt_g))
    added = bench.added_each(trials) + others
    values = frame.each(added)
    cost = np.where(frame.missed_of(values) <= MET, frame.cost_of(values), np.inf)
    if not len(cost) or not np.isfinite(cost.min()):
        return found
    return _judged(frame, bench, Layout(trials[cost.argmin()], base.handle, base.butt_g))


def one_strip(frame: Frame, bench: Bench, step_mm: float) -> Layout | None:
    """The best single strip (or mirrored pair) on a grid, of all there are; None when none meets the limits.

    Strips that nearly do are taken too: polishing may bring them in.
    """
    knots = [knots_of(stretch, step_mm) for stretch in bench.ground.stretches]
    if not knots:
        return None
    starts, ends, sums = [], [], []
    for places in knots:
        upto = bench.upto(places).T  # a row for each sum: quick to take differences of
        i, j = np.triu_indices(len(places), 1)
        starts.append(places[i])
        ends.append(places[j])
        sums.append(upto[:, j] - upto[:, i])
    values = frame.each(np.hstack(sums).T)
    missed = frame.missed_of(values)
    if float(missed.min()) > NEAR:
        return None
    best = int(np.argmin(np.where(missed <= max(float(missed.min()), MET), frame.cost_of(values), np.inf)))
    run = [[np.concatenate(starts)[best], np.concatenate(ends)[best]]]
    return Layout(np.array(run), np.zeros((0, 2)), 0.0)


def _judged(frame: Frame, bench: Bench, layout: Layout) -> Polished:
    added = bench.added(layout)
    values = frame.each(added[None])
    return Polished(layout, added, float(frame.cost_of(values)[0]), float(frame.missed_of(values)[0]) <= MET)


def _moved(frame: Frame, bench: Bench, start: Layout, butt: bool = True) -> Polished | None:
    """SLSQP over the ends, with exact slopes; None when it ends somewhere useless."""
    task = Task(frame, bench, start)
    with np.errstate(all="ignore"):
        result = minimize(
            task.cost,
            task.first(),
            jac=task.cost_slope,
            bounds=[*_bounds(bench, start, task.scale, butt), *[(0.0, None)] * len(frame.goal.targets)],
            constraints=[{"type": "ineq", "fun": task.rows, "jac": task.row_slopes}],
            method="SLSQP",
            options={"maxiter": 25, "ftol": 1e-6},
        )
    if not np.isfinite(result.x).all():
        return None
    moved = task.layout(np.asarray(result.x))
    if (np.diff(moved.edge, axis=1) < 0).any() or (np.diff(moved.handle, axis=1) < 0).any():
        return None
    return _judged(frame, bench, moved)


def _bounds(bench: Bench, layout: Layout, scale: Array, butt: bool) -> list[tuple[float, float]]:
    limits = [bench.zone_of(a, b) for a, b in layout.edge for _ in (0, 1)]
    limits += [(bench.site.lowest_mm, bench.site.handle_top_mm)] * layout.handle.size
    limits.append((0.0, bench.ground.butt_g if butt else 0.0))
    return [(low / s, high / s) for (low, high), s in zip(limits, scale, strict=True)]


def _dropped(frame: Frame, bench: Bench, layout: Layout) -> list[Polished]:
    """The layout without strips too short to cut, without the handle's and without the butt's, polished."""
    none = np.zeros((0, 2))
    keep = np.diff(layout.edge, axis=1)[:, 0] >= SHORTEST_MM
    keep_handle = np.diff(layout.handle, axis=1)[:, 0] >= SHORTEST_MM
    fewer = []
    if not (keep.all() and keep_handle.all()):
        fewer.append(Layout(layout.edge[keep], layout.handle[keep_handle], layout.butt_g))
    if len(layout.handle) > 1:
        length = np.diff(layout.handle, axis=1)[:, 0]
        middle = float(length @ layout.handle.mean(axis=1)) / float(length.sum())
        half = float(length.sum()) / 2
        fewer.append(Layout(layout.edge[keep], np.array([[middle - half, middle + half]]), layout.butt_g))
    if layout.handle.size:
        fewer.append(Layout(layout.edge[keep], none, layout.butt_g))
    if layout.butt_g > 0:
        fewer.append(Layout(layout.edge[keep], layout.handle[keep_handle], 0.0))
    if layout.handle.size and layout.butt_g > 0:
        fewer.append(Layout(layout.edge[keep], none, 0.0))
    moved = [
        _moved(frame, bench, one, butt=one.butt_g > 0) for one in fewer if one.edge.size or one.handle.size
    ]
    return [_judged(frame, bench, one) for one in fewer] + [one for one in moved if one is not None]


def _inside(bench: Bench, trials: Array) -> NDArray[np.bool_]:
    """Which of the trials (m, r, 2) keep every strip in its zone and the right way round."""
    good = np.full(len(trials), True)
    for k in range(trials.shape[1]):
        start, end = trials[:, k].T
        low, high = bench.zone_of(float(start.mean()), float(end.mean()))
        good &= (start >= low - 1e-9) & (end <= high + 1e-9) & (end - start >= CUT_MM)
    return good
