"""Invented scenes: random racquets, cards, tables, lights and cameras within sensible bounds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.render.camera import CameraSpec
from tests.render.cards import CARD_KINDS, CardKind
from tests.render.extras import EXTRA_KINDS, REACH_MM, ExtraSpec
from tests.render.invent_racquet import random_racquet
from tests.render.lights import LIGHT_KINDS, LightKind, LightSpec
from tests.render.placing import beside, card_beside, card_footprint, footprint, framed, opposite_card
from tests.render.racquet import Construction
from tests.render.scene import Laid, Scene
from tests.render.sensor import SensorSpec
from tests.render.spoil import spoiled
from tests.render.tables import TABLE_KINDS, TableKind, TableSpec

EXTRA_COLOURS = ("#d8a62a", "#b9b9b4", "#e8d95a", "#3c9a63", "#c04b4b", "#4b6fc0")
CONSTRUCTIONS: tuple[Construction, ...] = ("solid", "perforated", "strung")
SIZES_PX = {12: (4032, 3024), 3: (2016, 1512)}


def random_scene(seed: int, construction: Construction | None = None, *, shape: str | None = None,
                 table: TableKind | None = None, light: LightKind | None = None, card: CardKind | None = None,
                 megapixels: float = 12, failure: str | None = None, extras: int | None = None,
                 orientation: int | None = None, exif: bool = True, cards: int = 1) -> Scene:  # fmt: skip
    """A whole random scene; what is given is kept, the rest is drawn from the seed.

    ``failure`` is one of FAILURES; ``cards`` may be 2 (the second near the racquet's other end).
    """
    rng = np.random.default_rng(seed)
    kind = construction or CONSTRUCTIONS[int(rng.choice(3, p=[0.6, 0.2, 0.2]))]
    laid = Laid(random_racquet(rng, kind, shape), 0.0, 0.0, float(rng.uniform(0, 360)))
    chosen_card: CardKind = card or CARD_KINDS[int(rng.integers(len(CARD_KINDS)))]
    taken = footprint(laid)
    reference = card_beside(rng, chosen_card, taken)
    taken = taken.union(card_footprint(reference))
    placed = [reference]
    if cards > 1:
        placed.append(opposite_card(rng, chosen_card, taken, reference))
        taken = taken.union(card_footprint(placed[1]))
    count = int(rng.choice([0, 0, 1, 2])) if extras is None else extras
    things = []
    for _ in range(count):
        thing = EXTRA_KINDS[int(rng.integers(len(EXTRA_KINDS)))]
        spot = beside(rng, taken, REACH_MM[thing], 12.0, 120.0)
        things.append(
            ExtraSpec(thing, spot.x, spot.y, float(rng.uniform(0, 360)), str(rng.choice(EXTRA_COLOURS)))
        )
        taken = taken.union(spot.buffer(REACH_MM[thing]))
    scene = Scene(
        seed=seed,
        camera=_camera(rng, megapixels, laid),
        racquets=(laid,),
        cards=tuple(placed),
        extras=tuple(things),
        table=TableSpec(table or TABLE_KINDS[int(rng.integers(len(TABLE_KINDS)))], seed,
                        float(rng.uniform(0, 360)), int(rng.integers(3))),
        light=LightSpec(light or LIGHT_KINDS[int(rng.integers(len(LIGHT_KINDS)))], float(rng.uniform(0, 360)),
                        seed, float(rng.uniform(0.25, 0.5)), float(rng.uniform(0.75, 1.1))),
        sensor=_sensor(rng, megapixels, orientation, exif),
    )  # fmt: skip
    scene = framed(scene)
    return spoiled(scene, failure, rng) if failure else scene


def of_any_make(scene: Scene) -> Scene:
    """The scene taken with another phone, of a racquet with another butt: as they differ from make to make.

    The recorded focal length is rounded to whole millimetres, the lens's middle lies up to 20 of 4032 pixels
    off the sensor's, about 1 % of distortion is left in the picture's corners, and butts' ends are rounded
    by 2 to 6 mm.
    """
    rng = np.random.default_rng((scene.seed, 0))
    before, laid = scene.camera, scene.racquets[0]
    shift = rng.uniform(-20, 20, 2) * max(before.width_px, before.height_px) / 4032
    camera = replace(
        before,
        f35_mm=before.f35_mm + float(rng.uniform(-0.5, 0.5)),
        k1=float(rng.uniform(-0.02, 0.015)),
        centre_offset_px=(float(shift[0]), float(shift[1])),
    )
    butt = replace(laid.spec, butt_radius_mm=float(rng.uniform(2, 6)))
    return replace(scene, camera=camera, racquets=(replace(laid, spec=butt), *scene.racquets[1:]))


def taken_again(scene: Scene, number: int) -> Scene:
    """The same racquet photographed anew by the same phone on the same table: it and the card lie elsewhere,
    and the camera is held otherwise. ``number`` 1, 2, ... gives a different photo each."""
    rng = np.random.default_rng((scene.seed, number))
    laid = Laid(scene.racquets[0].spec, 0.0, 0.0, float(rng.uniform(0, 360)))
    card = card_beside(rng, scene.cards[0].kind, footprint(laid))
    before = scene.camera
    held = _camera(rng, before.width_px * before.height_px / 1e6, laid)
    camera = replace(held, f35_mm=before.f35_mm, k1=before.k1, centre_offset_px=before.centre_offset_px)
    return framed(
        replace(
            scene,
            seed=scene.seed + 100_000 * number,
            camera=camera,
            racquets=(laid,),
            cards=(card,),
            extras=(),
        )
    )


def _sensor(rng: np.random.Generator, megapixels: float, orientation: int | None, exif: bool) -> SensorSpec:
    share = np.sqrt(megapixels / 12)  # a smaller picture is a reduced one: less blur, less noise
    turn = orientation or int(rng.choice([1, 1, 1, 3, 6, 8]))
    return SensorSpec(
        blur_px=float(max(rng.uniform(0.6, 1.0) * share, 0.5)),
        read_noise=float(rng.uniform(0.0008, 0.002) * share),
        shot_noise=float(rng.uniform(0.6e-4, 2.5e-4) * share),
        vignette=float(rng.uniform(0.0, 0.2)),
        jpeg_quality=int(rng.integers(86, 95)),
        exif=exif,
        orientation=turn if exif else 1,
    )


def _camera(rng: np.random.Generator, megapixels: float, laid: Laid) -> CameraSpec:
    if megapixels in SIZES_PX:
        wide, high = SIZES_PX[int(megapixels)]
    else:
        high = round(float(np.sqrt(megapixels * 1e6 * 3 / 4)))
        wide = round(high * 4 / 3)
    upright = bool(rng.random() < 0.5)
    # the long axis of the racquet roughly along the picture's long side, either way up
    along = (
        (0.0 if upright else 90.0) - laid.turn_deg + float(rng.uniform(-35, 35)) + 180 * int(rng.integers(2))
    )
    shift = rng.uniform(-12, 12, 2) * wide / 4032
    return CameraSpec(
        width_px=high if upright else wide,
        height_px=wide if upright else high,
        f35_mm=float(rng.choice([24.0, 25.0, 26.0, 26.0, 27.0, 28.0])),
        height_mm=float(rng.uniform(550, 900)),
        tilt_deg=float(rng.uniform(0, 6)),
        tilt_azimuth_deg=float(rng.uniform(0, 360)),
        roll_deg=along,
        k1=float(rng.choice([0.0, rng.uniform(-0.02, 0.01)])),
        centre_offset_px=(float(shift[0]), float(shift[1])),
    )
