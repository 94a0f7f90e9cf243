"""What is printed on a face: strong edges inside the outline, as real racquets have."""

from __future__ import annotations

import numpy as np
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from tests.render.plans import Plan
from tests.render.racquet import RacquetSpec

PATTERNS = ("plain", "stripes", "halves", "target", "oval", "bars", "wave")

# invented marks, as strokes on a 2 × 3 grid
MARKS: tuple[tuple[tuple[tuple[float, float], ...], ...], ...] = (
    (((0, 0), (0, 3), (2, 0), (2, 3)),),
    (((2, 3), (0, 3), (0, 0), (2, 0)), ((0, 1.5), (1.5, 1.5))),
    (((0, 0), (1, 3), (2, 0)), ((0.4, 1.1), (1.6, 1.1))),
    (((0, 3), (2, 3), (0.7, 0)),),
    (((0, 3), (2, 0)), ((2, 3), (0, 0))),
)


def print_on(spec: RacquetSpec, plan: Plan) -> list[tuple[BaseGeometry, str]]:
    """Shapes with their colours, in painting order: the face first, then its print."""
    finish = spec.finish
    if spec.construction == "strung":
        return _hoop_paint(spec, plan)
    inner = plan.head.buffer(-(spec.band_mm + 0.5)).intersection(box(-300, spec.handle_top_mm + 16, 300, 999))
    holes = unary_union([ring for _, ring in plan.openings])
    face = inner.difference(holes)
    shapes: list[tuple[BaseGeometry, str]] = [(face, finish.face)]
    for shape in _pattern(spec, face):
        shapes.append((shape.intersection(face), finish.pattern_colour))
    return [(shape, colour) for shape, colour in shapes if not shape.is_empty]


def _hoop_paint(spec: RacquetSpec, plan: Plan) -> list[tuple[BaseGeometry, str]]:
    """Two bright stretches on the hoop's sides."""
    middle = (plan.openings[0][1].bounds[1] + plan.openings[0][1].bounds[3]) / 2
    sides = box(-300, middle - 45, 300, middle + 40)
    crown = plan.pierced().buffer(-spec.tube_mm * 0.36)
    paint = crown.intersection(sides)
    return [(paint, spec.finish.pattern_colour)] if spec.finish.pattern != "plain" else []


def _pattern(spec: RacquetSpec, face: BaseGeometry) -> list[BaseGeometry]:
    low_x, low_y, high_x, high_y = face.bounds
    middle = Point((low_x + high_x) / 2, (low_y + high_y) / 2 + 10)
    size = (high_x - low_x) / 2
    kind = spec.finish.pattern
    if kind == "stripes":
        bars = [box(-400, low_y + k * 38, 400, low_y + k * 38 + 8 + 4 * (k % 3)) for k in range(-6, 16)]
        return [affinity.rotate(unary_union(bars), 33, origin=middle)]
    if kind == "halves":
        half = affinity.rotate(box(-400, middle.y, 400, middle.y + 600), -19, origin=middle)
        return [half, _mark(1, middle.x, middle.y - size * 0.5, size * 0.2)]
    if kind == "target":
        rings = [
            middle.buffer(size * k).difference(middle.buffer(size * k - 4.5)) for k in (0.2, 0.4, 0.58, 0.76)
        ]
        return [unary_union(rings)]
    if kind == "oval":
        oval = affinity.scale(middle.buffer(size * 0.72, quad_segs=48), 0.85, 1.2)
        marks = [_mark(k, middle.x + (k - 0.5) * size * 0.55, middle.y, size * 0.22) for k in (0, 1)]
        return [oval.difference(oval.buffer(-4)), *marks]
    if kind == "bars":
        return [unary_union([box(x, -99, x + wide, 999) for x, wide in ((-60, 7), (-20, 9), (28, 20))])]
    if kind == "wave":
        x = np.linspace(low_x, high_x, 80)
        y = middle.y + 22 * np.sin((x - low_x) / 28)
        return [LineString(np.column_stack([x, y + k * 46])).buffer(6 + 2 * k) for k in (-2, -1, 0, 1)]
    return [_mark(3, middle.x, middle.y, size * 0.3)]


def _mark(number: int, x_mm: float, y_mm: float, size_mm: float) -> BaseGeometry:
    strokes: list[Polygon] = []
    for stroke in MARKS[number % len(MARKS)]:
        points = [(x_mm + (x - 1) * size_mm * 0.55, y_mm + (y - 1.5) * size_mm * 0.55) for x, y in stroke]
        strokes.append(LineString(points).buffer(size_mm * 0.13, join_style="mitre"))
    return unary_union(strokes)
