"""Strips as a search moves them: ends along the edge, ends along the handle, grams in the butt."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from model.columns import (
    HANDLE_STRIPS,
    Columns,
    Ground,
    Tape,
    butt_plug,
    run_integrals,
    table_for,
    under_grip,
    upto_both,
)
from model.edge_table import EdgeTable
from model.handle import HandleTable
from model.pieces import ButtWeight, EdgeStrip, FromTip, HandleRing, Piece
from model.site import Site
from model.zones import Stretch

Array = NDArray[np.float64]

TRACE_G = 1e-4  # less than this in a cell is the solver's rounding
AT_TIP_MM = 0.06  # a mirrored strip that begins this near the tip is one piece across it


@dataclass(frozen=True, eq=False)
class Layout:
    """``edge`` (r, 2) and ``handle`` (q, 2) ends in mm, and ``butt_g`` grams."""

    edge: Array
    handle: Array
    butt_g: float

    def vector(self) -> Array:
        """All numbers in one row, as the polishing moves them."""
        return np.concatenate([self.edge.ravel(), self.handle.ravel(), [self.butt_g]])

    def at(self, vector: Array) -> Layout:
        """The layout with these numbers."""
        r, q = self.edge.size, self.handle.size
        return Layout(
            vector[:r].reshape(-1, 2), vector[r : r + q].reshape(-1, 2), float(max(vector[r + q], 0.0))
        )


@dataclass(frozen=True, eq=False)
class Bench:
    """What a layout is laid on: site, tape, ground and the running integrals of edge and handle."""

    site: Site
    tape: Tape
    ground: Ground

    @cached_property
    def table(self) -> EdgeTable:
        """Running integrals along the edge."""
        return table_for(self.site, self.tape)

    @cached_property
    def rings(self) -> HandleTable:
        """Rings under the grip."""
        return under_grip(self.site)

    @cached_property
    def plug(self) -> Array:
        """Integrals (6,) of one gram in the butt."""
        return butt_plug(self.site)

    def added(self, layout: Layout) -> Array:
        """Sums (6,) of 1, x, y, xx, yy, zz that a layout adds."""
        total = np.zeros(6)
        if layout.edge.size:
            runs = run_integrals(self.table, self.ground.mirror, layout.edge[:, 0], layout.edge[:, 1])
            total = self.tape.grams_per_mm * runs.sum(axis=0)
        for low, high in layout.handle:
            total = total + self._ring(low, high)
        return np.asarray(total + layout.butt_g * self.plug) if layout.butt_g else total

    def upto(self, places_mm: Array) -> Array:
        """Sums (m, 6) of tape up to places, with its twin when mirrored; a run is the difference of two."""
        return np.asarray(self.tape.grams_per_mm * upto_both(self.table, self.ground.mirror, places_mm))

    def rings_upto(self, places_mm: Array) -> Array:
        """The same along the handle, under the grip: (m, 6)."""
        each = np.array([self.rings.upto(float(place)) for place in places_mm]).reshape(-1, 6)
        return each * self.tape.grams_per_mm * HANDLE_STRIPS

    def upto_of(self, places_mm: Array, slopes: Array) -> Array:
        """:meth:`upto` times slopes (6,): (m,). Much quicker for many places than all six sums."""
        right = self.table.upto_of(places_mm, slopes)
        if self.ground.mirror:
            right = right - self.table.upto_of(-places_mm, slopes)
        return self.tape.grams_per_mm * right

    def added_and_slopes(self, layout: Layout) -> tuple[Array, Array]:
        """:meth:`added` (6,) and its derivatives (6, v) by the layout's vector."""
        places = layout.edge.ravel()
        if self.ground.mirror:
            upto, density = self.table.upto_and_density(np.stack([places, -places]))
            upto, density = upto[0] - upto[1], density[0] + density[1]
        else:
            upto, density = self.table.upto_and_density(places)
        begins_ends = np.resize([-self.tape.grams_per_mm, self.tape.grams_per_mm], len(places))
        total, columns = begins_ends @ upto, [density * begins_ends[:, None]]
        for low, high in layout.handle:
            total = total + self._ring(low, high)
            ends = np.array([-self.rings.density(low), self.rings.density(high)])
            columns.append(ends * self.tape.grams_per_mm * HANDLE_STRIPS)
        columns.append(self.plug[None])
        return total + layout.butt_g * self.plug, np.vstack(columns).T

    def pieces(self, layout: Layout) -> list[Piece]:
        """The layout as pieces a person can cut and stick."""
        made: list[Piece] = [self._strip(float(a), float(b)) for a, b in layout.edge]
        for low, high in layout.handle:
            grams = float(self._ring(low, high)[0])
            made.append(
                HandleRing(
                    mass_g=grams,
                    mass_sd_g=grams * self.tape.relative_sd,
                    stuff=self.tape.stuff,
                    y_mm=float(low + high) / 2,
                    length_mm=float(high - low),
                    under_grip=True,
                    strips=HANDLE_STRIPS,
                )
            )
        if layout.butt_g > TRACE_G:
            made.append(ButtWeight(mass_g=layout.butt_g))
        return made

    def strips(self, layout: Layout) -> int:
        """How many pieces lie on the edge."""
        if not self.ground.mirror:
            return len(layout.edge)
        return sum(1 if start < AT_TIP_MM else 2 for start, _ in layout.edge)

    def zone_of(self, start: float, end: float) -> Stretch:
        """The allowed stretch that a run lies in, or is nearest to."""
        return max(self.ground.stretches, key=lambda s: min(s[1], end) - max(s[0], start))

    def _strip(self, start: float, end: float) -> EdgeStrip:
        tape, across = self.tape, self.ground.mirror and start < AT_TIP_MM
        length = 2 * end if across else end - start
        return EdgeStrip(
            mass_g=length * tape.grams_per_mm,
            mass_sd_g=length * tape.grams_per_mm * tape.relative_sd,
            stuff=tape.stuff,
            mirror=self.ground.mirror and not across,
            length_mm=length,
            place=FromTip(0.0 if across else (start + end) / 2),
            fold=tape.fold,
            side=tape.side,
            stand_off_mm=tape.stand_off_mm,
        )

    def _ring(self, low: float, high: float) -> Array:
        return np.asarray(self.rings.between(low, high) * self.tape.grams_per_mm * HANDLE_STRIPS)


