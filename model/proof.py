"""Proof of how good a search's answer is: what no amount of the tape in the allowed places can beat.

The linear program's prices, put on all of a finer grid, bound the goal from below (Lagrange). Curved
upper limits, which the program takes straight, are bounded by chords, slab by slab of the first moment.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from model.columns import Columns, columns_of, knots_of
from model.figure_rows import CURVED, loose_row_at_most, moment_row, row_at_least, row_at_most, slope
from model.layout import Bench
from model.program import Frame, Solved, is_linear, least

Array = NDArray[np.float64]

STEP_MM = 0.5
SLABS = 12


def proven_bound(frame: Frame, solved: Solved, bench: Bench) -> float | None:
    """A value the goal can't fall below anywhere on a finer grid: the Lagrangian of the program's prices.

    For prices μ ≥ 0 of rows g·c ≤ h the goal f·c is at least -μ·h plus, cell by cell, the
    room times the least of 0 and the priced cost. None for ratios and distances.
    """
    goal = frame.goal
    if goal.per or goal.targets or not is_linear(goal):
        return None
    offset = goal.sign * frame.before()[goal.figure]
    slopes = goal.sign * slope(goal.figure, frame.body, solved.added, frame.axis_mm)
    if not frame.is_relaxed_by_rows():
        fine = columns_of(bench.site, bench.tape, bench.ground, STEP_MM)
        lowest = _least_by_slabs(frame, solved, fine, slopes)
        return None if lowest is None else lowest + offset
    g, h = solved.rows
    return _least_priced(bench, slopes + g.T @ solved.prices) - float(solved.prices @ h) + offset


def _least_priced(bench: Bench, slopes: Array) -> float:
    """The least of slopes·c over all sums c of tape in the allowed places, each cell full or empty."""
    total = 0.0
    for stretch in bench.ground.stretches:
        total += float(np.minimum(np.diff(bench.upto_of(knots_of(stretch, STEP_MM), slopes)), 0.0).sum())
    elsewhere = replace(bench.ground, stretches=())
    if elsewhere.handle or elsewhere.butt_g > 0:
        cells = columns_of(bench.site, bench.tape, elsewhere)
        total += float(np.minimum(cells.per_gram @ slopes, 0.0) @ cells.room_g)
    return total


def _least_by_slabs(frame: Frame, solved: Solved, fine: Columns, slopes: Array) -> float | None:
    """The least over slabs of the first moment, each with chords for curved upper limits."""
    about = moment_row(frame.body)
    room = fine.room_g * (fine.per_gram @ about)
    edges = np.linspace(np.minimum(room, 0).sum(), np.maximum(room, 0).sum(), SLABS + 1)
    off_axis = float((fine.room_g * np.abs(fine.per_gram[:, 1])).sum())
    cost = fine.per_gram @ slopes
    lowest: float | None = None
    for slab in pairwise(edges):
        rows = [(about, float(slab[1])), (-about, -float(slab[0]))]
        for limit in frame.limits:
            where = (limit.figure, limit.high, frame.body, frame.axis_mm)
            if limit.figure in CURVED and limit.high is not None:
                rows.append(loose_row_at_most(*where, slab, off_axis))  # type: ignore[arg-type]
            elif limit.high is not None:
                rows.append(row_at_most(*where, solved.added))  # type: ignore[arg-type]
            if limit.low is not None:
                rows.append(row_at_least(limit.figure, limit.low, frame.body, frame.axis_mm, solved.added))
        a = np.array([row[0] for row in rows]) @ fine.per_gram.T
        answer = least(cost, a, np.array([row[1] for row in rows]), fine.room_g)
        if answer is not None:
            lowest = min(float(cost @ answer[0]), np.inf if lowest is None else lowest)
    return lowest
