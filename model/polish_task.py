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


@dataclass(frozen=True)
class Row:
    """An inequality ``sign * (figure - bound) / unit`` ≥ 0, loosened by the distance of target ``slack``."""

    figure: str
    bound: float
    sign: float
    unit: float
    slack: int | None = None


@dataclass(frozen=True, eq=False)
class Point:
    """What is known at one z: sums (6,), the figures, and the sums' derivatives (6, v) by z."""

    added: Array
    now: dict[str, float]
    chain: Array


@dataclass(eq=False)
class Task:
    """A layout's ends as a vector z (scaled), then one distance for each target.

    SLSQP asks for cost, rows and slopes at one point in turn: the last point is remembered.
    """

    frame: Frame
    bench: Bench
    start: Layout
    scale: Array = field(init=False)
    _before: dict[str, float] = field(init=False)
    _rows: list[Row] = field(init=False)
    _order: Array = field(init=False)
    _gaps: Array = field(init=False)
    _last: tuple[bytes, Point] | None = None

    def __post_init__(self) -> None:
        self.scale = np.full(self.start.vector().size, SCALE_MM)
        self.scale[-1] = 1.0
        self._before = self.frame.before()
        self._rows = _rows_of(self.frame)
        order, self._gaps = _order_of(self.start)
        self._order = np.hstack([order * self.scale, np.zeros((len(order), len(self.frame.goal.targets)))])

    @property
    def count(self) -> int:
        """How many numbers describe the layout."""
        return len(self.scale)

    def first(self) -> Array:
        """Where to start."""
        z = self.start.vector() / self.scale
        if not self.frame.goal.targets:
            return z
        now = self._at(z).now
        off = [(now[t.figure] - (t.low or 0.0)) / goal_unit(t, self.frame) for t in self.frame.goal.targets]
        return np.concatenate([z, np.abs(off)])

    def layout(self, z: Array) -> Layout:
        """The layout at z."""
        return self.start.at(z[: self.count] * self.scale)

    def cost(self, z: Array) -> float:
        """What is made least."""
        if self.frame.goal.targets:
            return float(z[self.count :].sum())
        return float(self.frame.cost_of(self._at(z).now))  # type: ignore[arg-type]

    def cost_slope(self, z: Array) -> Array:
        """Its derivatives."""
        goal = self.frame.goal
        if goal.targets:
            return np.concatenate([np.zeros(self.count), np.ones(len(goal.targets))])
        here = self._at(z)
        g = goal.sign * self._slope(goal.figure, here)
        if goal.per is not None:
            spent = max(here.now[goal.per] - self._before[goal.per], 1e-9)
            gained = here.now[goal.figure] - self._before[goal.figure]
            g = g / spent + gained / spent**2 * self._slope(goal.per, here)
        return np.asarray(g @ here.chain)

    def rows(self, z: Array) -> Array:
        """All inequalities, met when not negative: limits, distances to targets, order of ends."""
        now, slacks = self._at(z).now, z[self.count :]
        figures = [
            row.sign * (now[row.figure] - row.bound) / row.unit
            + (0.0 if row.slack is None else slacks[row.slack])
            for row in self._rows
        ]
        return np.concatenate([figures, self._order @ z - self._gaps])

    def row_slopes(self, z: Array) -> Array:
        """Their derivatives."""
        here = self._at(z)
        slopes = np.zeros((len(self._rows), len(z)))
        for row, out in zip(self._rows, slopes, strict=True):
            out[: self.count] = row.sign / row.unit * (self._slope(row.figure, here) @ here.chain)
            if row.slack is not None:
                out[self.count + row.slack] = 1.0
        return np.vstack([slopes, self._order])

    def _at(self, z: Array) -> Point:
        key = z[: self.count].tobytes()
        if self._last is None or self._last[0] != key:
            added, slopes = self.bench.added_and_slopes(self.layout(z))
            self._last = (key, Point(added, self.frame.values(added), slopes * self.scale))
        return self._last[1]

    def _slope(self, figure: str, here: Point) -> Array:
        return slope(figure, self.frame.body, here.added, self.frame.axis_mm)


def _rows_of(frame: Frame) -> list[Row]:
    """Rows of the limits, then two for each target: its distance is at least how far off it is."""
    before, rows = frame.before(), []
    for limit in frame.limits:
        unit = UNIT * max(abs(before[limit.figure]), 1.0)
        if limit.low is not None:
            rows.append(Row(limit.figure, limit.low, 1.0, unit))
        if limit.high is not None:
            rows.append(Row(limit.figure, limit.high, -1.0, unit))
    for j, target in enumerate(frame.goal.targets):
        unit = goal_unit(target, frame)
        rows += [Row(target.figure, target.low or 0.0, sign, unit, j) for sign in (-1.0, 1.0)]
    return rows


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
