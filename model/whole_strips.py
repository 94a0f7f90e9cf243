"""The search in whole strips of given sizes: which, how many and where, as a mixed-integer program.

Every size at every place of a grid is a yes or no; no two strips overlap, and the number of
pieces is limited. HiGHS solves it to proven optimality on the grid; places are then polished.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp, minimize

from model.columns import Ground, Tape, run_integrals, table_for
from model.edge_table import EdgeTable
from model.errors import SearchError
from model.pieces import EdgeStrip, FromTip, Piece
from model.polish import CUT_MM
from model.program import MET, TIE_PER_GRAM, Frame, limit_rows, objective_of, target_rows_of
from model.search import Found, binding_limits
from model.site import Site
from model.why_not import Obstacle, WhyNot, obstacle_at, obstacle_words, row_unit

Array = NDArray[np.float64]

STEP_MM = 5.0
ROUNDS = 8
SECONDS = 20.0
TOUCH_MM = 1e-6


@dataclass(frozen=True)
class Size:
    """A strip as it is sold or already cut: grams and mm."""

    mass_g: float
    length_mm: float


@dataclass(frozen=True, eq=False)
class Shelf:
    """What there is to stick on and where: site, how the tape is stuck, ground and sizes."""

    site: Site
    tape: Tape
    ground: Ground
    sizes: tuple[Size, ...]
    table: EdgeTable = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "table", table_for(self.site, self.tape))

    def sums(self, ends_mm: Array, size: NDArray[np.intp], pieces: Array) -> Array:
        """Sums (m, 6) that strips of these sizes add at these ends (m, 2), twins counted."""
        mass = np.array([s.mass_g for s in self.sizes])[size]
        length = np.array([s.length_mm for s in self.sizes])[size]
        alone = self.table.between(ends_mm[:, 0], ends_mm[:, 1])
        if self.ground.mirror:
            both = run_integrals(self.table, True, ends_mm[:, 0], ends_mm[:, 1])
            alone = np.where((pieces > 1)[:, None], both, alone)
        return np.asarray(alone * (mass / length)[:, None])


@dataclass(frozen=True, eq=False)
class Choices:
    """Every strip that could be stuck on: ``sums`` (m, 6), ``ends_mm`` (m, 2), which size, pieces each."""

    sums: Array
    ends_mm: Array
    size: NDArray[np.intp]
    pieces: Array


def choices_of(shelf: Shelf, step_mm: float = STEP_MM) -> Choices:
    """All sizes at all places. Raises SearchError when none fits."""
    mirror = shelf.ground.mirror
    rows: list[tuple[float, float, int, float]] = []
    for k, size in enumerate(shelf.sizes):
        for low, high in shelf.ground.stretches:
            starts = np.arange(low, high - size.length_mm + 1e-9, step_mm)
            rows += [(s, s + size.length_mm, k, 2.0 if mirror else 1.0) for s in starts]
            if mirror and low < 1e-9 and size.length_mm / 2 <= high:
                rows.append((-size.length_mm / 2, size.length_mm / 2, k, 1.0))
    if not rows:
        raise SearchError("no strip of these sizes fits into the allowed places: give shorter ones or more")
    ends = np.array([row[:2] for row in rows])
    size_index = np.array([row[2] for row in rows])
    pieces = np.array([row[3] for row in rows])
    return Choices(shelf.sums(ends, size_index, pieces), ends, size_index, pieces)


def search_whole(frame: Frame, shelf: Shelf, strips: int, step_mm: float = STEP_MM) -> Found | WhyNot:
    """Best choice of at most ``strips`` whole strips (a mirrored pair is two). Raises SearchError."""
    choices = choices_of(shelf, step_mm)
    solved = _solve(frame, choices, strips)
    if solved is None:
        return _why_not(frame, choices, strips)
    chosen, bound = solved
    ends, size, count = choices.ends_mm[chosen], choices.size[chosen], choices.pieces[chosen]
    if frame.goal.figure != "added" or frame.goal.targets or frame.goal.per:
        ends = _polished(frame, shelf, ends, size, count)
    ends = _rounded(frame, shelf, ends, size, count)
    added = np.asarray(shelf.sums(ends, size, count).sum(axis=0))
    cost, after = frame.cost(added), frame.values(added)
    gap = None if bound is None else max(cost - bound, 0.0) / max(abs(cost), 1e-9)
    return Found(
        pieces=tuple(_piece(shelf, k, e, n) for k, e, n in zip(size, ends, count, strict=True)),
        added=added,
        before=frame.before(),
        after=after,
        goal=cost,
        bound=bound,
        gap=gap,
        binding=binding_limits(frame, after, {}),
        strips=int(count.sum()),
        grid_mm=step_mm,
    )


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


def _polished(frame: Frame, shelf: Shelf, ends: Array, size: NDArray[np.intp], count: Array) -> Array:
    """Places moved continuously, in their order and zone; the grid's when that does not help."""
    lengths = np.diff(ends, axis=1)[:, 0]
    free = count > 1 if shelf.ground.mirror else np.full(len(ends), True)
    order = np.argsort(ends[:, 0])

    def laid(shift: Array) -> Array:
        return ends + np.where(free, shift, 0.0)[:, None]

    def added(shift: Array) -> Array:
        return np.asarray(shelf.sums(laid(shift), size, count).sum(axis=0))

    def room(shift: Array) -> Array:
        now, before = frame.values(added(shift)), frame.before()
        rows = [
            side / (0.01 * max(abs(before[limit.figure]), 1.0))
            for limit in frame.limits
            for side in (
                *([now[limit.figure] - limit.low] if limit.low is not None else []),
                *([limit.high - now[limit.figure]] if limit.high is not None else []),
            )
        ]
        moved = laid(shift)[order]
        return np.concatenate([rows, (moved[1:, 0] - moved[:-1, 1]) / 10.0])

    bounds = []
    for start, length in zip(ends[:, 0], lengths, strict=True):
        low, high = max(shelf.ground.stretches, key=lambda z: min(z[1], start + length) - max(z[0], start))
        bounds.append((low - start, high - length - start) if low <= start else (0.0, 0.0))
    with np.errstate(all="ignore"):
        result = minimize(
            lambda s: frame.cost(added(s)),
            np.zeros(len(ends)),
            bounds=bounds,
            constraints=[{"type": "ineq", "fun": room}],
            method="SLSQP",
            options={"maxiter": 30, "ftol": 1e-9},
        )
    better = np.isfinite(result.x).all() and frame.missed(added(result.x)) <= MET
    if better and frame.cost(added(result.x)) < frame.cost(added(np.zeros(len(ends)))):
        return laid(np.asarray(result.x))
    return ends


