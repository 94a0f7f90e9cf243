"""A racquet's body as layers, and how it comes to rest on the table."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from tests.render.camera import Points, turn_about
from tests.render.plans import HandleProfile, Plan, collar_profile
from tests.render.prints import print_on
from tests.render.racquet import RacquetSpec
from tests.render.solids import Layer, Pose, as_multi, flat_pose
from tests.render.tone import Colour, albedo

GRIP_POWER = 3.2  # of the grip's section |x/a|^p + |z/b|^p = 1: between an octagon and an oval
TUBE_POWER = 2.3
GROOVE_MM = 0.45  # depth of the wrap's grooves


@dataclass(frozen=True)
class Rest:
    """Where it touches the table (y, mm) and how far its axis leans (degrees, tip down < 0)."""

    contact_y_mm: tuple[float, float]
    slope_deg: float
    lift_mm: float


def body_layers(spec: RacquetSpec, plan: Plan) -> list[Layer]:
    """All layers of head, collar and handle, lowest first."""
    layers = _head_layers(spec, plan) + _collar_layers(spec) + _handle_layers(spec, plan.handle)
    return sorted(layers, key=lambda layer: layer.z_mm)


def edge_inset_mm(spec: RacquetSpec, z_mm: float) -> float:
    """How far the edge lies inside the widest outline at height z of the head."""
    half, height = spec.face_thickness_mm / 2, abs(z_mm)
    if spec.construction == "strung":
        wide = spec.tube_mm / 2
        round_part = 1 - min(height / half, 1.0) ** TUBE_POWER
        return float(min(wide * (1 - round_part ** (1 / TUBE_POWER)), wide - 0.4))
    radius = min(spec.edge_radius_mm, half)
    over = max(height - (half - radius), 0.0)
    return radius - float(np.sqrt(max(radius**2 - over**2, 0.0)))


def head_levels(spec: RacquetSpec) -> Points:
    """Heights of the head's layers: dense where the edge is round."""
    half = spec.face_thickness_mm / 2
    if spec.construction == "strung":
        upper = half * np.sin(np.radians([0, 12, 24, 36, 48, 60, 71, 81, 90]))
    else:
        radius = min(spec.edge_radius_mm, half)
        straight = np.linspace(0, half - radius, max(2, round((half - radius) / 2.2) + 1))
        upper = np.concatenate([straight, half - radius + radius * np.sin(np.radians([20, 38, 54, 70, 90]))])
    return np.unique(np.concatenate([-upper, upper]))


def _head_layers(spec: RacquetSpec, plan: Plan) -> list[Layer]:
    band = albedo(spec.finish.band)
    holes = unary_union([ring for _, ring in plan.openings])
    solid = spec.construction != "strung"
    layers = []
    for z in head_levels(spec):
        inset = edge_inset_mm(spec, float(z))
        # holes of a perforated face are drilled: they do not round off; a tube does all round
        level = plan.head.buffer(-inset).difference(holes) if solid else plan.pierced().buffer(-inset)
        if not level.is_empty:
            layers.append(Layer(float(z), level, band))
    top = spec.face_thickness_mm / 2
    for step, (shape, colour) in enumerate(print_on(spec, plan)):
        layers.append(Layer(top + 1e-3 * (step + 1), shape, albedo(colour), skin=True))
    return layers


def _grip_levels(half_mm: float) -> Points:
    steep = np.sin(np.radians(np.arange(0, 60, 6)))
    shares = np.linspace(0.92, 0.25, 16)  # of the half width: even steps where the section is flat
    upper = half_mm * np.concatenate([steep, (1 - shares**GRIP_POWER) ** (1 / GRIP_POWER), [1.0]])
    return np.unique(np.round(np.concatenate([-upper, upper]), 6))


def _section(half_width: Points, half_thickness: Points, z_mm: float) -> Points:
    """Half width at height z of superelliptic sections; 0 where z is above them."""
    share = np.clip(1 - (np.minimum(abs(z_mm) / half_thickness, 1.0)) ** GRIP_POWER, 0.0, 1.0)
    narrowed: Points = half_width * share ** (1 / GRIP_POWER)
    # the very top of a section is a flat a few mm wide, so that it can be painted and stood on
    flat = np.where(abs(z_mm) <= half_thickness * 1.0001, half_width * 0.25, 0.0)
    return np.maximum(narrowed, flat)


def _grooved(y: Points, spec: RacquetSpec, shift_mm: float) -> Points:
    """Depth (mm) of the wrap's grooves seen at one side."""
    turns = (y - 30.0 - shift_mm) / spec.wrap_pitch_mm
    away = np.abs(turns - np.round(turns)) * spec.wrap_pitch_mm
    on_wrap = (y > 27) & (y < spec.handle_top_mm - 3)
    depth: Points = np.where(on_wrap, GROOVE_MM * np.exp(-((away / 1.3) ** 2)), 0.0)
    return depth


