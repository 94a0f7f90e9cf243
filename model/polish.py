"""Polishing: from cells of a grid to the exact ends of strips, moved continuously along the true edge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from model.columns import knots_of
from model.layout import Bench, Layout
from model.polish_task import Task
from model.program import MET, Frame
from model.zones import Stretch

Array = NDArray[np.float64]

SHORTEST_MM = 8.0  # shorter strips are a nuisance to cut
NEAR = 0.02  # of a figure: what a grid may miss and polishing mend
WORTH_A_STRIP = 0.002  # of the goal: what a strip too short to cut is given up for
CUT_MM = 0.1  # ends and places are given to a tenth
TENTHS = {1: 5, 2: 5, 3: 3, 4: 2}  # how many are tried for each end of so many strips: some hundreds in all


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
    """Ends to a tenth of a mm, the butt to 0.01 g, where that keeps the limits; of all roundings the best."""
    layout = found.layout
    count = TENTHS.get(len(layout.edge) + len(layout.handle))
    if count is None:
        return found
    zones = [bench.zone_of(a, b) for a, b in layout.edge]
    zones += [(bench.site.lowest_mm, bench.site.handle_top_mm)] * len(layout.handle)
    runs = np.vstack([layout.edge, layout.handle])
    tenths = [_tenths(end, zone, count) for run, zone in zip(runs, zones, strict=True) for end in run]
    chosen = np.indices([len(places) for places in tenths]).reshape(len(tenths), -1)
    ends = np.stack([places[k] for places, k in zip(tenths, chosen, strict=True)], axis=1)
    butt = round(layout.butt_g, 2)
    added = butt * bench.plug
    for i, places in enumerate(tenths):  # each place is looked up once, in however many roundings it is
        upto = bench.upto(places) if i < layout.edge.size else bench.rings_upto(places)
        added = added + (upto if i % 2 else -upto)[chosen[i]]
    values = frame.each(added)
    good = (frame.missed_of(values) <= MET) & (np.diff(ends)[:, ::2] >= CUT_MM / 2).all(axis=1)
    if not good.any():
        return found
    cost = frame.cost_of(values)
    best = int(np.where(good, cost, np.inf).argmin())
    cut = layout.at(np.append(ends[best], butt))
    return Polished(cut, added[best], float(cost[best]), True)


def _tenths(end: float, zone: Stretch, count: int) -> Array:
    """The ``count`` tenths of a mm nearest to an end, without those outside its zone."""
    first = np.ceil(end / CUT_MM - count / 2)
    places = (first + np.arange(count)) * CUT_MM
    return np.asarray(places[(places >= zone[0] - 1e-9) & (places <= zone[1] + 1e-9)])


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
