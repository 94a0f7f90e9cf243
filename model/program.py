"""The linear program of a search, solved by HiGHS (one row: by sorting): how many grams in each cell.

Limits on recoil and spin weight, which are concave in what is added, are met by tangents: a
lower limit's tangents are kept from round to round (they cut off nothing that meets it), an
upper limit's is renewed round by round and errs on the safe side.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

from model.columns import Columns
from model.figure_rows import (
    CURVED,
    figure_values,
    figures_each,
    row_at_least,
    row_at_most,
    slope,
)
from model.limits import Limit
from model.one_row import one_row

Array = NDArray[np.float64]

ROUNDS = 12
MET = 1e-7  # of a figure: what counts as meeting a limit on it
SAME_RATIO = 1e-7  # of the ratio; the next guess would differ by its square
TIE_PER_GRAM = 1e-6  # the lighter of two equal answers


@dataclass(frozen=True)
class Goal:
    """What to make least or most: ``figure`` times ``sign`` is made least; or the nearest to targets.

    ``per``, a figure that only grows, turns it into a ratio: the most ``figure`` gained for each unit of it.
    """

    figure: str = "added"
    sign: float = 1.0
    per: str | None = None
    targets: tuple[Limit, ...] = ()


@dataclass(frozen=True, eq=False)
class Frame:
    """What a program is about: the body's five figures before, the swing axis, limits and goal."""

    body: Array
    axis_mm: float
    limits: tuple[Limit, ...]
    goal: Goal

    def values(self, added: Array) -> dict[str, float]:
        """All figures with these sums (6,) added."""
        return figure_values(self.body, added, self.axis_mm)

    @cached_property
    def _before(self) -> dict[str, float]:
        return self.values(np.zeros(6))

    def before(self) -> dict[str, float]:
        """All figures with nothing added."""
        return self._before

    def is_straight(self) -> bool:
        """Whether goal and limits are all linear in what is added."""
        curved = any(limit.figure in CURVED for limit in self.limits)
        return self.goal.per is None and not curved and is_linear(self.goal)

    def is_relaxed_by_rows(self) -> bool:
        """Whether rows taken straight cut off nothing that meets the limits: no answer to them is better."""
        capped = any(limit.figure in CURVED and limit.high is not None for limit in self.limits)
        return is_linear(self.goal) and not capped

    def missed(self, added: Array) -> float:
        """The largest share by which a limit is missed; 0 when all are met."""
        return float(self.missed_each(added[None])[0])

    def cost(self, added: Array) -> float:
        """What the goal makes least."""
        return float(self.cost_each(added[None])[0])

    def missed_each(self, added: Array) -> Array:
        """:meth:`missed` of many sums (m, 6) at once, (m,)."""
        return self.missed_of(self.each(added))

    def missed_of(self, values: Mapping[str, Array]) -> Array:
        """:meth:`missed` of figures that are known already, (m,) each."""
        worst = np.zeros_like(values["added"])
        for limit in self.limits:
            value = values[limit.figure]
            off = np.zeros_like(worst)
            if limit.low is not None:
                off = np.maximum(off, limit.low - value)
            if limit.high is not None:
                off = np.maximum(off, value - limit.high)
            worst = np.maximum(worst, off / np.maximum(np.abs(value), 1.0))
        return worst

    def cost_each(self, added: Array) -> Array:
        """:meth:`cost` of many sums (m, 6) at once, (m,)."""
        return self.cost_of(self.each(added))

    def each(self, added: Array) -> dict[str, Array]:
        """All figures, (m,) each, with many sums (m, 6) added."""
        return figures_each(self.body, added, self.axis_mm)

    def cost_of(self, values: Mapping[str, Array]) -> Array:
        """:meth:`cost` of figures that are known already, (m,) each."""
        goal = self.goal
        if goal.targets:
            off = [np.abs(values[t.figure] - (t.low or 0.0)) / goal_unit(t, self) for t in goal.targets]
            return np.asarray(sum(off) + TIE_PER_GRAM * values["added"])
        if goal.per:
            before = self._before
            gained, spent = values[goal.figure] - before[goal.figure], values[goal.per] - before[goal.per]
            return np.where(spent > 0, -gained / np.where(spent > 0, spent, 1.0), 0.0)
        return np.asarray(goal.sign * values[goal.figure])


