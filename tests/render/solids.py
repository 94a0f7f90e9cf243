"""Solids as stacks of flat layers: what every object on the table is made of.

A layer is a plan polygon at one height of the object's own frame; the stack is painted from
the lowest layer to the highest, so walls, rounded edges and the look through a hole come out
of the perspective by themselves.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from tests.render.camera import Points
from tests.render.tone import Colour


@dataclass(frozen=True)
class Layer:
    """One level: ``plan`` in mm of the object's frame; ``skin`` layers carry print only."""

    z_mm: float
    plan: BaseGeometry
    colour: Colour
    skin: bool = False


@dataclass(frozen=True)
class Pose:
    """World X = rotation · x + shift, both in mm."""

    rotation: Points
    shift_mm: Points

    def place(self, points_mm: Points) -> Points:
        """World points (n, 3) of the object's points (n, 3)."""
        return points_mm @ self.rotation.T + self.shift_mm


@dataclass(frozen=True)
class Solid:
    """A stack of layers at a pose. ``gloss`` 0 .. 1 scales its highlights."""

    layers: tuple[Layer, ...]
    pose: Pose
    gloss: float = 0.1


def flat_pose(x_mm: float, y_mm: float, turn_deg: float, z_mm: float = 0.0) -> Pose:
    """Level on the table, turned counter-clockwise seen from above."""
    angle = np.radians(turn_deg)
    cos, sin = np.cos(angle), np.sin(angle)
    rotation = np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
    return Pose(rotation, np.array([x_mm, y_mm, z_mm]))


def polygons_of(shape: BaseGeometry) -> list[Polygon]:
    """The non-empty polygons in any geometry, outer rings counter-clockwise, holes clockwise."""
    parts: Iterable[BaseGeometry]
    parts = [shape] if isinstance(shape, Polygon) else shapely.get_parts(shape)
    return [orient(part) for part in parts if isinstance(part, Polygon) and part.area > 1e-6]


def rings_of(shape: BaseGeometry, step_mm: float = 4.0) -> list[Points]:
    """Rings (n, 2), first point not repeated, no edge longer than the step."""
    found = []
    for polygon in polygons_of(shapely.segmentize(shape, step_mm)):
        for ring in (polygon.exterior, *polygon.interiors):
            found.append(np.asarray(ring.coords, dtype=float)[:-1])
    return found


def prism(plan: BaseGeometry, height_mm: float, top: Colour, wall: Colour, levels: int = 3) -> list[Layer]:
    """Layers of an upright prism on the table: walls from z = 0 up, then the top."""
    heights = np.linspace(0.0, height_mm, levels)
    return [*(Layer(float(z), plan, wall) for z in heights[:-1]), Layer(height_mm, plan, top)]


def as_multi(shapes: Sequence[Polygon]) -> MultiPolygon:
    """Several polygons as one geometry."""
    return MultiPolygon(list(shapes))
