"""The mixed-integer program of a search: few strips, each full from end to end.

A cell of the edge is used or not; a strip begins where a used cell follows an unused one. Cells
inside a strip are full, its first and last may be part full, so what comes out can be cut from
tape. Solved by HiGHS through scipy.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array, vstack

from model.columns import Columns
from model.program import Frame, limit_rows, objective_of, target_rows

Array = NDArray[np.float64]

GAP = 1e-3  # of the goal; polishing finds more than that between grid points
SECONDS = 2.0
WORTH_A_STRIP = 5e-4  # of the goal: of two answers as good the one with fewer strips


def solve_runs(
    frame: Frame, columns: Columns, strips: int, mirror: bool, around: Array, ratio: float = 0.0
) -> Array | None:
    """Grams per cell (n,) in at most ``strips`` pieces on the edge; None when there is no answer.

    A mirrored pair counts two, a strip across the tip one. ``around`` (6,) is where curved limits are
    taken straight.
    """
    edge = np.flatnonzero(columns.kind == "edge")
    n, k = len(columns.room_g), len(edge)
    goal_rows = target_rows(frame, columns, around)
    t = 0 if goal_rows is None else len(frame.goal.targets)
    slopes = objective_of(frame, around, ratio)
    per_gram = columns.per_gram @ slopes if goal_rows is None else goal_rows[2][:n]
    a_strip = WORTH_A_STRIP * max(abs(float(around @ slopes)), 1e-6)
    # variables: grams (n), used (k), begins (k), distances to targets (t)
    cost = np.concatenate([per_gram, np.zeros(k), np.full(k, a_strip), np.ones(t)])
    rows = limit_rows(frame, around)
    blocks, uppers = _shape_rows(columns, edge, strips, mirror, t)
    if rows:
        _append(
            blocks, uppers, [row[1] @ columns.per_gram.T for row in rows], [row[2] for row in rows], 2 * k + t
        )
    if goal_rows is not None:
        more = np.hstack([goal_rows[0][:, :n], np.zeros((2 * t, 2 * k)), goal_rows[0][:, n:]])
        _append(blocks, uppers, list(more), list(goal_rows[1]), 0)
    result = milp(
        cost,
        integrality=np.concatenate([np.zeros(n), np.ones(k), np.zeros(k + t)]),
        bounds=Bounds(0, np.concatenate([columns.room_g, np.ones(2 * k), np.full(t, np.inf)])),
        constraints=LinearConstraint(vstack(blocks), -np.inf, np.concatenate(uppers)),
        options={"mip_rel_gap": GAP, "time_limit": SECONDS},
    )
    return None if result.x is None else np.asarray(result.x[:n])


def _append(
    blocks: list[csr_array], uppers: list[Array], rows: list[Array], sides: list[float], zeros: int
) -> None:
    """Rows of like size, widened by columns of zeros."""
    dense = np.array(rows)
    size = np.abs(dense).max(axis=1)
    size[size == 0] = 1.0
    blocks.append(csr_array(np.hstack([dense / size[:, None], np.zeros((len(dense), zeros))])))
    uppers.append(np.array(sides) / size)


def _shape_rows(
    columns: Columns, edge: NDArray[np.intp], strips: int, mirror: bool, more: int
) -> tuple[list[csr_array], list[Array]]:
    """Rows (·, n + 2k + more) ≤ right sides: grams only in used cells, full inside, few beginnings."""
    n, k = len(columns.room_g), len(edge)
    room, ends = columns.room_g[edge], columns.ends_mm[edge]
    eye = np.eye(k)
    grams = np.zeros((k, n))
    grams[np.arange(k), edge] = 1 / room
    joined = np.zeros(k, bool)  # does a cell follow straight on the one before?
    joined[1:] = np.abs(ends[1:, 0] - ends[:-1, 1]) < 1e-6
    before = np.zeros((k, k))
    before[np.flatnonzero(joined), np.flatnonzero(joined) - 1] = 1.0
    after = before.T
    zero = np.zeros((k, k))
    within = np.flatnonzero(joined & np.append(joined[1:], False))
    weight = np.full(k, 2.0 if mirror else 1.0)
    if mirror:
        weight[np.abs(ends[:, 0]) < 1e-6] = 1.0  # across the tip the pair is one piece
    parts = [
        (np.hstack([grams, -eye, zero]), np.zeros(k)),
        (np.hstack([np.zeros((k, n)), eye - before, -eye]), np.zeros(k)),
        (np.hstack([-grams, eye + before + after, zero])[within], np.full(len(within), 2.0)),
        (np.concatenate([np.zeros(n + k), weight])[None], np.array([float(strips)])),
    ]
    wide = np.vstack([rows for rows, _ in parts])
    block = csr_array(np.hstack([wide, np.zeros((len(wide), more))]))
    return [block], [np.concatenate([sides for _, sides in parts])]
