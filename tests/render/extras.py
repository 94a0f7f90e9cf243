"""Other things that lie about on a table."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from shapely.geometry import LineString, Point, Polygon, box

from tests.render.solids import Layer, Solid, flat_pose, prism
from tests.render.tone import Colour, albedo

ExtraKind = Literal["pencil", "coin", "note", "phone", "cord"]
EXTRA_KINDS: tuple[ExtraKind, ...] = ("pencil", "coin", "note", "phone")
REACH_MM: dict[ExtraKind, float] = {"pencil": 90.0, "coin": 14.0, "note": 56.0, "phone": 86.0, "cord": 70.0}


@dataclass(frozen=True)
class ExtraSpec:
    """A thing at (x, y) mm on the table, turned counter-clockwise."""

    kind: ExtraKind
    x_mm: float
    y_mm: float
    turn_deg: float
    colour: str = "#d8a62a"


def extra_solid(spec: ExtraSpec) -> Solid:
    """Its layers on the table."""
    pose = flat_pose(spec.x_mm, spec.y_mm, spec.turn_deg)
    colour = albedo(spec.colour)
    if spec.kind == "pencil":
        return Solid(tuple(_pencil(colour)), pose, 0.2)
    if spec.kind == "coin":
        disc = Point(0, 0).buffer(12.1, quad_segs=32)
        ring = Layer(2.2, disc.buffer(-1).difference(disc.buffer(-1.7)), _times(colour, 0.6), skin=True)
        return Solid((*prism(disc, 2.1, colour, _times(colour, 0.6)), ring), pose, 0.5)
    if spec.kind == "note":
        return Solid(tuple(prism(box(-38, -38, 38, 38), 0.4, colour, _times(colour, 0.8))), pose, 0.0)
    if spec.kind == "cord":
        curve = LineString([(-60, -10), (-30, 14), (0, -8), (25, 12), (55, 0)]).buffer(1.6)
        return Solid(tuple(prism(curve, 3.0, colour, _times(colour, 0.6), 4)), pose, 0.05)
    case = box(-27, -64, 27, 64).buffer(9, quad_segs=16)
    glass = Layer(8.1, case.buffer(-2.2), albedo("#0d0e11"), skin=True)
    lens = Layer(8.2, Point(0, 66).buffer(1.8), albedo("#23262e"), skin=True)
    return Solid((*prism(case, 8.0, _times(colour, 0.5), _times(colour, 0.4), 4), glass, lens), pose, 0.2)


def _times(colour: Colour, factor: float) -> Colour:
    return (colour[0] * factor, colour[1] * factor, colour[2] * factor)


def _pencil(colour: Colour) -> list[Layer]:
    shaft = box(-75, -3.6, 70, 3.6)
    slim = box(-75, -1.9, 70, 1.9)
    tip = Polygon([(70, -3.4), (86, -0.7), (86, 0.7), (70, 3.4)])
    lead = Polygon([(82, -1.3), (88, 0.0), (82, 1.3)])
    layers = [Layer(0.0, slim, _times(colour, 0.4)), Layer(2.0, shaft, _times(colour, 0.6))]
    layers += [Layer(3.6, shaft, _times(colour, 0.8)), Layer(3.6, tip, albedo("#d9b98c"))]
    layers += [Layer(3.7, lead, albedo("#2a2a2a"), skin=True), Layer(5.2, shaft, _times(colour, 0.9))]
    return [*layers, Layer(6.8, slim, colour)]