@dataclass(frozen=True, eq=False)
class Solved:
    """Grams in each cell (n,), their sums (6,), and the price of each limit (by its index) at the optimum.

    ``rows`` g (m, 6) and h (m,) with ``prices`` (m,) ≥ 0 are the program's own, for the bound.
    """

    grams: Array
    added: Array
    rows: tuple[Array, Array]
    prices: Array
    limit_prices: dict[int, float]


def solve(frame: Frame, columns: Columns) -> Solved | None:
    """Best grams per cell for a linear or curved goal; None when the limits can't all be met.

    Ratios are solved by Dinkelbach's rule: for a
    guessed ratio q make gain - q·cost most, and take the answer's own ratio as the next guess. This is
    Newton's method on a convex function, so any first guess does, and a near one saves programs.
    """
    if frame.goal.per is None:
        return _rounds(frame, columns)
    ratio, best = _first_ratio(frame, columns), None
    for _ in range(ROUNDS):
        found = _rounds(frame, columns, ratio)
        if found is None:
            return best
        best = found
        new = -frame.cost(found.added)
        if abs(new - ratio) <= SAME_RATIO * abs(new):
            break
        ratio = new
    return best


def _first_ratio(frame: Frame, columns: Columns) -> float:
    """The ratio of the best single cell, which no answer passes; 0 where a cell gains for nothing."""
    goal, none = frame.goal, np.zeros(6)
    gain = columns.per_gram @ slope(goal.figure, frame.body, none, frame.axis_mm)
    spend = columns.per_gram @ slope(goal.per or "added", frame.body, none, frame.axis_mm)
    if (spend <= 0).any():
        return 0.0
    return max(float((gain / spend).max()), 0.0)


def _rounds(frame: Frame, columns: Columns, ratio: float = 0.0) -> Solved | None:
    around = np.zeros(6)
    kept: list[tuple[Array, float]] = []
    found: Solved | None = None
    curved = [limit for limit in frame.limits if limit.figure in CURVED]
    loose = frame.is_relaxed_by_rows()
    for _ in range(ROUNDS):
        rows = limit_rows(frame, around)
        found = _once(frame, columns, rows, kept, around, ratio)
        if found is None:
            return None
        if loose and not curved:
            return found
        settled = loose or np.allclose(found.added, around, rtol=1e-9, atol=1e-9)
        if settled and frame.missed(found.added) < MET:
            return found
        kept += [
            row_at_least(limit.figure, limit.low, frame.body, frame.axis_mm, found.added)
            for limit in curved
            if limit.low is not None
        ]
        around = found.added
    return found if found is not None and frame.missed(found.added) < 1e-5 else None


def limit_rows(frame: Frame, around: Array) -> list[tuple[int, Array, float]]:
    """(limit's index, g, h) with g·c ≤ h for every bound of every limit."""
    rows = []
    for i, limit in enumerate(frame.limits):
        if limit.high is not None:
            rows.append((i, *row_at_most(limit.figure, limit.high, frame.body, frame.axis_mm, around)))
        if limit.low is not None:
            rows.append((i, *row_at_least(limit.figure, limit.low, frame.body, frame.axis_mm, around)))
    return rows


def objective_of(frame: Frame, around: Array, ratio: float = 0.0) -> Array:
    """Slope (6,) of what is made least."""
    goal = frame.goal
    g = goal.sign * slope(goal.figure, frame.body, around, frame.axis_mm)
    if goal.per:
        g = ratio * slope(goal.per, frame.body, around, frame.axis_mm) - slope(
            goal.figure, frame.body, around, frame.axis_mm
        )
    return g + TIE_PER_GRAM * np.array([1.0, 0, 0, 0, 0, 0]) * float(np.abs(g).max())


