"""The columns of a search: cells of edge and handle, each with what one gram in it adds and how many fit."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from model.edge_table import EdgeTable, edge_table
from model.errors import SearchError
from model.handle import GRIP_MM, HandleTable, handle_table, plug_integrals
from model.materials import Material
from model.pieces import BUTT_DEPTH_MM, Fold, Side, Stuff
from model.site import Site
from model.sweep import edge_section
from model.zones import Stretch

Array = NDArray[np.float64]

EDGE_STEP_MM = 4.0
HANDLE_STEP_MM = 5.0
HANDLE_STRIPS = 4  # strips side by side under the grip, one on each flat


@dataclass(frozen=True)
class Tape:
    """What strips are cut from: grams per mm of all layers together, and how it is stuck on."""

    grams_per_mm: float
    relative_sd: float
    stuff: Stuff
    fold: Fold = Fold.OVER_EDGE
    side: Side = Side.FRONT
    stand_off_mm: float = 0.0


@dataclass(frozen=True)
class Ground:
    """Where tape may go: the edge's stretches, and grams allowed under the grip's cells and in the butt."""

    stretches: tuple[Stretch, ...]
    mirror: bool = True
    handle: bool = False
    butt_g: float = 0.0


@dataclass(frozen=True, eq=False)
class Columns:
    """``per_gram`` (n, 6) integrals of one gram in each cell, ``room_g`` (n,) the most it holds.

    ``kind`` (n,) is "edge", "handle" or "butt"; ``ends_mm`` (n, 2) a cell's ends along the edge
    (mirrored cells stand for both sides) or the handle.
    """

    per_gram: Array
    room_g: Array
    kind: NDArray[np.str_]
    ends_mm: Array


def tape_of(
    material: Material,
    layers: int,
    fold: Fold = Fold.OVER_EDGE,
    side: Side = Side.FRONT,
    stand_off: float = 0.0,
) -> Tape:
    """Tape of a material in some layers. Raises MaterialError if it is no tape."""
    mass = material.tape_mass(1.0, layers)
    stuff = Stuff(material.width_mm, material.thickness_mm or 0.0, layers, material.name)
    return Tape(mass.value, mass.sd / mass.value, stuff, fold, side, stand_off)


@lru_cache(maxsize=16)
def table_for(site: Site, tape: Tape) -> EdgeTable:
    """Running integrals of this tape along this edge."""
    section = edge_section(tape.stuff, tape.fold, tape.stand_off_mm, site.face_thickness_mm)
    return edge_table(site.edge, section)


def under_grip(site: Site) -> HandleTable:
    """Rings under the grip, along the whole handle."""
    return handle_table(site.edge, site.handle_top_mm, site.handle_thickness_mm, -GRIP_MM)


def butt_plug(site: Site) -> Array:
    """Integrals (6,) of one gram in the butt cap."""
    return plug_integrals(site.edge, BUTT_DEPTH_MM, site.handle_thickness_mm)


def run_integrals(table: EdgeTable, mirror: bool, start_mm: Array, end_mm: Array) -> Array:
    """Integrals (..., 6) of 1 g/mm of tape from start to end, with its twin when mirrored."""
    start, end = np.asarray(start_mm), np.asarray(end_mm)
    at_start, at_end = upto_both(table, mirror, np.stack([start, end]))
    return np.asarray(at_end - at_start)


def upto_both(table: EdgeTable, mirror: bool, places_mm: Array) -> Array:
    """Integrals (..., 6) of 1 g/mm from the tip to places, with those of its twin when mirrored."""
    if not mirror:
        return table.upto(places_mm)
    right, left = table.upto(np.stack([places_mm, -places_mm]))
    return np.asarray(right - left)


def columns_of(site: Site, tape: Tape, ground: Ground, step_mm: float = EDGE_STEP_MM) -> Columns:
    """All cells. Raises SearchError when no place is allowed."""
    parts = [_edge_columns(site, tape, ground, step_mm)] if ground.stretches else []
    if ground.handle:
        parts.append(_handle_columns(site, tape))
    if ground.butt_g > 0:
        bottom = float(site.outline.outer_mm[:, 1].min())
        ends = np.array([[bottom, bottom + BUTT_DEPTH_MM]])
        parts.append(Columns(butt_plug(site)[None], np.array([ground.butt_g]), np.array(["butt"]), ends))
    if not parts:
        raise SearchError("no place is left for tape: allow a stretch of the edge, the handle or the butt")
    return Columns(
        np.vstack([p.per_gram for p in parts]),
        np.concatenate([p.room_g for p in parts]),
        np.concatenate([p.kind for p in parts]),
        np.vstack([p.ends_mm for p in parts]),
    )


def knots_of(stretch: Stretch, step_mm: float) -> Array:
    """Places (n + 1,) that part a stretch into n equal cells of about a step."""
    start, end = stretch
    return np.linspace(start, end, max(round((end - start) / step_mm), 1) + 1)


def _edge_columns(site: Site, tape: Tape, ground: Ground, step_mm: float) -> Columns:
    table, knots = table_for(site, tape), [knots_of(stretch, step_mm) for stretch in ground.stretches]
    ends = np.vstack([np.column_stack([k[:-1], k[1:]]) for k in knots])
    sums = np.vstack([np.diff(upto_both(table, ground.mirror, k), axis=0) for k in knots])
    return Columns(sums / sums[:, :1], sums[:, 0] * tape.grams_per_mm, np.full(len(ends), "edge"), ends)


def _handle_columns(site: Site, tape: Tape) -> Columns:
    knots = knots_of((site.lowest_mm, site.handle_top_mm), HANDLE_STEP_MM)
    ends = np.column_stack([knots[:-1], knots[1:]])
    rings = under_grip(site)
    unit = [rings.between(a, b) / (b - a) for a, b in ends]
    room = (ends[:, 1] - ends[:, 0]) * tape.grams_per_mm * HANDLE_STRIPS
    return Columns(np.array(unit), room, np.full(len(ends), "handle"), ends)
