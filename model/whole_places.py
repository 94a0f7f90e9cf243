"""Places of whole strips: moved continuously from a grid's, then cut to tenths of a mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from model.limits import Limit
from model.pieces import EdgeStrip, FromTip, Piece
from model.polish import CUT_MM
from model.program import MET, Frame
from model.shelf import Shelf

Array = NDArray[np.float64]

TOUCH_MM = 1e-6
GAP_UNIT_MM = 10.0
ROOM_UNIT = 0.01  # of a figure
MASSES = ("added", "weight")  # figures that moving a piece does not change


@dataclass(frozen=True, eq=False)
class Strips:
    """Whole strips laid: ``ends_mm`` (n, 2), ``size`` (n,) in the shelf's list, ``count`` (n,) of pieces."""

    shelf: Shelf
    ends_mm: Array
    size: NDArray[np.intp]
    count: Array

    @cached_property
    def _order(self) -> NDArray[np.intp]:
        return np.argsort(self.ends_mm[:, 0])

    def added(self) -> Array:
        """Sums (6,) that they add, twins counted."""
        return np.asarray(self.shelf.sums(self.ends_mm, self.size, self.count).sum(axis=0))

    def moved(self, by_mm: Array) -> Strips:
        """Each moved so far (n,) along the edge; one across the tip stays."""
        free = self.count > 1 if self.shelf.ground.mirror else np.full(len(self.count), True)
        return replace(self, ends_mm=self.ends_mm + np.where(free, by_mm, 0.0)[:, None])

    def gaps_mm(self, order: NDArray[np.intp]) -> Array:
        """Distances (n - 1,) between neighbours in this order, negative where they overlap."""
        ends = self.ends_mm[order]
        return np.asarray(ends[1:, 0] - ends[:-1, 1])

    def ways_mm(self) -> list[tuple[float, float]]:
        """How far each may move back and forth within its stretch of the ground."""
        ways = []
        for start, end in self.ends_mm:
            low, high = max(self.shelf.ground.stretches, key=lambda z: min(z[1], end) - max(z[0], start))
            ways.append((low - start, high - end) if low <= start else (0.0, 0.0))
        return ways

    def lie_within(self) -> bool:
        """Whether none overlaps another or leaves the ground."""
        inside = [
            any(low - TOUCH_MM <= a and b <= high + TOUCH_MM for low, high in self.shelf.ground.stretches)
            or (self.shelf.ground.mirror and n == 1)
            for (a, b), n in zip(self.ends_mm, self.count, strict=True)
        ]
        return all(inside) and bool((self.gaps_mm(self._order) >= -TOUCH_MM).all())

    def pieces(self) -> tuple[Piece, ...]:
        """As pieces a person can stick on."""
        tape = self.shelf.tape
        return tuple(
            EdgeStrip(
                mass_g=self.shelf.sizes[k].mass_g,
                length_mm=self.shelf.sizes[k].length_mm,
                place=FromTip(float(ends.mean())),
                stuff=tape.stuff,
                fold=tape.fold,
                side=tape.side,
                stand_off_mm=tape.stand_off_mm,
                mirror=bool(count > 1),
            )
            for k, ends, count in zip(self.size, self.ends_mm, self.count, strict=True)
        )


def best_places(frame: Frame, strips: Strips) -> Strips:
    """Places moved in their order and zones: the goal at its best, the grid's where that does not help.

    Where only mass counts, which moving does not change, the least room in any limit is made most.
    """
    only_mass = frame.goal.figure in MASSES and not (frame.goal.per or frame.goal.targets)
    limits = tuple(limit for limit in frame.limits if not (only_mass and limit.figure in MASSES))
    if only_mass and not limits:
        return strips

    def worth(laid: Strips) -> float:
        return float(_rooms(frame, limits, laid.added()).min()) if only_mass else -frame.cost(laid.added())

    order = np.argsort(strips.ends_mm[:, 0])
    n = len(strips.ends_mm)

    def rows(z: Array) -> Array:
        laid = strips.moved(z[:n])
        rooms = _rooms(frame, limits, laid.added()) - (z[n] if only_mass else 0.0)
        return np.concatenate([rooms, laid.gaps_mm(order) / GAP_UNIT_MM])

    with np.errstate(all="ignore"):
        result = minimize(
            (lambda z: -z[n]) if only_mass else (lambda z: frame.cost(strips.moved(z).added())),
            np.append(np.zeros(n), worth(strips)) if only_mass else np.zeros(n),
            bounds=[*strips.ways_mm(), *([(None, None)] if only_mass else [])],
            constraints=[{"type": "ineq", "fun": rows}],
            method="SLSQP",
            options={"maxiter": 30, "ftol": 1e-9},
        )
    if not np.isfinite(result.x).all():
        return strips
    laid = strips.moved(np.asarray(result.x[:n]))
    good = laid.lie_within() and frame.missed(laid.added()) <= MET
    return laid if good and worth(laid) > worth(strips) else strips


def _rooms(frame: Frame, limits: Sequence[Limit], added: Array) -> Array:
    """What is left in each bound of the limits, in hundredths of their figure."""
    now, before = frame.values(added), frame.before()
    rooms = []
    for limit in limits:
        unit = ROOM_UNIT * max(abs(before[limit.figure]), 1.0)
        if limit.low is not None:
            rooms.append((now[limit.figure] - limit.low) / unit)
        if limit.high is not None:
            rooms.append((limit.high - now[limit.figure]) / unit)
    return np.array(rooms)


def at_tenths(frame: Frame, strips: Strips) -> Strips:
    """Middles at tenths of a mm where limits, zones and neighbours allow it; else as they are.

    All up or all down keeps strips that touch apart.
    """
    middle = strips.ends_mm.mean(axis=1)
    for towards in (np.round, np.floor, np.ceil):
        by = towards(np.round(middle / CUT_MM, 6)) * CUT_MM - middle
        moved = replace(strips, ends_mm=strips.ends_mm + by[:, None])
        if moved.lie_within() and frame.missed(moved.added()) <= MET:
            return moved
    return strips
