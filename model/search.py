"""The search: where to stick the least tape (or the most effect) within limits, and proof of how good it is.

Cells of a fine grid along the edge make a linear program; where too many strips come out of
it, a mixed-integer program of few full strips takes over; the strips' ends are then polished
along the true edge and rounded to a tenth of a mm. The proof is the linear program's dual priced
on a grid eight times finer: no amount of strips of this tape in the allowed places does better.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from model.columns import Columns, Ground, Tape, columns_of
from model.layout import Bench, Layout, layout_of
from model.limits import Limit
from model.pieces import Piece
from model.polish import Polished, one_strip, polish, rounded
from model.program import Frame, Goal, Solved, solve
from model.proof import proven_bound
from model.runs_program import solve_runs
from model.site import Site
from model.why_not import WhyNot, why_not

Array = NDArray[np.float64]

ONE_STRIP_STEP_MM = 8.0  # every pair of ends on this grid is looked at; polishing does the rest
ALONE_STEP_MM = 2.0  # the same where one strip is all that is allowed: no other program follows
RUNS_STEPS_MM = (8.0, 4.0)  # the mixed-integer program's grids, in turn; polishing does the rest
NEAR_ENOUGH = 2e-3  # of the goal: nearer to the linear program's than this, no more is tried
ROOMS = (1e-5, 4e-5, 2e-4)  # of a figure: what rounding may need, the least that does
WORTH_ROUND = 1e-3  # of the goal: what ends in round tenths may cost
AS_NEAR = 0.001  # in a figure's unit, less than is shown: what comes so near comes equally near to a target
BINDING = 1e-4  # of a figure: nearer to a limit than this, it binds


@dataclass(frozen=True)
class Binding:
    """A limit that holds the answer back, and what one unit more of room there would be worth."""

    index: int
    price: float


@dataclass(frozen=True, eq=False)
class Found:
    """An answer: pieces, the sums they add, figures before and after, the goal and its proven bound.

    ``gap`` is how far at most the goal is from the best there is, as a share of it; None where no
    bound is proven. Of whole strips the bound is over places so far apart as ``grid_mm``. Of an answer to
    targets ``mass_gap`` is how much lighter at most one as near could be, as a share of what is added.
    """

    pieces: tuple[Piece, ...]
    added: Array
    before: dict[str, float]
    after: dict[str, float]
    goal: float
    bound: float | None
    gap: float | None
    binding: tuple[Binding, ...]
    strips: int
    grid_mm: float | None = None
    mass_gap: float | None = None


def search(frame: Frame, site: Site, tape: Tape, ground: Ground, strips: int | None = 4) -> Found | WhyNot:
    """Best strips cut to length, at most ``strips`` pieces on the edge (a mirrored pair is two).

    Of answers that come equally near to targets the lightest.
    """
    found = _search(frame, site, tape, ground, strips)
    if not frame.goal.targets or isinstance(found, WhyNot) or not found.pieces:
        return found
    near = as_near(frame, found.after, dict.fromkeys(found.after, AS_NEAR))
    light = _search(near, site, tape, ground, strips, frame)
    return found if isinstance(light, WhyNot) else lighter(frame, found, light)


def as_near(frame: Frame, after: dict[str, float], slack: dict[str, float]) -> Frame:
    """The least mass that leaves no target's figure further off than ``after``, but for some slack."""
    limits = []
    for target in frame.goal.targets:
        ends = target.low or 0.0, after[target.figure]
        limits.append(
            Limit(target.figure, min(ends) - slack[target.figure], max(ends) + slack[target.figure])
        )
    return replace(frame, limits=(*frame.limits, *limits), goal=Goal())


def lighter(frame: Frame, found: Found, light: Found) -> Found:
    """Of two answers equally near to the frame's targets the lighter, told as an answer to them."""
    own = tuple(b for b in light.binding if b.index < len(frame.limits))
    if float(light.added[0]) < float(found.added[0]):
        cost = frame.cost(light.added)
        gap = None if found.bound is None or cost == 0 else max((cost - found.bound) / abs(cost), 0.0)
        found = replace(light, goal=cost, bound=found.bound, gap=gap, binding=own)
    mass = float(found.added[0])
    return replace(found, mass_gap=None if light.bound is None else max(mass - light.bound, 0.0) / mass)


def _search(
    frame: Frame, site: Site, tape: Tape, ground: Ground, strips: int | None, nearest: Frame | None = None
) -> Found | WhyNot:
    """The search for one goal; ends are rounded so as to serve it, or to come ``nearest`` to targets."""
    columns = columns_of(site, tape, ground)
    loose = solve(frame, columns)
    if loose is None:
        return why_not(frame, columns)
    if float(loose.added[0]) < 1e-3:
        nothing = Polished(layout_of(columns, loose.grams * 0), np.zeros(6), 0.0, True)
        return _found(frame, nothing, nothing, [], 0, None, loose)
    bench = Bench(site, tape, ground)
    polished = _few_strips(frame, bench, columns, loose, strips)
    if polished is None:
        return WhyNot((), None, _too_few(strips, ground.mirror))
    final = _round(frame, bench, polished) if nearest is None else rounded(nearest, bench, polished)
    bound = proven_bound(frame, loose, bench)
    pieces, count = bench.pieces(final.layout), bench.strips(final.layout)
    return _found(frame, final, polished, pieces, count, bound, loose)


