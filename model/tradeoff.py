"""The trade-off curve: the most of one figure for each cost in another, and a set-up's distance from it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from model.columns import Columns
from model.errors import SearchError
from model.limits import Limit
from model.program import Frame, Goal, solve

Array = NDArray[np.float64]

POINTS = 25


@dataclass(frozen=True, eq=False)
class Front:
    """Changes (n,) in the figures ``cost`` and ``gain`` along the curve, and the grams added there.

    No arrangement of the tape in the allowed places gains more for the same cost or less.
    """

    cost: str
    gain: str
    cost_change: Array
    gain_change: Array
    added_g: Array


@dataclass(frozen=True)
class Distance:
    """How far a set-up is from the curve.

    ``best_gain`` for its cost or less (None where nothing for that cost meets the limits), ``share`` its
    gain as a part of that (None where that is no gain); ``least_cost`` that buys its gain (None beyond the
    curve's end).
    """

    cost_change: float
    gain_change: float
    best_gain: float | None
    share: float | None
    least_cost: float | None


def front(
    frame: Frame, columns: Columns, cost: str = "swing", gain: str = "twist", points: int = POINTS
) -> Front:
    """The curve from nothing stuck on to all that is worth it, under the frame's own limits.

    Raises SearchError when the limits can't be met at all, or gain and cost are one figure.
    """
    if cost == gain:
        raise SearchError(f"gain and cost are both {gain}: give two different figures")
    most = solve(replace(frame, goal=Goal(gain, -1.0)), columns)
    least = solve(replace(frame, goal=Goal(cost, 1.0)), columns)
    if most is None or least is None:
        raise SearchError("the limits can't be met, so there is no trade-off: ask for less")
    before = frame.before()
    ends = [frame.values(s.added)[cost] - before[cost] for s in (least, most)]
    rows = []
    for change in np.linspace(ends[0], ends[1], points):
        ceiling = Limit(cost, None, before[cost] + float(change) + 1e-9 * abs(before[cost]))
        found = solve(replace(frame, limits=(*frame.limits, ceiling), goal=Goal(gain, -1.0)), columns)
        if found is not None:
            after = frame.values(found.added)
            rows.append((after[cost] - before[cost], after[gain] - before[gain], float(found.added[0])))
    x, y, grams = np.array(rows).T
    return Front(cost, gain, x, y, grams)


def distance(frame: Frame, columns: Columns, curve: Front, added: Array) -> Distance:
    """How far sums (6,) of a set-up are from the curve, solved at its own cost and gain."""
    before, after = frame.before(), frame.values(added)
    spent, gained = after[curve.cost] - before[curve.cost], after[curve.gain] - before[curve.gain]
    ceiling = Limit(curve.cost, None, after[curve.cost])
    best = solve(replace(frame, limits=(*frame.limits, ceiling), goal=Goal(curve.gain, -1.0)), columns)
    best_gain = None if best is None else frame.values(best.added)[curve.gain] - before[curve.gain]
    floor = Limit(curve.gain, after[curve.gain], None)
    cheap = solve(replace(frame, limits=(*frame.limits, floor), goal=Goal(curve.cost, 1.0)), columns)
    least = None if cheap is None else frame.values(cheap.added)[curve.cost] - before[curve.cost]
    share = gained / best_gain if best_gain and best_gain > 0 else None
    return Distance(spent, gained, best_gain, share, least)
