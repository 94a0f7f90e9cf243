"""Light on the table: windows, lamps and the room, as points that light and that cast shadows.

A light is a set of points; the light of one point falls off with the square of distance and
with the cosine to the table's normal. Shadows are the projections of every solid's layers from
every point, so penumbras are as wide as the light is large.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np

from tests.render.camera import Camera, Points
from tests.render.coverage import Image, Window
from tests.render.solids import Solid, rings_of

LightKind = Literal["window", "lamp", "two_lamps", "patch", "sun"]
LIGHT_KINDS: tuple[LightKind, ...] = ("window", "lamp", "two_lamps", "patch")
"""Those that are drawn at random: the sun is asked for."""
SUN_AWAY_MM, SUN_MM = 6000.0, 55.0  # half a degree wide
SHIFT_BITS = 4  # sub-pixel bits of the shadow polygons


@dataclass(frozen=True)
class LightSpec:
    """``azimuth_deg``: where the main light stands, seen from the picture's middle."""

    kind: LightKind = "window"
    azimuth_deg: float = 40.0
    seed: int = 1
    room: float = 0.35
    exposure: float = 0.95


@dataclass(frozen=True)
class Source:
    """Points (n, 3) in mm of one light with its colour times strength at the scene's middle."""

    points_mm: Points
    colour: tuple[float, float, float]
    blur_mm: float

    @property
    def direction(self) -> Points:
        """Unit vector (3,) from the table's middle to the light."""
        middle = self.points_mm.mean(axis=0)
        unit: Points = middle / np.linalg.norm(middle)
        return unit


def sources_of(spec: LightSpec, middle_mm: Points) -> list[Source]:
    """The room first, then the lights; strengths add up to the exposure at the middle (x, y)."""
    rng = np.random.default_rng(spec.seed)
    shift = np.array([middle_mm[0], middle_mm[1], 0.0])
    room = _dome(rng, 40) + shift
    main = (1 - spec.room) * spec.exposure
    warm, cool = (1.05, 1.0, 0.9), (0.96, 1.0, 1.05)
    soft = Source(room, _scaled((1.0, 1.0, 1.0), spec.room * spec.exposure), 2.5)
    angle = np.radians(spec.azimuth_deg)
    if spec.kind == "window":
        points = _panel(rng, angle, rng.uniform(1300, 2100), rng.uniform(900, 1500), 1100, 1000, 6, 5)
        return [soft, Source(points + shift, _scaled(cool, main), 2.0)]
    if spec.kind == "two_lamps":
        second = angle + rng.uniform(1.4, 2.6)
        first = _panel(rng, angle, rng.uniform(450, 900), rng.uniform(700, 1100), 90, 90, 4, 4)
        other = _panel(rng, second, rng.uniform(500, 1000), rng.uniform(700, 1100), 120, 120, 4, 4)
        share = rng.uniform(0.45, 0.65)
        return [
            soft,
            Source(first + shift, _scaled(warm, main * share), 0.6),
            Source(other + shift, _scaled(cool, main * (1 - share)), 0.6),
        ]
    if spec.kind == "sun":
        height, sky = np.radians(rng.uniform(35, 65)), rng.uniform(0.15, 0.35)
        away, up = SUN_AWAY_MM * np.cos(height), SUN_AWAY_MM * np.sin(height)
        points = _panel(rng, angle, away, up, SUN_MM, SUN_MM, 4, 4)
        blue, gold = (0.9, 0.97, 1.1), (1.04, 1.0, 0.93)
        return [
            Source(room, _scaled(blue, sky * spec.exposure), 2.5),
            Source(points + shift, _scaled(gold, (1 - sky) * spec.exposure), 0.15),
        ]
    near = 380 if spec.kind == "patch" else 750
    high = 420 if spec.kind == "patch" else 850
    points = _panel(rng, angle, near * rng.uniform(0.8, 1.3), high * rng.uniform(0.9, 1.3), 80, 80, 4, 4)
    return [soft, Source(points + shift, _scaled(warm, main), 0.6)]


def _scaled(colour: tuple[float, float, float], factor: float) -> tuple[float, float, float]:
    return (colour[0] * factor, colour[1] * factor, colour[2] * factor)


def _dome(rng: np.random.Generator, count: int) -> Points:
    """Points far out on a hemisphere, spread by the cosine (Malley's method on a spiral)."""
    k = np.arange(count) + 0.5
    radius = np.sqrt(k / count)
    angle = k * np.pi * (3 - np.sqrt(5)) + rng.uniform(0, 6.28)
    up = np.sqrt(np.maximum(1 - radius**2, 0.03))
    return 6000 * np.column_stack([radius * np.cos(angle), radius * np.sin(angle), up])


def _panel(
    rng: np.random.Generator,
    angle: float,
    away: float,
    up: float,
    wide: float,
    high: float,
    columns: int,
    rows: int,
) -> Points:
    """Jittered grid on an upright rectangle that faces the middle."""
    u = (np.arange(columns)[None, :] + rng.uniform(0, 1, (rows, columns))) / columns - 0.5
    v = (np.arange(rows)[:, None] + rng.uniform(0, 1, (rows, columns))) / rows - 0.5
    outward = np.array([np.cos(angle), np.sin(angle), 0.0])
    along = np.array([-np.sin(angle), np.cos(angle), 0.0])
    middle = outward * away + np.array([0, 0, up])
    points = middle + u.reshape(-1, 1) * wide * along + v.reshape(-1, 1) * high * np.array([0, 0, 1.0])
    return np.asarray(points, float)


