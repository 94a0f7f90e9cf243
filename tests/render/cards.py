"""Reference cards and sheets with their print, as solids."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from tests.render.camera import Points
from tests.render.solids import Layer, Pose, Solid, flat_pose, prism
from tests.render.tone import Colour, albedo

CardKind = Literal["white", "navy", "gradient", "striped", "black", "sheet"]
CARD_KINDS: tuple[CardKind, ...] = ("white", "navy", "gradient", "striped")


@dataclass(frozen=True)
class CardSpec:
    """An ISO/IEC 7810 ID-1 card, or with other measures a sheet of paper, at (x, y) in mm.

    ``ink`` is what is printed on it in black, in mm of its own frame.
    ``on_face``: it lies on the racquet's face; x and y are then in the racquet's frame.
    """

    kind: CardKind = "white"
    x_mm: float = 0.0
    y_mm: float = 0.0
    turn_deg: float = 0.0
    width_mm: float = 85.60
    height_mm: float = 53.98
    radius_mm: float = 3.18
    thickness_mm: float = 0.76
    on_face: bool = False
    ink: BaseGeometry | None = None

    def outline(self) -> Polygon:
        """Plan with round corners, centred on the origin."""
        half_w, half_h, r = self.width_mm / 2, self.height_mm / 2, self.radius_mm
        inner = box(-half_w + r, -half_h + r, half_w - r, half_h - r)
        rounded: Polygon = inner.buffer(r, quad_segs=32) if r > 0 else inner
        return rounded

    def corners_mm(self) -> Points:
        """Sharp corners (4, 2) of the top face in the card's own frame."""
        half_w, half_h = self.width_mm / 2, self.height_mm / 2
        return np.array([[-half_w, -half_h], [half_w, -half_h], [half_w, half_h], [-half_w, half_h]])


def card_pose(spec: CardSpec, racquet: Pose | None, face_top_mm: float) -> Pose:
    """On the table, or on the face of the racquet at its pose."""
    level = flat_pose(spec.x_mm, spec.y_mm, spec.turn_deg)
    if not spec.on_face or racquet is None:
        return level
    own = flat_pose(spec.x_mm, spec.y_mm, spec.turn_deg, face_top_mm)
    shift = racquet.rotation @ own.shift_mm + racquet.shift_mm
    return Pose(racquet.rotation @ own.rotation, shift)


def card_solid(spec: CardSpec, pose: Pose) -> Solid:
    """Wall, top and print."""
    base, wall, printed = _art(spec)
    if spec.ink is not None:
        printed = [*printed, (spec.ink, albedo("#202020"))]
    top = spec.thickness_mm
    plan = spec.outline()
    layers = prism(plan, top, base, wall, levels=3)
    for step, (shape, colour) in enumerate(printed):
        layers.append(Layer(top + 1e-4 * (step + 1), shape.intersection(plan), colour, skin=True))
    return Solid(tuple(layers), pose, gloss=0.05)


def _art(spec: CardSpec) -> tuple[Colour, Colour, list[tuple[BaseGeometry, Colour]]]:
    chip = box(-33, -1, -21, 8)
    lines = [box(-33, -14, 2, -10.5), box(-33, -20.5, -12, -18), box(10, -20.5, 24, -18)]
    if spec.kind == "navy":
        base = albedo("#1d2446")
        digits = unary_union([box(-33 + 9.5 * k, -14, -26.5 + 9.5 * k, -10.8) for k in range(6)])
        return (
            base,
            base,
            [(chip, albedo("#c9a44c")), (digits, albedo("#c5cad8")), (lines[1], albedo("#aab0c4"))],
        )
    if spec.kind == "gradient":
        start, end = np.array(albedo("#3fae6a")), np.array(albedo("#8a4fc0"))
        steps = 40
        printed: list[tuple[BaseGeometry, Colour]] = []
        for k in range(1, steps):
            mix = start + (end - start) * k / (steps - 1)
            printed.append(
                (box(-43 + 86 * k / steps, -28, 44, 28), (float(mix[0]), float(mix[1]), float(mix[2])))
            )
        printed += [(chip, albedo("#d9b45c")), (unary_union(lines), albedo("#f1f1f1"))]
        return albedo("#3fae6a"), albedo("#d8d8d8"), printed
    if spec.kind == "striped":
        stripe = box(-44, 10, 44, 21)
        return (
            albedo("#ebeae6"),
            albedo("#dddddd"),
            [(stripe, albedo("#161616")), (lines[0], albedo("#9a9a9a"))],
        )
    if spec.kind == "black":
        base = albedo("#1b1b1d")
        return base, base, [(chip, albedo("#b8b8bc")), (lines[1], albedo("#6d6d70"))]
    return albedo("#f2f2f0"), albedo("#e4e4e2"), []
