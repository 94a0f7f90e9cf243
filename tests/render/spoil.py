"""Photos that must be refused: a good scene with one thing wrong."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from shapely.geometry.base import BaseGeometry

from tests.render.camera import CameraSpec, build_camera
from tests.render.invent_racquet import random_racquet
from tests.render.placing import card_footprint, footprint, framed
from tests.render.scene import Laid, Scene

FAILURES = ("no_card", "card_cut", "racquet_cut", "extreme_tilt", "blur", "second_racquet", "blank_table")


def spoiled(scene: Scene, failure: str, rng: np.random.Generator) -> Scene:
    """The same scene with one thing wrong, named as the truth's ``expect_failure``."""
    scene = replace(scene, expect_failure=failure)
    camera = scene.camera
    if failure == "no_card":
        return replace(scene, cards=())
    if failure == "blank_table":
        return replace(scene, cards=(), racquets=(), extras=())
    if failure == "blur":
        return replace(
            scene, sensor=replace(scene.sensor, blur_px=11.0 * max(camera.width_px, camera.height_px) / 4032)
        )
    if failure == "extreme_tilt":
        return framed(replace(scene, camera=replace(camera, tilt_deg=float(rng.uniform(30, 38)))), 0.05)
    if failure == "second_racquet":
        first = scene.racquets[0]
        taken = footprint(first).union(card_footprint(scene.cards[0]))
        second = _second_racquet(rng, first, taken)
        return framed(replace(scene, racquets=(first, second), extras=()))
    if failure == "card_cut":
        target = np.array([scene.cards[0].x_mm, scene.cards[0].y_mm])
        return replace(scene, camera=_pushed_out(camera, target))
    if failure == "racquet_cut":
        shape = footprint(scene.racquets[0])
        corner = np.array(
            max(
                shape.exterior.coords,
                key=lambda p: np.hypot(p[0] - scene.cards[0].x_mm, p[1] - scene.cards[0].y_mm),
            )
        )
        middle = np.array([scene.racquets[0].x_mm, scene.racquets[0].y_mm])
        return replace(scene, camera=_pushed_out(camera, corner + (middle - corner) * 0.25))
    raise ValueError(f"unknown failure {failure!r}: use one of {', '.join(FAILURES)}")


def _second_racquet(rng: np.random.Generator, first: Laid, taken: BaseGeometry) -> Laid:
    spec = random_racquet(rng, first.spec.construction)
    for away in np.arange(150, 700, 10.0):
        angle = np.radians(first.turn_deg + rng.uniform(-15, 15))
        other = Laid(
            spec,
            float(away * np.cos(angle)),
            float(away * np.sin(angle)),
            first.turn_deg + float(rng.uniform(-25, 25)),
        )
        if footprint(other).distance(taken) > 10:
            return other
    raise ValueError("no free place for a second racquet")


def _pushed_out(camera: CameraSpec, target_mm: np.ndarray[tuple[int], np.dtype[np.float64]]) -> CameraSpec:
    """Aim elsewhere until the target lies on the picture's border."""
    look = np.array(camera.look_at_mm)
    away = (look - target_mm) / max(float(np.linalg.norm(look - target_mm)), 1.0)
    for step in np.arange(0, 1500, 4.0):
        moved = look + away * step
        spec = replace(camera, look_at_mm=(float(moved[0]), float(moved[1])))
        pixel = build_camera(spec).project(np.array([[*target_mm, 0.0]]))[0]
        if not (0 < pixel[0] < spec.width_px and 0 < pixel[1] < spec.height_px):
            return spec
    return camera
