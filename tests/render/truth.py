"""The truth of a scene as plain JSON data: measures, masses, camera, card and outlines."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np
from shapely.geometry import LinearRing, Polygon
from shapely.geometry.base import BaseGeometry

from tests.render.body import resting_pose
from tests.render.camera import Camera, Points
from tests.render.cards import CardSpec, card_pose
from tests.render.mass import MassTruth
from tests.render.scene import Scene
from tests.render.solids import Pose, polygons_of

if TYPE_CHECKING:
    from tests.render.compose import Made

FAMILY = {"solid": "paddle", "perforated": "perforated", "strung": "strung"}


def truth_of(scene: Scene, camera: Camera, made: Made | None, seen_px: BaseGeometry | None) -> dict[str, Any]:
    """Everything about a scene that a reader of its photo could be asked for."""
    truth: dict[str, Any] = {
        "seed": scene.seed,
        "expect_failure": scene.expect_failure or False,
        "conventions": "world mm, z up, table z = 0; upright image: top-left pixel's centre is (0, 0)",
        "image": {
            "width": camera.width_px,
            "height": camera.height_px,
            "exif": scene.sensor.exif,
            "exif_orientation": scene.sensor.orientation,
            "jpeg_quality": scene.sensor.jpeg_quality,
        },
        "scene": {
            "table": scene.table.kind,
            "light": scene.light.kind,
            "extras": [extra.kind for extra in scene.extras],
        },
        "camera": _camera(camera, scene.camera.f35_mm),
    }
    pose = None
    if made is not None:
        laid = scene.racquets[0]
        pose = resting_pose(made.rest, laid.spec, laid.x_mm, laid.y_mm, laid.turn_deg)
        truth["racquet"] = _racquet(made, pose, camera, seen_px)
    face = made.spec.face_thickness_mm / 2 if made is not None else 0.0
    cards = [_card(card, card_pose(card, pose, face), camera) for card in scene.cards]
    if cards:
        truth["card"] = cards[0]
        truth["other_cards"] = cards[1:]
    return truth


def _rounded(points: Points, digits: int) -> list[list[float]]:
    return [[round(float(value), digits) for value in point] for point in points]


def _camera(camera: Camera, f35_mm: float) -> dict[str, Any]:
    return {
        "fx": camera.focal_px, "fy": camera.focal_px, "cx": camera.cx_px, "cy": camera.cy_px,
        "k1": camera.k1, "f35_mm": f35_mm,
        "R": camera.rotation.tolist(), "t": camera.translation_mm.tolist(),
        "centre": camera.centre_mm.tolist(),
        "height_mm": float(camera.centre_mm[2]), "tilt_deg": camera.tilt_deg,
    }  # fmt: skip


def ring_points(ring: BaseGeometry, start_near: tuple[float, float] = (0.0, 0.0)) -> Points:
    """Points (n, 2) of a polygon's outer ring, counter-clockwise, thinned to 0.005 mm."""
    outer = polygons_of(Polygon(ring.exterior).simplify(0.005))[0].exterior
    line = LinearRing(outer)
    points = np.asarray(line.coords)[:-1]
    first = int(np.argmin(((points - start_near) ** 2).sum(axis=1)))
    return np.roll(points, -first, axis=0)


def on_sensor(points_mm: Points, pose: Pose, camera: Camera) -> Points:
    """Pixels of points in the racquet's middle plane."""
    return camera.project(pose.place(np.column_stack([points_mm, np.zeros(len(points_mm))])))


def _racquet(made: Made, pose: Pose, camera: Camera, seen_px: BaseGeometry | None) -> dict[str, Any]:
    spec, plan = made.spec, made.plan
    outline = ring_points(plan.outline)
    low_x, low_y, high_x, high_y = plan.outline.bounds
    openings = [(kind, ring_points(ring)) for kind, ring in plan.openings]
    area = plan.outline.area - sum(ring.area for _, ring in plan.openings)
    whole = polygons_of(seen_px)[0] if seen_px is not None and polygons_of(seen_px) else None
    return {
        "family": FAMILY[spec.construction],
        "shape": spec.shape,
        "overall_length_mm": high_y - low_y,
        "max_width_mm": high_x - low_x,
        "handle_top_y_mm": spec.handle_top_mm,
        "face_thickness_mm": spec.face_thickness_mm,
        "handle_thickness_mm": spec.handle_thickness_mm,
        "butt_thickness_mm": spec.handle_thickness_mm + 2 * spec.butt_flare_mm,
        "handle_width_mm": spec.handle_width_mm,
        "outline_mm": _rounded(outline, 4),
        "open_rings_mm": [{"kind": kind, "ring": _rounded(ring, 4)} for kind, ring in openings],
        "area_mm2": area,
        "mass": _mass(made.mass),
        "insides": asdict(spec.insides),
        "pose": {
            "R": pose.rotation.tolist(),
            "t": pose.shift_mm.tolist(),
            "rests_on_y_mm": list(made.rest.contact_y_mm),
            "slope_deg": made.rest.slope_deg,
        },
        "outline_px": _rounded(on_sensor(outline, pose, camera), 3),
        "open_rings_px": [{"kind": k, "ring": _rounded(on_sensor(r, pose, camera), 3)} for k, r in openings],
        "visible_outline_px": _rounded(np.asarray(whole.exterior.coords)[:-1], 2)
        if whole is not None
        else [],
        "notes": "outline_px: the mid-plane outline projected; visible_outline_px: what a perfect eye sees",
    }


def _mass(mass: MassTruth) -> dict[str, Any]:
    return {
        "weight_g": mass.weight_g,
        "balance_mm": mass.balance_mm,
        "swing_weight_kgcm2": mass.swing_50_kgcm2,
        "swing_weight_axis_mm": 50.0,
        "swing_weight_100_kgcm2": mass.swing_100_kgcm2,
        "twist_weight_kgcm2": mass.twist_kgcm2,
        "recoil_weight_kgcm2": mass.recoil_kgcm2,
        "spin_weight_kgcm2": mass.spin_kgcm2,
        "parts_g": mass.parts_g,
    }


def _card(card: CardSpec, pose: Pose, camera: Camera) -> dict[str, Any]:
    corners = card.corners_mm()
    top = np.full((4, 1), card.thickness_mm)
    pixels = camera.project(pose.place(np.hstack([corners, top])))
    size = np.array([camera.width_px, camera.height_px])
    return {
        "kind": card.kind,
        "width_mm": card.width_mm,
        "height_mm": card.height_mm,
        "corner_radius_mm": card.radius_mm,
        "thickness_mm": card.thickness_mm,
        "on": "face" if card.on_face else "table",
        "pose": {"R": pose.rotation.tolist(), "t": pose.shift_mm.tolist()},
        "corners_mm": corners.tolist(),
        "corners_px": _rounded(pixels, 4),
        "in_frame": bool(((pixels >= 0) & (pixels <= size - 1)).all()),
        "notes": "corners_px: sharp corners (straight sides prolonged) of the top face",
    }