def _rounded(frame: Frame, shelf: Shelf, ends: Array, size: NDArray[np.intp], count: Array) -> Array:
    """Middles at tenths of a mm where limits, zones and neighbours allow it; else as they are.

    All up or all down keeps strips that touch apart.
    """
    middle = ends.mean(axis=1)
    order = np.argsort(ends[:, 0])
    for towards in (np.round, np.floor, np.ceil):
        moved = ends + (towards(np.round(middle / CUT_MM, 6)) * CUT_MM - middle)[:, None]
        inside = [
            any(low - TOUCH_MM <= a and b <= high + TOUCH_MM for low, high in shelf.ground.stretches)
            or (shelf.ground.mirror and n == 1)
            for (a, b), n in zip(moved, count, strict=True)
        ]
        apart = moved[order][1:, 0] - moved[order][:-1, 1] >= -TOUCH_MM
        if all(inside) and apart.all():
            added = shelf.sums(moved, size, count).sum(axis=0)
            if frame.missed(added) <= MET:
                return np.asarray(moved)
    return ends


def _piece(shelf: Shelf, index: int, ends: Array, pieces: float) -> Piece:
    size, tape = shelf.sizes[index], shelf.tape
    return EdgeStrip(
        mass_g=size.mass_g,
        length_mm=size.length_mm,
        place=FromTip(float(ends.mean())),
        stuff=tape.stuff,
        fold=tape.fold,
        side=tape.side,
        stand_off_mm=tape.stand_off_mm,
        mirror=pieces > 1,
    )
