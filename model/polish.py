"""Polishing: from cells of a grid to the exact ends of strips, moved continuously along the true edge."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from model.figure_rows import slope
from model.layout import Bench, Layout
from model.program import Frame, goal_unit

Array = NDArray[np.float64]

SHORTEST_MM = 8.0  # shorter strips are a nuisance to cut
APART_MM = 1.0
NEAR = 0.02  # of a figure: what a grid may miss and polishing mend
WORTH_A_STRIP = 0.002  # of the goal: what a strip too short to cut is given up for
MET = 1e-7  # of a figure: what counts as meeting a limit
SCALE_MM = 10.0
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
    cost = np.where(frame.missed_each(added) <= MET, frame.cost_each(added), np.inf)
    if not len(cost) or not np.isfinite(cost.min()):
        return found
    return _judged(frame, bench, Layout(trials[cost.argmin()], base.handle, base.butt_g))


def one_strip(frame: Frame, bench: Bench, step_mm: float) -> Layout | None:
    """The best single strip (or mirrored pair) on a grid, of all there are; None when none meets the limits.

    Strips that nearly do are taken too: polishing may bring them in.
    """
    pairs = []
    for start, end in bench.ground.stretches:
        knots = np.linspace(start, end, max(round((end - start) / step_mm), 1) + 1)
        i, j = np.triu_indices(len(knots), 1)
        pairs.append(np.column_stack([knots[i], knots[j]]))
    if not pairs:
        return None
    runs = np.vstack(pairs)
    added = bench.added_each(runs[:, None, :])
    missed = frame.missed_each(added)
    if float(missed.min()) > NEAR:
        return None
    best = int(np.argmin(np.where(missed <= max(float(missed.min()), MET), frame.cost_each(added), np.inf)))
    return Layout(runs[best][None], np.zeros((0, 2)), 0.0)


def _judged(frame: Frame, bench: Bench, layout: Layout) -> Polished:
    added = bench.added(layout)
    return Polished(layout, added, frame.cost(added), frame.missed(added) <= MET)


def _moved(frame: Frame, bench: Bench, start: Layout, butt: bool = True) -> Polished | None:
    """SLSQP over the ends, with exact slopes; None when it ends somewhere useless."""
    x0 = start.vector()
    targets = frame.goal.targets
    now = frame.values(bench.added(start))
    slack0 = [abs(now[t.figure] - (t.low or 0.0)) / goal_unit(t, frame) for t in targets]
    scale = np.full(len(x0), SCALE_MM)
    scale[-1] = 1.0

    def layout(z: Array) -> Layout:
        return start.at(z[: len(x0)] * scale)

    def cost(z: Array) -> float:
        return float(z[len(x0) :].sum()) if targets else frame.cost(bench.added(layout(z)))

    def cost_slope(z: Array) -> Array:
        if targets:
            return np.concatenate([np.zeros(len(x0)), np.ones(len(targets))])
        at = bench.added(layout(z))
        return np.asarray(_cost_slope(frame, at) @ bench.slopes(layout(z)) * scale)

    rows = _Rows(frame, bench, layout, scale, len(x0))
    with np.errstate(all="ignore"):
        result = minimize(
            cost,
            np.concatenate([x0 / scale, slack0]),
            jac=cost_slope,
            bounds=[*_bounds(bench, start, scale, butt), *[(0.0, None)] * len(targets)],
            constraints=[{"type": "ineq", "fun": rows.values, "jac": rows.slopes}],
            method="SLSQP",
            options={"maxiter": 30, "ftol": 1e-9},
        )
    if not np.isfinite(result.x).all():
        return None
    moved = layout(np.asarray(result.x))
    if (np.diff(moved.edge, axis=1) < 0).any() or (np.diff(moved.handle, axis=1) < 0).any():
        return None
    return _judged(frame, bench, moved)


@dataclass(frozen=True, eq=False)
class _Rows:
    """All inequality rows ≥ 0: limits in hundredths of their figure, order of ends, targets."""

    frame: Frame
    bench: Bench
    layout: object
    scale: Array
    count: int

    def values(self, z: Array) -> Array:
        layout = self.layout(z)  # type: ignore[operator]
        added = self.bench.added(layout)
        now, before = self.frame.values(added), self.frame.before()
        rows = []
        for limit in self.frame.limits:
            unit = 0.01 * max(abs(before[limit.figure]), 1.0)
            if limit.low is not None:
                rows.append((now[limit.figure] - limit.low) / unit)
            if limit.high is not None:
                rows.append((limit.high - now[limit.figure]) / unit)
        for j, target in enumerate(self.frame.goal.targets):
            off = (now[target.figure] - (target.low or 0.0)) / goal_unit(target, self.frame)
            rows += [z[self.count + j] - off, z[self.count + j] + off]
        return np.concatenate([rows, self._order() @ (z[: self.count] * self.scale) - self._gaps()])

    def slopes(self, z: Array) -> Array:
        layout = self.layout(z)  # type: ignore[operator]
        added = self.bench.added(layout)
        chain = self.bench.slopes(layout) * self.scale
        before = self.frame.before()
        k = len(self.frame.goal.targets)
        rows = []
        for limit in self.frame.limits:
            unit = 0.01 * max(abs(before[limit.figure]), 1.0)
            up = self._slope(limit.figure, added) @ chain / unit
            rows += [np.concatenate([up, np.zeros(k)])] if limit.low is not None else []
            rows += [np.concatenate([-up, np.zeros(k)])] if limit.high is not None else []
        for j, target in enumerate(self.frame.goal.targets):
            up = self._slope(target.figure, added) @ chain / goal_unit(target, self.frame)
            rows += [np.concatenate([-up, np.eye(k)[j]]), np.concatenate([up, np.eye(k)[j]])]
        order = np.hstack([self._order() * self.scale, np.zeros((len(self._gaps()), k))])
        return np.vstack([*rows, order])

    def _slope(self, figure: str, added: Array) -> Array:
        return slope(figure, self.frame.body, added, self.frame.axis_mm)

    def _order(self) -> Array:
        """Each end after the one before it, within edge and handle apart."""
        start = self.layout(np.zeros(self.count))  # type: ignore[operator]
        rows = []
        for first, size in ((0, start.edge.size), (start.edge.size, start.handle.size)):
            for i in range(first, first + size - 1):
                row = np.zeros(self.count)
                row[i], row[i + 1] = -1.0, 1.0
                rows.append(row)
        return np.array(rows).reshape(-1, self.count)

    def _gaps(self) -> Array:
        start = self.layout(np.zeros(self.count))  # type: ignore[operator]
        return np.array(
            [
                0.0 if i % 2 == 0 else APART_MM
                for size in (start.edge.size, start.handle.size)
                for i in range(max(size - 1, 0))
            ]
        )


def _bounds(bench: Bench, layout: Layout, scale: Array, butt: bool) -> list[tuple[float, float]]:
    limits = [bench.zone_of(a, b) for a, b in layout.edge for _ in (0, 1)]
    limits += [(bench.site.lowest_mm, bench.site.handle_top_mm)] * layout.handle.size
    limits.append((0.0, bench.ground.butt_g if butt else 0.0))
    return [(low / s, high / s) for (low, high), s in zip(limits, scale, strict=True)]


def _cost_slope(frame: Frame, added: Array) -> Array:
    goal = frame.goal
    g = goal.sign * slope(goal.figure, frame.body, added, frame.axis_mm)
    if goal.per is None:
        return g
    now, before = frame.values(added), frame.before()
    spent = max(now[goal.per] - before[goal.per], 1e-9)
    gained = now[goal.figure] - before[goal.figure]
    up = slope(goal.figure, frame.body, added, frame.axis_mm)
    return np.asarray(-up / spent + gained / spent**2 * slope(goal.per, frame.body, added, frame.axis_mm))


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
