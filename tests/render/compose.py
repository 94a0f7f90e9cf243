"""Scene to photo: table, shadows, solids, sensor; and the truth beside it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from tests.render.body import Rest, body_layers, resting_pose, settle
from tests.render.camera import Camera, Points, build_camera
from tests.render.cards import card_pose, card_solid
from tests.render.coverage import Image, Window
from tests.render.extras import extra_solid
from tests.render.lights import Canvas, Source, caster_of, irradiance, lit_share, sources_of
from tests.render.mass import MassTruth, mass_of
from tests.render.paint import Illumination, paint_solid, paint_strings
from tests.render.plans import Plan, plan_of
from tests.render.racquet import RacquetSpec
from tests.render.scene import Laid, Scene
from tests.render.sensor import encode, expose
from tests.render.solids import Layer, Pose, Solid
from tests.render.tables import TableSpec, table_map
from tests.render.tone import albedo
from tests.render.truth import truth_of

SHADOW_CELL_MM = 1.1
GRID_PX = 16  # spacing of exact table positions; straight in between


@dataclass(frozen=True)
class Made:
    """A racquet ready to lie down: shapes, layers, masses and resting pose."""

    spec: RacquetSpec
    plan: Plan
    layers: tuple[Layer, ...]
    mass: MassTruth
    rest: Rest


@dataclass(frozen=True)
class Rendered:
    """Upright pixels (rows, cols, 3) of stored values, and the truth as plain JSON data."""

    scene: Scene
    pixels: NDArray[np.uint8]
    truth: dict[str, Any]


@lru_cache(maxsize=64)
def make(spec: RacquetSpec) -> Made:
    """Build a racquet once for all photos of it."""
    plan = plan_of(spec)
    layers = body_layers(spec, plan)
    mass = mass_of(spec, plan)
    return Made(spec, plan, tuple(layers), mass, settle(layers, mass.balance_mm))


def racquet_solid(laid: Laid) -> tuple[Made, Solid]:
    """The racquet at rest where it was laid."""
    made = make(laid.spec)
    pose = resting_pose(made.rest, laid.spec, laid.x_mm, laid.y_mm, laid.turn_deg)
    return made, Solid(made.layers, pose, laid.spec.finish.gloss)


def light_picture(scene: Scene) -> tuple[Image, Camera, BaseGeometry | None]:
    """Linear light (rows, cols, 3) before the lens, and the first racquet's silhouette in px."""
    camera = build_camera(scene.camera)
    racquets = [racquet_solid(laid) for laid in scene.racquets]
    first: Pose | None = racquets[0][1].pose if racquets else None
    face = scene.racquets[0].spec.face_thickness_mm / 2 if racquets else 0.0
    cards = [card_solid(card, card_pose(card, first, face)) for card in scene.cards]
    flat = [c for c, card in zip(cards, scene.cards, strict=True) if not card.on_face]
    extras = [extra_solid(extra) for extra in scene.extras]
    strings = [_string_lines(made, solid) for made, solid in racquets]
    fields = _light_fields(
        scene,
        camera,
        [solid for _, solid in racquets],
        [*flat, *extras],
        [line for own in strings for line in own],
    )
    picture = _table(scene.table, camera)
    whole = Window(0, 0, camera.width_px, camera.height_px)
    picture *= fields["table"].canvas.expand(fields["table"].field, whole)
    for solid in [*extras, *flat]:
        paint_solid(picture, camera, solid, fields["shaded"])
    outline: BaseGeometry | None = None
    for index, (made, solid) in enumerate(racquets):
        seen = paint_solid(picture, camera, solid, fields["open"])
        outline = seen if index == 0 else outline
        if made.plan.strings:
            bed = unary_union([line.buffer(0.65, cap_style="flat") for line in made.plan.strings])
            paint_strings(picture, camera, bed, solid, albedo(made.spec.finish.strings), fields["open"])
    for solid in cards:
        if not any(solid is other for other in flat):
            paint_solid(picture, camera, solid, fields["open"])
    return picture, camera, outline


def render(scene: Scene) -> Rendered:
    """The photo of a scene and its truth."""
    picture, camera, outline = light_picture(scene)
    pixels = expose(picture, scene.sensor, scene.seed)
    made = [make(laid.spec) for laid in scene.racquets]
    return Rendered(scene, pixels, truth_of(scene, camera, made[0] if made else None, outline))


