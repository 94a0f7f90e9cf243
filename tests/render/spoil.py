"""Photos that must be refused: a good scene with one thing wrong."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from shapely.geometry.base import BaseGeometry

from tests.render.camera import CameraSpec, Points, build_camera
from tests.render.invent_racquet import random_racquet
from tests.render.placing import card_beside, card_footprint, footprint, framed
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
        return _pushed_out(scene, rng, cut_card=True)
    if failure == "racquet_cut":
        return _pushed_out(scene, rng, cut_card=False)
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


def _pushed_out(scene: Scene, rng: np.random.Generator, *, cut_card: bool) -> Scene:
    """Aim elsewhere until half the card, or a quarter of the racquet, is out of the picture while
    the other one is still wholly in it; the card is laid elsewhere until that is possible."""
    racquet = footprint(scene.racquets[0])
    outline = np.asarray(racquet.buffer(6).exterior.coords)
    for _ in range(40):
        card = np.asarray(card_footprint(scene.cards[0]).exterior.coords)
        cut, keep, share = (card, outline, 0.5) if cut_card else (outline, card, 0.25)
        for angle in rng.permutation(np.radians(np.arange(0, 360, 22.5))):
            camera = _first_cut(scene.camera, float(angle), cut, share)
            if _share_out(camera, keep, margin_px=0.01 * camera.width_px) == 0:
                return replace(scene, camera=camera, extras=())
        scene = replace(scene, cards=(card_beside(rng, scene.cards[0].kind, racquet),))
    raise ValueError("no view cuts the one and keeps the other")


def _first_cut(camera: CameraSpec, angle: float, cut_mm: Points, share: float) -> CameraSpec:
    look = np.array(camera.look_at_mm)
    for step in np.arange(0, 1500, 6.0):
        moved = look + step * np.array([np.cos(angle), np.sin(angle)])
        shifted = replace(camera, look_at_mm=(float(moved[0]), float(moved[1])))
        if _share_out(shifted, cut_mm) >= share:
            return shifted
    return camera


def _share_out(camera: CameraSpec, points_mm: Points, margin_px: float = 0.0) -> float:
    """Share of table points (n, 2) that the picture, less a margin, does not hold."""
    pixels = build_camera(camera).project(np.column_stack([points_mm, np.full(len(points_mm), 10.0)]))
    size = np.array([camera.width_px, camera.height_px])
    inside = ((pixels > margin_px) & (pixels < size - 1 - margin_px)).all(axis=1)
    return float(1 - inside.mean())
