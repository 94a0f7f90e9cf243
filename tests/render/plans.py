"""Plan views: from a spec to the polygons a caliper would find.

Racquet frame: origin at the middle of the butt end, +y to the tip, +x right as seen from above,
z = 0 halfway through the thickness. All curves are fine enough (chords sag < 0.01 mm).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import affinity
from shapely.geometry import LineString, MultiPoint, Point, Polygon, box
from shapely.ops import unary_union

from tests.render.camera import Points
from tests.render.racquet import RacquetSpec
from tests.render.solids import polygons_of

SEGMENTS = 64  # chords in a quarter turn of a rounded corner
FLARE_END_MM = 24.0
COLLAR_MM = 18.0  # from the handle's top to where the face has its own thickness


@dataclass(frozen=True)
class HandleProfile:
    """Half width and half thickness (mm) along y (mm), butt end first."""

    y_mm: Points
    half_width_mm: Points
    half_thickness_mm: Points


@dataclass(frozen=True)
class Plan:
    """``head`` reaches into the handle; ``outline`` is the whole racquet without openings."""

    head: Polygon
    openings: tuple[tuple[str, Polygon], ...]
    handle: HandleProfile
    outline: Polygon
    strings: tuple[LineString, ...]

    def pierced(self) -> Polygon:
        """The head without its openings."""
        cut: Polygon = self.head.difference(unary_union([ring for _, ring in self.openings]))
        return cut


def plan_of(spec: RacquetSpec) -> Plan:
    """All plan polygons of a racquet; overall length and width are exactly the spec's."""
    openings: list[tuple[str, Polygon]]
    strings: list[LineString] = []
    if spec.construction == "strung":
        head, openings = _strung(spec)
        strings = _strings(spec, openings)
    else:
        head = _fit(_paddle(spec), spec)
        openings = _perforations(head, spec) if spec.construction == "perforated" else []
    handle = handle_profile(spec)
    outline = unary_union([head, profile_plan(collar_profile(spec)), profile_plan(handle)])
    outline = Polygon(outline.exterior)
    return Plan(head, tuple(openings), handle, outline, tuple(strings))


def handle_profile(spec: RacquetSpec) -> HandleProfile:
    """Flared butt with a rounded end, then even to the handle's top."""
    radius = spec.butt_radius_mm
    ends = np.linspace(0, radius, 25)
    y = np.concatenate([ends, np.arange(3.5, spec.handle_top_mm, 0.5), [spec.handle_top_mm]])
    y = np.unique(y)
    bell = np.clip((y - 9.0) / (FLARE_END_MM - 9.0), 0.0, 1.0)
    flare = spec.butt_flare_mm * (0.5 + 0.5 * np.cos(np.pi * bell))
    inside = np.clip(radius - y, 0.0, radius)
    # At the very end both squares are one number, reckoned in two ways that may differ by a hair.
    rounding = radius - np.sqrt(np.maximum(radius**2 - inside**2, 0.0))
    width = spec.handle_width_mm / 2 + flare - rounding
    thickness = spec.handle_thickness_mm / 2 + flare - rounding
    return HandleProfile(y, width, thickness)


def collar_profile(spec: RacquetSpec) -> HandleProfile:
    """The cone between wrap and face."""
    top = spec.handle_top_mm
    y = np.linspace(top - 1, top + COLLAR_MM, 40)
    fade = 0.5 - 0.5 * np.cos(np.pi * np.clip((y - top) / COLLAR_MM, 0, 1))
    neck = spec.handle_width_mm * 0.47
    slim = neck * 0.98
    if spec.construction == "strung":
        slim = spec.shaft_mm / 2 if spec.shape == "thin" else spec.tube_mm
    start, end = spec.handle_thickness_mm / 2 - 0.6, spec.face_thickness_mm / 2
    return HandleProfile(y, neck + (slim - neck) * fade, start + (min(end, start) - start) * fade)


