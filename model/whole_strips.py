"""The search in whole strips of given sizes: which, how many and where, as a mixed-integer program.

Every size at every place of a grid is a yes or no; no two strips overlap, and the number of
pieces is limited. HiGHS solves it to proven optimality on the grid; places are then polished.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp

from model.program import MET, TIE_PER_GRAM, Frame, limit_rows, objective_of, target_rows_of
from model.search import Found, as_near, binding_limits
from model.shelf import STEP_MM, Choices, Shelf, choices_of
from model.whole_places import Strips, at_tenths, best_places
from model.why_not import Obstacle, WhyNot, obstacle_at, obstacle_words, row_unit

Array = NDArray[np.float64]

ROUNDS = 8
SECONDS = 20.0
MOVED = 1e-3  # of a figure: what moving strips from the grid to their best places mends
WHOLE_NEAR = 0.005  # in a target's unit: places at tenths of a mm come no nearer to each other


def search_whole(frame: Frame, shelf: Shelf, strips: int, step_mm: float = STEP_MM) -> Found | WhyNot:
    """Best choice of at most ``strips`` whole strips (a mirrored pair is two). Raises SearchError.

    Of choices that come equally near to targets a lighter one is taken where one is seen on the grid.
    """
    choices = choices_of(shelf, step_mm)
    solved = _solve(frame, choices, strips)
    if solved is None:
        return _why_not(frame, choices, strips)
    chosen, bound = solved
    laid = _laid(frame, shelf, choices, chosen)
    if frame.goal.targets:
        laid = _lighter(frame, shelf, choices, strips, laid)
    added = laid.added()
    cost, after = frame.cost(added), frame.values(added)
    gap = None if bound is None else max(cost - bound, 0.0) / max(abs(cost), 1e-9)
    return Found(
        pieces=laid.pieces(),
        added=added,
        before=frame.before(),
        after=after,
        goal=cost,
        bound=bound,
        gap=gap,
        binding=binding_limits(frame, after, {}),
        strips=int(laid.count.sum()),
        grid_mm=step_mm,
    )


def _laid(frame: Frame, shelf: Shelf, choices: Choices, chosen: NDArray[np.intp]) -> Strips:
    on_grid = Strips(shelf, choices.ends_mm[chosen], choices.size[chosen], choices.pieces[chosen])
    return at_tenths(frame, best_places(frame, on_grid))


def _lighter(frame: Frame, shelf: Shelf, choices: Choices, strips: int, laid: Strips) -> Strips:
    """Fewer or lighter strips that moving brings as near to the targets, if the grid shows them near."""
    after = frame.values(laid.added())
    solved = _solve(
        as_near(frame, after, {f: MOVED * max(abs(v), 1.0) for f, v in after.items()}), choices, strips
    )
    if solved is None:
        return laid
    other = _laid(frame, shelf, choices, solved[0])
    added = other.added()
    near = as_near(frame, after, dict.fromkeys(after, WHOLE_NEAR))
    good = near.missed(added) <= MET and float(added[0]) < float(laid.added()[0])
    return other if good else laid


def _solve(frame: Frame, choices: Choices, strips: int) -> tuple[NDArray[np.intp], float | None] | None:
    """Indices chosen and the goal's bound on the grid (None for ratios and curved upper limits)."""
    ratio, around = 0.0, np.zeros(6)
    best: tuple[NDArray[np.intp], float | None] | None = None
    provable = frame.goal.per is None and frame.is_relaxed_by_rows()
    for _ in range(ROUNDS):
        found = _once(frame, choices, strips, around, ratio)
        if found is None:
            return best
        chosen, bound = found
        added = choices.sums[chosen].sum(axis=0)
        met = frame.missed(added) <= MET
        new = -frame.cost(added) if frame.goal.per else 0.0
        if met:
            best = (chosen, bound if provable else None)
        if (met and np.allclose(added, around)) or (met and not frame.goal.per and frame.is_straight()):
            return best
        ratio, around = (new if met else ratio), added
    return best