def _handle_layers(spec: RacquetSpec, profile: HandleProfile) -> list[Layer]:
    wrap, butt = albedo(spec.finish.wrap), albedo(spec.finish.butt)
    y = profile.y_mm
    skew = 5.0
    layers = []
    flared = _grip_levels(float(profile.half_thickness_mm.max()))
    plain = _grip_levels(spec.handle_thickness_mm / 2)
    for z in np.unique(np.concatenate([flared[flared >= 0][::2], flared[flared < 0][::4], plain])):
        half = _section(profile.half_width_mm, profile.half_thickness_mm, float(z))
        if not (half > 0.05).any():
            continue
        right = np.maximum(half - _grooved(y, spec, skew) * (half > 1), 0.0)
        left = np.maximum(half - _grooved(y, spec, -skew) * (half > 1), 0.0)
        plan = _runs(y, left, right)
        layers.append(Layer(float(z), plan, wrap))
        if z > -1:
            lines = _groove_lines(spec, skew).intersection(plan)
            dark = (wrap[0] * 0.45, wrap[1] * 0.45, wrap[2] * 0.45)
            layers.append(Layer(float(z), lines, dark, skin=True))
        layers.append(Layer(float(z), plan.intersection(box(-99, -1, 99, 25)), butt, skin=True))
    return layers


def _groove_lines(spec: RacquetSpec, skew: float) -> BaseGeometry:
    half = spec.handle_width_mm / 2
    count = int((spec.handle_top_mm - 33) / spec.wrap_pitch_mm)
    strips = []
    for turn in range(count + 1):
        y = 30.0 + turn * spec.wrap_pitch_mm
        low, high = (-half, y - skew), (half, y + skew)
        strips.append(Polygon([low, high, (high[0], high[1] + 1.3), (low[0], low[1] + 1.3)]))
    return as_multi(strips)


def _runs(y: Points, left: Points, right: Points) -> BaseGeometry:
    """Polygons where the section has a width: more than one when z cuts only flare and top."""
    wide = (left + right) > 0.1
    edges = np.flatnonzero(np.diff(np.concatenate([[0], wide.astype(np.int8), [0]])))
    shapes = []
    for first, last in edges.reshape(-1, 2):
        if last - first >= 2:
            part = slice(first, last)
            a = np.column_stack([right[part], y[part]])
            b = np.column_stack([-left[part], y[part]])[::-1]
            shapes.append(Polygon(np.concatenate([a, b])))
    return as_multi(shapes)


def _collar_layers(spec: RacquetSpec) -> list[Layer]:
    """The cone between wrap and face."""
    colour: Colour = albedo(spec.finish.butt)
    profile = collar_profile(spec)
    y, width, thickness = profile.y_mm, profile.half_width_mm, profile.half_thickness_mm
    layers = []
    for z in _grip_levels(float(thickness.max())):
        half = _section(width, thickness, float(z))
        if (half > 0.05).any():
            layers.append(Layer(float(z), _runs(y, half, half), colour))
    return layers


def settle(layers: list[Layer], balance_mm: float) -> Rest:
    """Rest on the edge of the lower side profile's convex hull that lies under the balance point."""
    points = []
    for layer in layers:
        if not layer.skin and layer.z_mm <= 0 and not layer.plan.is_empty:
            _, low, _, high = layer.plan.bounds
            points += [(low, layer.z_mm), (high, layer.z_mm)]
    hull = lower_hull(points)
    for (y1, z1), (y2, z2) in pairwise(hull):
        if y1 <= balance_mm <= y2:
            slope = float(np.arctan2(z2 - z1, y2 - y1))
            lift = -(z1 * np.cos(slope) - y1 * np.sin(slope))
            return Rest((y1, y2), -float(np.degrees(slope)), float(lift))
    raise ValueError("the balance point lies outside the racquet")


def lower_hull(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Lower convex hull of (y, z) points, from left to right (Andrew's monotone chain)."""
    hull: list[tuple[float, float]] = []
    for y, z in sorted(set(points)):
        while len(hull) >= 2:
            (y1, z1), (y2, z2) = hull[-2], hull[-1]
            if (y2 - y1) * (z - z1) - (z2 - z1) * (y - y1) > 0:
                break
            hull.pop()
        hull.append((y, z))
    return hull


def resting_pose(rest: Rest, spec: RacquetSpec, x_mm: float, y_mm: float, turn_deg: float) -> Pose:
    """World pose with the middle of the racquet's length at (x, y) of the table."""
    lean = turn_about(np.array([1.0, 0.0, 0.0]), rest.slope_deg)
    yaw = flat_pose(0, 0, turn_deg).rotation
    rotation = yaw @ lean
    middle = rotation @ np.array([0.0, spec.length_mm / 2, 0.0])
    shift = np.array([x_mm - middle[0], y_mm - middle[1], rest.lift_mm])
    return Pose(rotation, shift)