def _once(
    frame: Frame,
    columns: Columns,
    rows: list[tuple[int, Array, float]],
    kept: list[tuple[Array, float]],
    around: Array,
    ratio: float,
) -> Solved | None:
    g = np.array([row[1] for row in rows] + [row[0] for row in kept]).reshape(-1, 6)
    h = np.array([row[2] for row in rows] + [row[1] for row in kept])
    a = g @ columns.per_gram.T
    n = len(columns.room_g)
    room = columns.room_g
    extra = target_rows(frame, columns, around)
    if extra is None:
        answer = least(columns.per_gram @ objective_of(frame, around, ratio), a, h, room)
    else:
        more, sides, cost = extra
        k = len(cost) - n
        a = np.vstack([np.hstack([a, np.zeros((len(a), k))]), more])
        answer = least(cost, a, np.concatenate([h, sides]), np.concatenate([room, np.full(k, np.inf)]))
    if answer is None:
        return None
    x, prices = answer
    grams = x[:n]
    by_limit: dict[int, float] = {}
    for (i, _, _), price in zip(rows, prices, strict=False):
        by_limit[i] = max(by_limit.get(i, 0.0), float(price))
    return Solved(grams, grams @ columns.per_gram, (g, h), prices[: len(g)], by_limit)


def least(cost: Array, a: Array, h: Array, room: Array) -> tuple[Array, Array] | None:
    """x (n,) of least cost·x with a x ≤ h, 0 ≤ x ≤ room, and the rows' prices (m,); None if there is none."""
    if len(a) == 1:
        alone = one_row(cost, a[0], float(h[0]), room)
        return None if alone is None else (alone[0], np.array([alone[1]]))
    # Rows of like size keep the solver's tolerances meaningful.
    size = np.abs(a).max(axis=1, initial=0.0)
    size[size == 0] = 1.0
    result = linprog(
        cost,
        a / size[:, None] if len(a) else None,
        h / size if len(a) else None,
        bounds=np.column_stack([np.zeros(len(room)), room]),
        options={"presolve": False},  # a few rows: looking for what to simplify takes longer than solving
    )
    if result.status != 0:
        return None
    return np.asarray(result.x), -np.asarray(result.ineqlin.marginals) / size if len(a) else np.zeros(0)


def target_rows(frame: Frame, columns: Columns, around: Array) -> tuple[Array, Array, Array] | None:
    """:func:`target_rows_of` the columns' cells."""
    return target_rows_of(frame, columns.per_gram, around)


def target_rows_of(frame: Frame, sums: Array, around: Array) -> tuple[Array, Array, Array] | None:
    """Rows, right sides and cost for the sum of distances to the targets, each with its own slack."""
    targets = frame.goal.targets
    if not targets:
        return None
    k = len(targets)
    rows, sides = [], []
    for j, target in enumerate(targets):
        value = target.low or 0.0
        # A balance row is in g mm: divided by the weight it is in mm.
        per = frame.body[0] if target.figure == "balance" else 1.0
        for make in (row_at_most, row_at_least):
            g, h = make(target.figure, value, frame.body, frame.axis_mm, around)
            slack = np.zeros(k)
            slack[j] = -goal_unit(target, frame)
            rows.append(np.concatenate([sums @ g / per, slack]))
            sides.append(h / per)
    cost = np.concatenate([TIE_PER_GRAM * sums[:, 0], np.ones(k)])
    return np.array(rows), np.array(sides), cost


def goal_unit(target: Limit, frame: Frame) -> float:
    """What counts as one unit of distance: 1 % of the figure before."""
    return 0.01 * max(abs(frame.before()[target.figure]), 1.0)


def is_linear(goal: Goal) -> bool:
    """Whether what is made least is linear in what is added, but for the ratio itself."""
    if goal.targets:
        return all(t.figure not in CURVED for t in goal.targets)
    return goal.figure not in (*CURVED, "balance")
