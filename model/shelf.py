"""Whole strips of given sizes: what there is to stick on, and every place of a grid where each may lie."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from model.columns import Ground, Tape, run_integrals, table_for
from model.edge_table import EdgeTable
from model.errors import SearchError
from model.site import Site

Array = NDArray[np.float64]

STEP_MM = 5.0


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