def write(rendered: Rendered, folder: Path, name: str) -> Path:
    """NAME.jpg with its tags and NAME.truth.json; returns the photo's path."""
    folder.mkdir(parents=True, exist_ok=True)
    photo = folder / f"{name}.jpg"
    photo.write_bytes(encode(rendered.pixels, rendered.scene.sensor, rendered.scene.camera.f35_mm))
    truth = json.dumps({"name": name, **rendered.truth})
    (folder / f"{name}.truth.json").write_text(truth + "\n")
    return photo


def _string_lines(made: Made, solid: Solid) -> list[Points]:
    lines = []
    for line in made.plan.strings:
        ends = np.asarray(line.coords)
        lines.append(solid.pose.place(np.column_stack([ends, np.zeros(len(ends))])))
    return lines


def _light_fields(
    scene: Scene, camera: Camera, tall: list[Solid], low: list[Solid], lines: list[Points]
) -> dict[str, Illumination]:
    """Light on the bare table, on low things (racquet's shadow only) and on the racquet."""
    step = max(2 * round(SHADOW_CELL_MM / 2 / camera.mm_per_px()), 1)  # even: lamps are drawn at half
    canvas = Canvas(Window(0, 0, camera.width_px, camera.height_px), step)
    middle = np.array(scene.camera.look_at_mm)
    sources = sources_of(scene.light, middle)
    width, height = canvas.size
    total = {name: np.zeros((height, width, 3), np.float32) for name in ("open", "shaded", "table")}
    high, near_table = [caster_of(solid) for solid in tall], [caster_of(solid) for solid in low]
    for index, source in enumerate(sources):
        plain = _unshadowed(source, camera, canvas, middle)[..., None] * np.array(source.colour, np.float32)
        behind = lit_share(source, high, lines if index else [], camera, canvas)[..., None]
        near = lit_share(source, near_table, [], camera, canvas)[..., None]
        total["open"] += plain
        total["shaded"] += plain * behind
        total["table"] += plain * behind * near
    fade = _vignette(scene.sensor.vignette, width, height)
    for field in total.values():
        field *= fade
    return {name: Illumination(field, canvas, tuple(sources)) for name, field in total.items()}


def _unshadowed(source: Source, camera: Camera, canvas: Canvas, middle: Points) -> Image:
    width, height = canvas.size
    x, y = np.linspace(0, camera.width_px - 1, 40), np.linspace(0, camera.height_px - 1, 30)
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    coarse = irradiance(source, camera.on_plane(grid), middle).reshape(30, 40).astype(np.float32)
    return np.asarray(cv2.resize(coarse, (width, height), interpolation=cv2.INTER_CUBIC), np.float32)


def _vignette(loss: float, width: int, height: int) -> Image:
    """The lens takes light from the corners; done with the light, where it is cheap."""
    y = np.linspace(-1, 1, height, dtype=np.float32)[:, None, None] * height / np.hypot(width, height)
    x = np.linspace(-1, 1, width, dtype=np.float32)[None, :, None] * width / np.hypot(width, height)
    return np.asarray(1 - np.float32(loss) * (x**2 + y**2), np.float32)


def _table(spec: TableSpec, camera: Camera) -> Image:
    """Reflectance of the bare table in every pixel."""
    columns = np.arange(-1, camera.width_px // GRID_PX + 3) * GRID_PX
    rows = np.arange(-1, camera.height_px // GRID_PX + 3) * GRID_PX
    pixels = np.stack(np.meshgrid(columns, rows), axis=-1).reshape(-1, 2).astype(float)
    angle = np.radians(spec.turn_deg)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    places = camera.on_plane(pixels) @ turn
    low, high = places.min(axis=0), places.max(axis=0)
    extent = high - low
    cell = max(camera.mm_per_px(), float(np.sqrt(extent.prod() / 8e6)))
    size = np.ceil(extent / cell).astype(int) + 2
    texture = table_map(spec, int(size[1]), int(size[0]), cell)
    where = ((places - low) / cell).astype(np.float32).reshape(len(rows), len(columns), 2)
    affine = np.array([[1 / GRID_PX, 0, 1.0], [0, 1 / GRID_PX, 1.0]])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    lookup = cv2.warpAffine(where, affine, (camera.width_px, camera.height_px), flags=flags)
    second: Any = None  # one map holds x and y; the stubs know no such case
    seen = cv2.remap(texture, lookup, second, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(seen, np.float32)
