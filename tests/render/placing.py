"""Where things lie: free places beside a racquet, and a camera that sees them all."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from shapely import affinity
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from tests.render.camera import build_camera
from tests.render.cards import CardKind, CardSpec
from tests.render.plans import plan_of
from tests.render.scene import Laid, Scene


def footprint(laid: Laid) -> BaseGeometry:
    """Outline on the table, as if it lay level."""
    outline = plan_of(laid.spec).outline
    centred = affinity.translate(outline, 0, -laid.spec.length_mm / 2)
    turned = affinity.rotate(centred, laid.turn_deg, origin=(0, 0))
    return affinity.translate(turned, laid.x_mm, laid.y_mm)


def beside(
    rng: np.random.Generator, taken: BaseGeometry, reach_mm: float, gap_mm: float, far_mm: float
) -> Point:
    """A random place whose circle of reach keeps a gap to what is there, but not farther off than asked."""
    low_x, low_y, high_x, high_y = taken.bounds
    pad = reach_mm + far_mm
    for _ in range(400):
        place = Point(rng.uniform(low_x - pad, high_x + pad), rng.uniform(low_y - pad, high_y + pad))
        if reach_mm + gap_mm <= taken.distance(place) <= reach_mm + far_mm:
            return place
    raise ValueError("no free place beside the racquet")


def card_footprint(card: CardSpec) -> BaseGeometry:
    return affinity.translate(
        affinity.rotate(card.outline(), card.turn_deg, origin=(0, 0)), card.x_mm, card.y_mm
    )


def card_beside(rng: np.random.Generator, kind: CardKind, taken: BaseGeometry) -> CardSpec:
    for _ in range(500):
        spot = beside(rng, taken, 27.0, 8.0, 40.0)
        card = CardSpec(kind, spot.x, spot.y, float(rng.uniform(0, 360)))
        if card_footprint(card).distance(taken) >= 9.0:
            return card
    raise ValueError("no free place for the card")


def opposite_card(rng: np.random.Generator, kind: CardKind, taken: BaseGeometry, first: CardSpec) -> CardSpec:
    """The card farthest from the first among many places."""
    tried = [card_beside(rng, kind, taken) for _ in range(24)]
    return max(tried, key=lambda card: np.hypot(card.x_mm - first.x_mm, card.y_mm - first.y_mm))


def framed(scene: Scene, margin: float = 0.035) -> Scene:
    """Aim at the middle of racquet and cards, and step back until both are in the picture."""
    shapes = [footprint(laid).buffer(6) for laid in scene.racquets] + [
        card_footprint(c) for c in scene.cards if not c.on_face
    ]
    points = np.concatenate(
        [np.asarray(shape.envelope.intersection(shape.convex_hull).exterior.coords) for shape in shapes]
    )
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    lifted = np.column_stack([points, np.full(len(points), 20.0)])
    spec = replace(scene.camera, look_at_mm=(float(middle[0]), float(middle[1])))
    for _ in range(40):
        pixels = build_camera(spec).project(lifted)
        size = np.array([spec.width_px, spec.height_px])
        edge = margin * size.max()
        if ((pixels > edge) & (pixels < size - edge)).all():
            break
        spec = replace(spec, height_mm=spec.height_mm * 1.04)
    return replace(scene, camera=spec)
