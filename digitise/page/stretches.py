"""Which stretches of the outline a hand has put right, and which doubtful ones are thereby settled."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree

from digitise.page.edit import EditStretch
from digitise.ring_runs import run_rows
from digitise.tone import FloatArray

TOUCHED_MM = 0.05
"""Half of the finest nudge, and more than the chords of a ring leave its curve."""
LEAST_MM, JOINED_MM = 1.0, 3.0
"""Shorter touched stretches are dropped, nearer ones are joined into one."""
STEP_MM = 0.5
SETTLED_SHARE = 0.6

How = Literal["moved", "redrawn", "declared right"]
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Stretch:
    """A stretch of the drawn outline, counter-clockwise, on the sheet; ``how`` the hand came by it."""

    start_mm: FloatArray
    end_mm: FloatArray
    length_mm: float
    how: How


@dataclass(frozen=True, eq=False)
class Touched:
    """The drawn ring, even at STEP_MM, with what a hand did where; flags are (n,)."""

    ring_mm: FloatArray
    moved: Flags
    redrawn: Flags
    declared: Flags

    @property
    def any(self) -> Flags:
        """Wherever a hand answers for the outline."""
        return np.asarray(self.moved | self.redrawn | self.declared)

    def stretches(self) -> list[Stretch]:
        """One stretch for each run of one kind."""
        found = []
        kinds: tuple[tuple[How, Flags], ...] = (
            ("redrawn", self.redrawn),
            ("moved", self.moved & ~self.redrawn),
            ("declared right", self.declared & ~self.moved & ~self.redrawn),
        )
        for how, flags in kinds:
            for first, last in runs(flags, round(JOINED_MM / STEP_MM)):
                length = ((last - first) % len(flags)) * STEP_MM
                if length >= LEAST_MM:
                    found.append(Stretch(self.ring_mm[first], self.ring_mm[last], length, how))
        return found

    def flags_of(self, start_mm: FloatArray, end_mm: FloatArray) -> Flags:
        """Flags (n,) of the stretch between two places."""
        return between(self.ring_mm, start_mm, end_mm)


def touched(
    seen_mm: FloatArray,
    automatic: Line | None,
    redrawn: Sequence[EditStretch],
    declared: Sequence[EditStretch],
) -> Touched:
    """What a hand did to the ring ``seen_mm`` (n, 2) of a sheet, compared with the automatic one."""
    ring = even(seen_mm)
    moved = np.ones(len(ring), bool) if automatic is None else automatic.distance_mm(ring) > TOUCHED_MM
    return Touched(ring, moved, _marked(ring, redrawn), _marked(ring, declared))


@dataclass(frozen=True, eq=False)
class Line:
    """A closed line (n, 2) that distances are asked from again and again."""

    points_mm: FloatArray

    @cached_property
    def _tree(self) -> cKDTree:
        return cKDTree(self.points_mm)

    def distance_mm(self, points_mm: FloatArray) -> FloatArray:
        """Distance (m,) of points (m, 2) from the line."""
        line = self.points_mm
        _, near = self._tree.query(points_mm)
        best = np.full(len(points_mm), np.inf)
        for first in (near, (near - 1) % len(line)):
            start, step = line[first], line[(first + 1) % len(line)] - line[first]
            share = np.clip(np.sum((points_mm - start) * step, axis=1) / np.sum(step**2, axis=1), 0, 1)
            best = np.minimum(best, np.hypot(*(points_mm - start - share[:, None] * step).T))
        return best


def ring_distance_mm(ring_mm: FloatArray, points_mm: FloatArray) -> FloatArray:
    """Distance (m,) of points (m, 2) from a closed line (n, 2)."""
    return Line(even(ring_mm)).distance_mm(points_mm)


def even(ring_mm: FloatArray) -> FloatArray:
    """The ring at even steps of about STEP_MM, from its first point."""
    closed = np.vstack([ring_mm, ring_mm[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    at = np.linspace(0, along[-1], max(round(along[-1] / STEP_MM), 8), endpoint=False)
    return np.column_stack([np.interp(at, along, closed[:, k]) for k in range(2)])


def between(ring_mm: FloatArray, start_mm: FloatArray, end_mm: FloatArray) -> Flags:
    """Flags (n,) of a counter-clockwise ring's points from the one nearest to ``start_mm`` to ``end_mm``."""
    first = int(np.argmin(np.sum((ring_mm - start_mm) ** 2, axis=1)))
    last = int(np.argmin(np.sum((ring_mm - end_mm) ** 2, axis=1)))
    flags = np.zeros(len(ring_mm), bool)
    flags[run_rows(first, last, len(ring_mm))] = True
    return flags


def runs(flags: Flags, join: int) -> list[tuple[int, int]]:
    """(first, last) of the runs of true flags round a ring; gaps of at most ``join`` are bridged."""
    where = np.flatnonzero(flags)
    if len(where) == 0:
        return []
    gaps = np.diff(np.append(where, where[0] + len(flags)))
    breaks = np.flatnonzero(gaps > join + 1)
    if len(breaks) == 0:
        return [(int(where[0]), int(where[-1]))]
    firsts = where[(breaks + 1) % len(where)]
    lasts = where[breaks]
    return [(int(a), int(b)) for a, b in zip(np.roll(firsts, 1), lasts, strict=True)]


def _marked(ring_mm: FloatArray, stretches: Sequence[EditStretch]) -> Flags:
    flags = np.zeros(len(ring_mm), bool)
    for stretch in stretches:
        flags |= between(ring_mm, np.array(stretch.start), np.array(stretch.end))
    return flags
