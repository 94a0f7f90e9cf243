"""The polishing's own problem for SLSQP: cost and inequality rows of the strips' ends, with exact slopes."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from model.figure_rows import slope
from model.layout import Bench, Layout
from model.program import Frame, goal_unit

Array = NDArray[np.float64]

SCALE_MM = 60.0  # ends are moved in so much: a goal then bends about as much as the solver first takes it to
APART_MM = 1.0
UNIT = 0.01  # rows count in hundredths of their figure


@dataclass(eq=False)
class Task:
    """A layout's ends as a vector z (scaled), then one distance for each target.

    The last point's sums are remembered: SLSQP asks for cost, rows and slopes at one point in turn.
    """

    frame: Frame
    bench: Bench
    start: Layout
    scale: Array = field(init=False)
    before: dict[str, float] = field(init=False)
    _order: Array = field(init=False)
    _gaps: Array = field(init=False)
    _last: tuple[bytes, Array, dict[str, float]] | None = None
    _last_slopes: tuple[bytes, Array] | None = None

    def __post_init__(self) -> None:
        self.scale = np.full(self.start.vector().size, SCALE_MM)
        self.scale[-1] = 1.0
        self.before = self.frame.before()
        self._order, self._gaps = _order_of(self.start)

    @property
    def count(self) -> int:
        """How many numbers describe the layout."""
        return len(self.scale)

    def first(self) -> Array:
        """Where to start."""
        now = self.frame.values(self.bench.added(self.start))
        slack = [self._off(t.figure, t.low or 0.0, now) / self._unit(t) for t in self.frame.goal.targets]
        return np.concatenate([self.start.vector() / self.scale, np.abs(slack)])

    def layout(self, z: Array) -> Layout:
        """The layout at z."""
        return self.start.at(z[: self.count] * self.scale)

    def cost(self, z: Array) -> float:
        """What is made least."""
        if self.frame.goal.targets:
            return float(z[self.count :].sum())
        return float(self.frame.cost_of(self._at(z)[1]))  # type: ignore[arg-type]

    def cost_slope(self, z: Array) -> Array:
        """Its derivatives."""
        goal, targets = self.frame.goal, len(self.frame.goal.targets)
        if targets:
            return np.concatenate([np.zeros(self.count), np.ones(targets)])
        added, now = self._at(z)
        g = goal.sign * self._slope(goal.figure, added)
        if goal.per is not None:
            spent = max(now[goal.per] - self.before[goal.per], 1e-9)
            gained = now[goal.figure] - self.before[goal.figure]
            g = g / spent + gained / spent**2 * self._slope(goal.per, added)
        return np.asarray(g @ self._chain(z))

    def rows(self, z: Array) -> Array:
        """All inequalities, met when not negative: limits, distances to targets, order of ends."""
        _, now = self._at(z)
        rows = []
        for limit in self.frame.limits:
            unit = UNIT * max(abs(self.before[limit.figure]), 1.0)
            if limit.low is not None:
                rows.append((now[limit.figure] - limit.low) / unit)
            if limit.high is not None:
                rows.append((limit.high - now[limit.figure]) / unit)
        for slack, target in zip(z[self.count :], self.frame.goal.targets, strict=True):
            off = self._off(target.figure, target.low or 0.0, now) / self._unit(target)
            rows += [slack - off, slack + off]
        return np.concatenate([rows, self._order @ (z[: self.count] * self.scale) - self._gaps])

    def row_slopes(self, z: Array) -> Array:
        """Their derivatives."""
        added, _ = self._at(z)
        chain = self._chain(z)
        k = len(self.frame.goal.targets)
        rows = []
        for limit in self.frame.limits:
            unit = UNIT * max(abs(self.before[limit.figure]), 1.0)
            up = np.concatenate([self._slope(limit.figure, added) @ chain / unit, np.zeros(k)])
            rows += [up] if limit.low is not None else []
            rows += [-up] if limit.high is not None else []
        for slack, target in zip(np.eye(k), self.frame.goal.targets, strict=True):
            up = self._slope(target.figure, added) @ chain / self._unit(target)
            rows += [np.concatenate([-up, slack]), np.concatenate([up, slack])]
        order = np.hstack([self._order * self.scale, np.zeros((len(self._gaps), k))])
        return np.vstack([*rows, order])

    def _at(self, z: Array) -> tuple[Array, dict[str, float]]:
        key = z[: self.count].tobytes()
        if self._last is None or self._last[0] != key:
            added = self.bench.added(self.layout(z))
            self._last = (key, added, self.frame.values(added))
        return self._last[1], self._last[2]

    def _chain(self, z: Array) -> Array:
        key = z[: self.count].tobytes()
        if self._last_slopes is None or self._last_slopes[0] != key:
            self._last_slopes = (key, np.asarray(self.bench.slopes(self.layout(z)) * self.scale))
        return self._last_slopes[1]

    def _slope(self, figure: str, added: Array) -> Array:
        return slope(figure, self.frame.body, added, self.frame.axis_mm)

    def _unit(self, target: object) -> float:
        return goal_unit(target, self.frame)  # type: ignore[arg-type]

    @staticmethod
    def _off(figure: str, wanted: float, now: dict[str, float]) -> float:
        return now[figure] - wanted


def _order_of(start: Layout) -> tuple[Array, Array]:
    """Rows and gaps: each end after the one before it, strips a little apart, edge and handle each alone."""
    count = start.vector().size
    rows, gaps = [], []
    for first, size in ((0, start.edge.size), (start.edge.size, start.handle.size)):
        for i in range(max(size - 1, 0)):
            row = np.zeros(count)
            row[first + i], row[first + i + 1] = -1.0, 1.0
            rows.append(row)
            gaps.append(0.0 if i % 2 == 0 else APART_MM)
    return np.array(rows).reshape(-1, count), np.array(gaps)
