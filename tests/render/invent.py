"""Invented scenes: random racquets, cards, tables, lights and cameras within sensible bounds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from shapely import affinity
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from tests.render.camera import CameraSpec, build_camera
from tests.render.cards import CARD_KINDS, CardKind, CardSpec
from tests.render.extras import EXTRA_KINDS, REACH_MM, ExtraSpec
from tests.render.lights import LIGHT_KINDS, LightKind, LightSpec
from tests.render.plans import plan_of
from tests.render.prints import PATTERNS
from tests.render.racquet import Construction, Finish, Insides, RacquetSpec
from tests.render.scene import Laid, Scene
from tests.render.sensor import SensorSpec
from tests.render.tables import TABLE_KINDS, TableKind, TableSpec

SHAPES: dict[Construction, tuple[str, ...]] = {
    "solid": ("long", "square", "wide", "teardrop"),
    "perforated": ("round", "teardrop"),
    "strung": ("open", "thin"),
}
FACES = (
    "#2f3a4a",
    "#b3262e",
    "#1f56a8",
    "#e9e7e2",
    "#2f7d4f",
    "#e6c02f",
    "#5b3a8c",
    "#d8743a",
    "#3b3b3f",
    "#7fb7c9",
)
BANDS = ("#202225", "#1d2a44", "#dddcd8", "#7b2d8b", "#d96a1e", "#8d9196")
WRAPS = ("#26272a", "#d9d8d4", "#3a3330", "#7a2f35", "#2c3d5c")
STRINGS = ("#d9d6c8", "#2a2a2c", "#e3d13c", "#8f8f92")
EXTRA_COLOURS = ("#d8a62a", "#b9b9b4", "#e8d95a", "#3c9a63", "#c04b4b", "#4b6fc0")
SIZES_PX = {12: (4032, 3024), 3: (2016, 1512)}
FAILURES = ("no_card", "card_cut", "racquet_cut", "extreme_tilt", "blur", "second_racquet", "blank_table")


def random_racquet(
    rng: np.random.Generator, construction: Construction, shape: str | None = None
) -> RacquetSpec:
    """A racquet nobody makes, of realistic size and mass, with uneven insides."""
    kind = shape or str(rng.choice(SHAPES[construction]))
    finish = Finish(
        face=str(rng.choice(FACES)), pattern_colour=str(rng.choice(FACES)), band=str(rng.choice(BANDS)),
        wrap=str(rng.choice(WRAPS)), butt=str(rng.choice(BANDS)), pattern=str(rng.choice(PATTERNS)),
        gloss=float(rng.uniform(0.02, 0.4)), strings=str(rng.choice(STRINGS)),
    )  # fmt: skip
    insides = Insides(
        edge_share=float(rng.uniform(0.12, 0.26)), edge_width_mm=float(rng.uniform(7, 12)),
        head_gradient=float(rng.uniform(-0.25, 0.25)), edge_gradient=float(rng.uniform(-0.4, 0.4)),
        handle_gradient=float(rng.uniform(-0.4, 0.4)), butt_share=float(rng.uniform(0.07, 0.15)),
        patch_gain=float(rng.uniform(-0.15, 0.35)), patch_y_share=float(rng.uniform(0.35, 0.6)),
        patch_mm=float(rng.uniform(20, 45)), skin_share=float(rng.uniform(0.3, 0.9)),
        strings_g=float(rng.uniform(14, 18)) if construction == "strung" else 0.0,
    )  # fmt: skip

    def between(low: float, high: float, step: float = 0.5) -> float:
        return float(np.round(rng.uniform(low, high) / step) * step)

    if construction == "solid":
        long, wide = {"long": (417, 189), "square": (402, 199), "wide": (400, 202), "teardrop": (409, 196)}[
            kind
        ]
        length = between(long - 4, long + 3)
        return RacquetSpec(construction, kind, length, between(wide - 2.5, wide + 2.5), between(11.5, 16),
                           between(27.5, 30.5), between(32, 35.5), between(130, 140, 1), between(212, 244, 1),
                           between(0.572 * length, 0.592 * length, 1), band_mm=between(4, 9),
                           edge_radius_mm=between(2.5, 5), finish=finish, insides=insides)  # fmt: skip
    if construction == "perforated":
        length = between(450, 455)
        open_throat = bool(rng.random() < 0.6)
        return RacquetSpec(construction, kind, length, between(254, 260), between(36, 38), between(29, 32.5),
                           between(32, 34.5), between(120, 132, 1), between(345, 375, 1), between(252, 266, 1),
                           band_mm=between(9, 14), edge_radius_mm=between(4, 7), hole_mm=between(9, 13),
                           hole_pitch_mm=between(26, 32), open_throat=open_throat, finish=finish,
                           insides=replace(insides, edge_width_mm=14.0))  # fmt: skip
    if kind == "thin":
        return RacquetSpec(construction, kind, between(670, 676), between(208, 216), between(8.5, 10),
                           between(23, 25), between(24, 26), between(190, 205, 1), between(86, 94, 1),
                           between(290, 305, 1), butt_flare_mm=2.0, tube_mm=between(8, 9.5), shaft_mm=8.0,
                           string_pitch_mm=between(8.5, 10), finish=finish,
                           insides=replace(insides, strings_g=6.0))  # fmt: skip
    return RacquetSpec(construction, kind, between(682, 688), between(250, 264), between(21, 25), between(27.5, 30),
                       between(31, 33.5), between(180, 200, 1), between(295, 325, 1), between(318, 338, 1),
                       tube_mm=between(11, 13), string_pitch_mm=between(10, 13.5), finish=finish, insides=insides)  # fmt: skip


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


def random_scene(seed: int, construction: Construction | None = None, *, shape: str | None = None,
                 table: TableKind | None = None, light: LightKind | None = None, card: CardKind | None = None,
                 megapixels: float = 12, failure: str | None = None, extras: int | None = None,
                 orientation: int | None = None, exif: bool = True, cards: int = 1) -> Scene:  # fmt: skip
    """A whole random scene; what is given is kept, the rest is drawn from the seed.

    ``failure`` is one of FAILURES; ``cards`` may be 2 (the second near the racquet's other end).
    """
    rng = np.random.default_rng(seed)
    kind: Construction = (
        construction or ("solid", "perforated", "strung")[int(rng.choice(3, p=[0.6, 0.2, 0.2]))]
    )  # type: ignore[assignment]
    laid = Laid(random_racquet(rng, kind, shape), 0.0, 0.0, float(rng.uniform(0, 360)))
    chosen_card: CardKind = card or CARD_KINDS[int(rng.integers(len(CARD_KINDS)))]
    taken = footprint(laid)
    reference = _card_beside(rng, chosen_card, taken)
    taken = taken.union(_card_footprint(reference))
    placed = [reference]
    if cards > 1:
        placed.append(_opposite_card(rng, chosen_card, taken, reference))
        taken = taken.union(_card_footprint(placed[1]))
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


def _card_footprint(card: CardSpec) -> BaseGeometry:
    return affinity.translate(
        affinity.rotate(card.outline(), card.turn_deg, origin=(0, 0)), card.x_mm, card.y_mm
    )


def _card_beside(rng: np.random.Generator, kind: CardKind, taken: BaseGeometry) -> CardSpec:
    for _ in range(500):
        spot = beside(rng, taken, 27.0, 8.0, 40.0)
        card = CardSpec(kind, spot.x, spot.y, float(rng.uniform(0, 360)))
        if _card_footprint(card).distance(taken) >= 9.0:
            return card
    raise ValueError("no free place for the card")


def _opposite_card(
    rng: np.random.Generator, kind: CardKind, taken: BaseGeometry, first: CardSpec
) -> CardSpec:
    """The card farthest from the first among many places."""
    tried = [_card_beside(rng, kind, taken) for _ in range(24)]
    return max(tried, key=lambda card: np.hypot(card.x_mm - first.x_mm, card.y_mm - first.y_mm))


def framed(scene: Scene, margin: float = 0.035) -> Scene:
    """Aim at the middle of racquet and cards, and step back until both are in the picture."""
    shapes = [footprint(laid).buffer(6) for laid in scene.racquets] + [
        _card_footprint(c) for c in scene.cards if not c.on_face
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
        taken = footprint(first).union(_card_footprint(scene.cards[0]))
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