def profile_plan(profile: HandleProfile) -> Polygon:
    """The outline of a handle, or a part of one, at its widest level."""
    right = np.column_stack([profile.half_width_mm, profile.y_mm])
    left = np.column_stack([-profile.half_width_mm, profile.y_mm])[::-1]
    return Polygon(np.concatenate([right, left]))


def _superellipse(cx: float, cy: float, a: float, b: float, power: float, n: int = 720) -> Polygon:
    angle = np.linspace(0, 2 * np.pi, n, endpoint=False)
    cos, sin = np.cos(angle), np.sin(angle)
    x = cx + a * np.sign(cos) * np.abs(cos) ** (2 / power)
    y = cy + b * np.sign(sin) * np.abs(sin) ** (2 / power)
    return Polygon(np.column_stack([x, y]))


def _rounded(shape: Polygon, radius_mm: float) -> Polygon:
    smooth: Polygon = shape.buffer(-radius_mm).buffer(radius_mm, quad_segs=SEGMENTS)
    return smooth


def _filleted(shape: Polygon, radius_mm: float) -> Polygon:
    filled: Polygon = shape.buffer(radius_mm, quad_segs=SEGMENTS).buffer(-radius_mm, quad_segs=SEGMENTS)
    return filled


def _paddle(spec: RacquetSpec) -> Polygon:
    """A face on a neck: what solid and perforated racquets have in common."""
    top, length, half = spec.handle_top_mm, spec.length_mm, spec.width_mm / 2
    neck = spec.handle_width_mm * 0.47
    throat = [(-neck, top - 10), (neck, top - 10)]
    if spec.shape in ("long", "square"):
        rise, radius = (70.0, 40.0) if spec.shape == "long" else (45.0, 36.0)
        taper = 0.95 if spec.shape == "long" else 0.98
        right = [(neck + 12, top + 8), (half, top + rise), (half * 0.995, top + rise + 80)]
        right.append((half * taper, length))
        left = [(-x, y) for x, y in reversed(right)]
        face = _rounded(Polygon(right + left), radius)
        # a slightly bowed top, as on most of these
        face = face.union(_superellipse(0, length - 90, half * taper, 90, 4.2)).buffer(0)
        face = _rounded(face, radius * 0.8)
        fillet = 24.0
    elif spec.shape == "wide":
        low = top + 14
        face = _superellipse(0, (length + low) / 2, half, (length - low) / 2, 2.7)
        fillet = 26.0
    elif spec.shape == "round":
        tall = half * 1.03
        face = _superellipse(0, length - tall, half, tall, 2.1)
        face = MultiPoint([*face.exterior.coords, (-neck - 6, top + 10), (neck + 6, top + 10)]).convex_hull
        fillet = 30.0
    else:  # teardrop
        tall = half * 1.12
        face = _superellipse(0, length - tall, half, tall, 2.15)
        face = MultiPoint([*face.exterior.coords, (-neck - 2, top + 12), (neck + 2, top + 12)]).convex_hull
        fillet = 60.0
    stem = Polygon([*throat, (neck, top + 40), (-neck, top + 40)])
    return _filleted(unary_union([face, stem]), fillet)


def _fit(head: Polygon, spec: RacquetSpec) -> Polygon:
    low_x, _, high_x, high_y = head.bounds
    top = spec.handle_top_mm
    stretch_y = (spec.length_mm - top) / (high_y - top)
    fitted: Polygon = affinity.scale(head, spec.width_mm / (high_x - low_x), stretch_y, origin=(0.0, top))
    return fitted