def irradiance(source: Source, table_mm: Points, middle_mm: Points) -> Points:
    """Unshadowed light (n,) at table points (n, 2), 1 at the middle."""

    def at(places: Points) -> Points:
        total = np.zeros(len(places))
        for point in source.points_mm:
            square = ((places - point[:2]) ** 2).sum(axis=1) + point[2] ** 2
            total += point[2] / square**1.5
        return total

    relative: Points = at(table_mm) / at(middle_mm[None, :])
    return relative


@dataclass(frozen=True)
class Canvas:
    """A reduced picture for smooth things: cell (0, 0) covers the first step × step pixels."""

    window: Window  # whole picture, in full pixels
    step: int

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in cells."""
        return -(-self.window.width // self.step), -(-self.window.height // self.step)

    def to_cells(self, pixels: Points) -> Points:
        """Cell coordinates of pixel coordinates."""
        return (pixels + 0.5) / self.step - 0.5

    def expand(self, cells: Image, part: Window) -> Image:
        """Bilinear values at the pixels of a window."""
        scale, start = 1 / self.step, self.to_cells(np.array([[part.x, part.y]], float))[0]
        affine = np.array([[scale, 0, start[0]], [0, scale, start[1]]])
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        grown = cv2.warpAffine(
            cells, affine, (part.width, part.height), flags=flags, borderMode=cv2.BORDER_REPLICATE
        )
        return np.asarray(grown, np.float32)


@dataclass(frozen=True)
class Caster:
    """World points (n, 3) of some levels' rings, and where in them each level's rings lie."""

    points_mm: Points
    levels: tuple[tuple[tuple[int, int], ...], ...]


def lit_share(
    source: Source, casters: Sequence[Caster], lines: Sequence[Points], camera: Camera, canvas: Canvas
) -> Image:
    """Share of a source that reaches each cell of the table (rows, cols), 0 .. 1.

    ``lines`` are world polylines (n, 3) of thin things, the strings.
    """
    size = canvas.size
    small = canvas.step % 2 == 0 and source.blur_mm < 1
    if small:  # a lamp's shadow is sharp: draw it finer, then average
        canvas = Canvas(canvas.window, canvas.step // 2)
    width, height = canvas.size
    shadow = np.zeros((height, width), np.float32)
    thick = max(round(1.3 / (camera.mm_per_px() * canvas.step)), 1)
    for point in source.points_mm:
        mask = np.zeros((height, width), np.uint8)
        for caster in casters:
            flat = _cells_of_shadow(caster.points_mm, point, camera, canvas)
            for level in caster.levels:
                cv2.fillPoly(mask, [flat[a:b] for a, b in level], 255, cv2.LINE_8, SHIFT_BITS)
        for line in lines:
            flat = _cells_of_shadow(line, point, camera, canvas)
            cv2.polylines(mask, [flat], False, 255, thick, cv2.LINE_AA, SHIFT_BITS)
        cv2.accumulate(mask, shadow)
    shadow /= 255.0 * len(source.points_mm)
    sigma = source.blur_mm / (camera.mm_per_px() * canvas.step)
    if sigma > 0.2:
        shadow = np.asarray(cv2.GaussianBlur(shadow, (0, 0), sigma), np.float32)
    if small:
        shadow = np.asarray(cv2.resize(shadow, size, interpolation=cv2.INTER_AREA), np.float32)
    return np.clip(1 - shadow, 0, 1)


def _cells_of_shadow(
    world: Points, light: Points, camera: Camera, canvas: Canvas
) -> np.ndarray[tuple[int, int], np.dtype[np.int32]]:
    reach = light[2] / (light[2] - world[:, 2:3])
    on_table = light[:2] + (world[:, :2] - light[:2]) * reach
    pixels = camera.project(np.column_stack([on_table, np.zeros(len(on_table))]))
    cells = canvas.to_cells(pixels) * (1 << SHIFT_BITS)
    return np.round(np.clip(cells, -(2**20), 2**20)).astype(np.int32)


def caster_of(solid: Solid) -> Caster:
    """What of a solid casts its shadow: every other level is plenty."""
    body = [layer for layer in solid.layers if not layer.skin and not layer.plan.is_empty]
    chosen = sorted({round(k) for k in np.linspace(0, len(body) - 1, max(3, len(body) // 2))})
    points: list[Points] = []
    cuts: list[tuple[tuple[int, int], ...]] = []
    count = 0
    for index in chosen:
        level = []
        for ring in rings_of(body[index].plan.simplify(0.15), 30.0):
            placed = np.column_stack([ring, np.full(len(ring), body[index].z_mm)])
            points.append(solid.pose.place(placed))
            level.append((count, count + len(ring)))
            count += len(ring)
        cuts.append(tuple(level))
    return Caster(np.concatenate(points), tuple(cuts))