def _once(
    frame: Frame, choices: Choices, strips: int, around: Array, ratio: float
) -> tuple[NDArray[np.intp], float] | None:
    m, t = len(choices.sums), len(frame.goal.targets)
    targets = target_rows_of(frame, choices.sums, around)
    cost = choices.sums @ objective_of(frame, around, ratio) if targets is None else targets[2][:m]
    rows, sides, _ = _rows(frame, choices, strips, around)
    a = np.hstack([rows, np.zeros((len(rows), t))])
    if targets is not None:
        a, sides = np.vstack([a, targets[0]]), np.concatenate([sides, targets[1]])
    solved = _mixed(np.concatenate([cost + TIE_PER_GRAM * choices.pieces, np.ones(t)]), a, sides, m)
    if solved is None:
        return None
    offset = 0.0 if t else frame.goal.sign * frame.before()[frame.goal.figure]
    return np.flatnonzero(solved[0] > 0.5), solved[1] + offset


def _rows(
    frame: Frame, choices: Choices, strips: int, around: Array
) -> tuple[Array, Array, NDArray[np.intp]]:
    """Rows (k, m) ≤ sides (k,) of limits, number of pieces and no overlap; whose limit each is, or -1."""
    limits = limit_rows(frame, around)
    starts = np.unique(choices.ends_mm[:, 0])[:, None]
    covered = (choices.ends_mm[:, 0] <= starts + 1e-9) & (choices.ends_mm[:, 1] > starts + 1e-9)
    slopes = np.array([g for _, g, _ in limits]).reshape(-1, 6)
    rows = np.vstack([slopes @ choices.sums.T, choices.pieces, covered])
    sides = np.concatenate([[h for _, _, h in limits], [float(strips)], np.ones(len(starts))])
    whose = np.full(len(rows), -1)
    whose[: len(limits)] = [i for i, _, _ in limits]
    return rows, sides, whose


def _mixed(cost: Array, a: Array, sides: Array, whole: int) -> tuple[Array, float] | None:
    """Which of the first ``whole`` unknowns are 1, the rest being ≥ 0, at the least cost; and its bound."""
    size = np.abs(a).max(axis=1)
    size[size == 0] = 1.0
    rest = len(cost) - whole
    result = milp(
        cost,
        integrality=np.concatenate([np.ones(whole), np.zeros(rest)]),
        bounds=Bounds(0, np.concatenate([np.ones(whole), np.full(rest, np.inf)])),
        constraints=LinearConstraint(a / size[:, None], -np.inf, sides / size),
        options={"mip_rel_gap": 1e-4, "time_limit": SECONDS},
    )
    return None if result.x is None else (np.asarray(result.x[:whole]), float(result.mip_dual_bound))


def _why_not(frame: Frame, choices: Choices, strips: int) -> WhyNot:
    """The limit that is nearest to letting some choice of strips through, and by how much it is missed."""
    found = [_obstacle(frame, choices, strips, i) for i in range(len(frame.limits))]
    obstacles = sorted((one for one in found if one is not None), key=lambda one: one.share)
    at_most = f"with at most {strips} piece{'s' if strips > 1 else ''} of these sizes"
    words = obstacle_words(frame, obstacles[0]) if obstacles else "the limits can't be met"
    return WhyNot(
        tuple(obstacles), None, f"{at_most}, {words}; allow more strips, other sizes or more places"
    )


def _obstacle(frame: Frame, choices: Choices, strips: int, index: int) -> Obstacle | None:
    """Ease one limit only, as little as possible; None when that does not help."""
    rows, sides, whose = _rows(frame, choices, strips, np.zeros(6))
    a = np.column_stack([rows, np.where(whose == index, -row_unit(frame, index), 0.0)])
    solved = _mixed(np.append(TIE_PER_GRAM * choices.pieces, 1.0), a, sides, len(choices.sums))
    if solved is None:
        return None
    return obstacle_at(frame, index, choices.sums[solved[0] > 0.5].sum(axis=0))