def layout_of(columns: Columns, grams: Array) -> Layout:
    """Grams per cell as strips: neighbouring cells with something in them are one strip.

    A strip is as long as its grams need, about their own middle.
    """
    runs: dict[str, list[Stretch]] = {"edge": [], "handle": []}
    for kind, found in runs.items():
        chosen = np.flatnonzero((columns.kind == kind) & (grams > TRACE_G))
        joined = np.flatnonzero(
            np.abs(columns.ends_mm[chosen][1:, 0] - columns.ends_mm[chosen][:-1, 1]) > 1e-6
        )
        for group in np.split(chosen, joined + 1):
            if len(group):
                found.append(_run(columns, grams, group))
    butt = float(grams[columns.kind == "butt"].sum())
    return Layout(
        np.array(runs["edge"], dtype=np.float64).reshape(-1, 2),
        np.array(runs["handle"], dtype=np.float64).reshape(-1, 2),
        butt,
    )


def _run(columns: Columns, grams: Array, group: NDArray[np.intp]) -> Stretch:
    ends, held = columns.ends_mm[group], grams[group]
    per_mm = (columns.room_g[group] / (ends[:, 1] - ends[:, 0])).mean()
    length = float(held.sum() / per_mm)
    low, high = float(ends[0, 0]), float(ends[-1, 1])
    if len(group) > 1 and held[0] > 0.999 * columns.room_g[group[0]]:
        return low, low + length
    if len(group) > 1 and held[-1] > 0.999 * columns.room_g[group[-1]]:
        return high - length, high
    middle = float(held @ ends.mean(axis=1) / held.sum())
    start = min(max(middle - length / 2, low), high - length)
    return start, start + length