def _too_few(strips: int | None, mirror: bool) -> str:
    pieces = "1 piece" if strips == 1 else f"{strips} pieces"
    pair = " (a mirrored pair is two)" if mirror else ""
    return f"with at most {pieces} on the edge{pair} the limits can't be met, though with more they can"


def _round(frame: Frame, bench: Bench, polished: Polished) -> Polished:
    """Ends in round tenths of a mm, a little room left in the limits if it must be; else as they are."""
    final = rounded(frame, bench, polished)
    after = frame.values(polished.added)
    for room in ROOMS:
        if final is not polished:
            break
        margins = {i: room * max(abs(after[x.figure]), 1.0) for i, x in enumerate(frame.limits)}
        roomy = polish(with_margin(frame, margins), bench, polished.layout)
        trial = rounded(frame, bench, roomy) if roomy.met else roomy
        if trial is not roomy and trial.cost <= polished.cost + WORTH_ROUND * abs(polished.cost):
            final = trial
    return final


def _few_strips(
    frame: Frame, bench: Bench, columns: Columns, loose: Solved, strips: int | None
) -> Polished | None:
    """The polished answer with few enough strips; None when there is none.

    Quickest first: the linear program's own strip where it is a single one, else the best single strip
    and then its own; then the mixed-integer program. The first that comes near the linear program's goal
    is taken, or the best single strip where no more are allowed.
    """
    allowed = len(columns.room_g) if strips is None else strips
    goal = frame.cost(loose.added)
    near = NEAR_ENOUGH * max(abs(goal), 1.0 if frame.goal.targets else 0.0)  # distances count in per cents
    alone = _only_one(bench.ground, allowed)
    best: Polished | None = None
    for layout in _starts(frame, bench, columns, loose, allowed):
        if layout is None or bench.strips(layout) > allowed:
            continue
        found = polish(frame, bench, layout)
        if found.met and (best is None or found.cost < best.cost):
            best = found
        if best is not None and (alone or best.cost - goal <= near):
            break
    return best


def _only_one(ground: Ground, allowed: int) -> bool:
    """Whether no more than one strip, or one mirrored pair, may be stuck on in all."""
    elsewhere = ground.handle or ground.butt_g > 0
    return allowed <= (2 if ground.mirror else 1) and not elsewhere


def _starts(
    frame: Frame, bench: Bench, columns: Columns, loose: Solved, allowed: int
) -> Iterator[Layout | None]:
    own, alone = layout_of(columns, loose.grams), _only_one(bench.ground, allowed)
    elsewhere = bool((loose.grams[columns.kind != "edge"] > 0).any())
    if alone or (len(own.edge) > 1 and not elsewhere):
        yield one_strip(frame, bench, ALONE_STEP_MM if alone else ONE_STRIP_STEP_MM)
    yield own
    ratio = -frame.cost(loose.added) if frame.goal.per else 0.0
    for step_mm in RUNS_STEPS_MM:
        cells = columns_of(bench.site, bench.tape, bench.ground, step_mm)
        grams = solve_runs(frame, cells, allowed, bench.ground.mirror, loose.added, ratio)
        yield None if grams is None else layout_of(cells, grams)


def _found(
    frame: Frame,
    final: Polished,
    exact: Polished,
    pieces: list[Piece],
    strips: int,
    bound: float | None,
    loose: Solved,
) -> Found:
    """The answer ``final``; what binds is read off ``exact``, as rounding its ends leaves a little room."""
    before, after = frame.before(), frame.values(final.added)
    cost = frame.cost(final.added)
    gap = None if bound is None or cost == 0 else max((cost - bound) / abs(cost), 0.0)
    binding = binding_limits(frame, frame.values(exact.added), loose.limit_prices)
    return Found(tuple(pieces), final.added, before, after, cost, bound, gap, binding, strips)


def binding_limits(frame: Frame, after: dict[str, float], prices: dict[int, float]) -> tuple[Binding, ...]:
    """The limits that an answer stands against, with their prices."""
    binding = []
    for i, limit in enumerate(frame.limits):
        value = after[limit.figure]
        ends = [end for end in (limit.low, limit.high) if end is not None]
        if any(abs(value - end) <= BINDING * max(abs(value), 1.0) for end in ends):
            # A balance's row was multiplied by the mass: its price is for a g mm.
            per = after["weight"] if limit.figure == "balance" else 1.0
            binding.append(Binding(i, per * prices.get(i, 0.0)))
    return tuple(binding)


def with_margin(frame: Frame, margins: dict[int, float]) -> Frame:
    """The frame with limits drawn in by margins in each figure's unit."""
    limits = []
    for i, limit in enumerate(frame.limits):
        by = margins.get(i, 0.0)
        low = None if limit.low is None else limit.low + by
        high = None if limit.high is None else limit.high - by
        limits.append(replace(limit, low=low, high=high))
    return replace(frame, limits=tuple(limits))