def _perforations(head: Polygon, spec: RacquetSpec) -> list[tuple[str, Polygon]]:
    found: list[tuple[str, Polygon]] = []
    start = spec.handle_top_mm + 75
    if spec.open_throat:
        start = spec.handle_top_mm + 118
        low = box(-200, spec.handle_top_mm + 26, 200, spec.handle_top_mm + 92)
        triangle = _rounded(head.buffer(-20, quad_segs=SEGMENTS).intersection(low), 6.0)
        found += [("throat", part) for part in polygons_of(triangle)[:1]]
    field = head.buffer(-34).intersection(box(-200, start, 200, 900))
    pitch, row, y = spec.hole_pitch_mm, 0, start + spec.hole_mm
    while y < spec.length_mm:
        shift = pitch / 2 if row % 2 else 0.0
        for step in range(-6, 7):
            centre = Point(step * pitch + shift, y)
            if field.contains(centre.buffer(spec.hole_mm / 2)):
                found.append(("hole", centre.buffer(spec.hole_mm / 2, quad_segs=24)))
        y, row = y + pitch * 0.84, row + 1
    return found


def _strung(spec: RacquetSpec) -> tuple[Polygon, list[tuple[str, Polygon]]]:
    half, tube, top = spec.width_mm / 2, spec.tube_mm, spec.handle_top_mm
    thin = spec.shape == "thin"
    tall = half * (1.18 if thin else 1.33)
    centre_y = spec.length_mm - tall
    hoop = _superellipse(0, centre_y, half, tall, 2.25 if thin else 2.1)
    bed = hoop.buffer(-tube, quad_segs=SEGMENTS)
    parts = [hoop.difference(bed)]
    if thin:
        parts.append(box(-spec.shaft_mm / 2, top - 10, spec.shaft_mm / 2, centre_y - tall + tube * 0.5))
    else:
        fork = top + 42
        for side in (-1.0, 1.0):
            parts.append(_arm(side, fork, hoop.buffer(-tube / 2), tube))
        parts.append(box(-tube, top - 10, tube, fork + 8))
    frame = unary_union(parts)
    frame = _filleted(frame, 6.0 if thin else 2.5)
    holes = sorted((Polygon(ring) for ring in frame.interiors), key=lambda ring: ring.area, reverse=True)
    kinds = ["string_bed", "throat"]
    found = [(kind, hole) for kind, hole in zip(kinds, holes, strict=False) if hole.area > 100]
    return Polygon(frame.exterior), found


def _arm(side: float, fork: float, centreline: Polygon, tube: float) -> Polygon:
    """One leg of an open throat: a cubic curve from the shaft onto the hoop."""
    points = np.asarray(centreline.exterior.coords)
    middle = points.mean(axis=0)
    angle = np.degrees(np.arctan2(points[:, 1] - middle[1], points[:, 0] - middle[0]))
    nearest = int(np.argmin(np.abs(angle + 60.0)))
    end = points[nearest]
    along = points[nearest + 1] - points[nearest - 1]
    along *= -np.sign(along[1]) / np.linalg.norm(along)
    start = np.array([tube / 2, fork - 6])
    knots = [start, start + np.array([0.0, 55.0]), end + along * 55.0, end]
    t = np.linspace(0, 1, 80)[:, None]
    curve = (1 - t) ** 3 * knots[0] + 3 * (1 - t) ** 2 * t * knots[1]
    curve = curve + 3 * (1 - t) * t**2 * knots[2] + t**3 * knots[3]
    arm: Polygon = LineString(curve * [side, 1.0]).buffer(tube / 2, quad_segs=SEGMENTS)
    return arm


def _strings(spec: RacquetSpec, openings: list[tuple[str, Polygon]]) -> list[LineString]:
    bed = next(ring for kind, ring in openings if kind == "string_bed").buffer(1.5)
    low_x, low_y, high_x, high_y = bed.bounds
    middle = (low_y + high_y) / 2
    pitch = spec.string_pitch_mm
    rows = int((high_y - low_y) / 2 / pitch)
    lines = [LineString([(i * pitch, low_y), (i * pitch, high_y)]) for i in np.arange(-12.5, 13)]
    lines += [
        LineString([(low_x, middle + i * pitch), (high_x, middle + i * pitch)])
        for i in range(-rows, rows + 1)
    ]
    cut = [line.intersection(bed) for line in lines]
    return [line for line in cut if isinstance(line, LineString) and line.length > 25]
