"""Painting solids into a picture of linear light, with exact silhouettes.

The silhouette of a solid is the union of all its projected layers, so its edge pixels are mixed
with the ground once and by their exact area; the layers only decide the colours within.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from tests.render.camera import Camera, Points
from tests.render.coverage import Image, Window, coverage, window_of
from tests.render.lights import Canvas, Source
from tests.render.solids import Layer, Pose, Solid, polygons_of, rings_of

NORMAL_BLUR_MM = 0.8  # smooths the steps between layers before slopes are taken
CAVITY_MM = 12.0  # a pixel so much lower than what surrounds it is nearly black
HOLLOW_REACH_MM = 9.0


@dataclass(frozen=True)
class Illumination:
    """Light field on a canvas (rows, cols, 3) and the sources it came from."""

    field: Image
    canvas: Canvas
    sources: tuple[Source, ...]


def project_layer(layer: Layer, pose: Pose, camera: Camera) -> list[Points]:
    """The layer's rings in pixels."""
    rings = []
    for ring in rings_of(layer.plan):
        placed = pose.place(np.column_stack([ring, np.full(len(ring), layer.z_mm)]))
        rings.append(camera.project(placed))
    return rings


def silhouette_px(rings_by_layer: list[list[Points]]) -> BaseGeometry:
    """Union of all layers in pixels: what a perfect eye sees, holes included."""
    shapes = []
    for rings in rings_by_layer:
        shells = [ring for ring in rings if _signed_area(ring) < 0]  # y runs down: shells turn over
        holes = [ring for ring in rings if _signed_area(ring) > 0]
        for shell in shells:
            polygon = Polygon(shell)
            own = [hole for hole in holes if polygon.contains(shapely.Point(hole[0]))]
            shapes.append(Polygon(shell, own).buffer(0))
    return shapely.union_all(shapes)


def _signed_area(ring: Points) -> float:
    x, y = ring[:, 0], ring[:, 1]
    inner = x[:-1] @ y[1:] - x[1:] @ y[:-1]
    return float(0.5 * (inner + x[-1] * y[0] - x[0] * y[-1]))


def paint_solid(picture: Image, camera: Camera, solid: Solid, light: Illumination) -> BaseGeometry:
    """Paint over ``picture`` in place; returns the silhouette in pixels."""
    frame = Window(0, 0, camera.width_px, camera.height_px)
    rings_by_layer = [project_layer(layer, solid.pose, camera) for layer in solid.layers]
    bodies = [r for r, layer in zip(rings_by_layer, solid.layers, strict=True) if not layer.skin and r]
    outline = silhouette_px(bodies)
    rings = _rings_px(outline)
    window = window_of(rings, 4).meet(frame)
    if window.width == 0 or window.height == 0:
        return outline
    whole = coverage(rings, window)
    colour, height = _surface(solid, rings_by_layer, window)
    shade, shine = _shading(height, whole, camera, solid, light)
    colour *= cv2.merge([shade, shade, shade])
    colour += cv2.merge([shine, shine, shine])
    colour *= light.canvas.expand(light.field, window)
    part = picture[window.rows_cols(frame)]
    colour -= part
    colour *= cv2.merge([whole, whole, whole])
    part += colour
    return outline


def _wall_colour(solid: Solid) -> tuple[float, float, float]:
    middle = [layer for layer in solid.layers if not layer.skin]
    return max(middle, key=lambda layer: layer.plan.area).colour


def _rings_px(shape: BaseGeometry) -> list[Points]:
    rings = []
    for polygon in polygons_of(shape):
        rings += [np.asarray(ring.coords)[:-1] for ring in (polygon.exterior, *polygon.interiors)]
    return rings


def _surface(solid: Solid, rings_by_layer: list[list[Points]], window: Window) -> tuple[Image, Image]:
    """Colour (rows, cols, 3) and height (rows, cols) of what is seen of the layers, from the top
    down: a lower layer only counts where those above leave something free."""
    seen = np.zeros((window.height, window.width, 4), np.float32)
    free = np.ones((window.height, window.width), np.float32)
    floor = min(layer.z_mm for layer in solid.layers)
    for layer, rings in zip(reversed(solid.layers), reversed(rings_by_layer), strict=True):
        inner = window_of(rings).meet(window) if rings else Window(0, 0, 0, 0)
        if inner.width == 0 or inner.height == 0:
            continue
        here = inner.rows_cols(window)
        alpha = coverage(rings, inner)
        alpha *= free[here]
        rows, cols = np.nonzero(alpha)
        share = alpha[rows, cols]
        place = (rows + here[0].start, cols + here[1].start)
        seen[place] += share[:, None] * np.array([*layer.colour, layer.z_mm - floor], np.float32)
        free[place] -= share
    # edge pixels are only partly covered: their colour is that of the covered part
    rows, cols = np.nonzero((free > 0) & (free < 0.99))
    seen[rows, cols] /= 1 - free[rows, cols][:, None]
    seen[free >= 0.99] = (*_wall_colour(solid), 0.0)
    return np.ascontiguousarray(seen[..., :3]), np.ascontiguousarray(seen[..., 3])


def _shading(
    height: Image, whole: Image, camera: Camera, solid: Solid, light: Illumination
) -> tuple[Image, Image]:
    """Factor on the colour and added highlight, each (rows, cols), against a level plane.

    Slopes come from the painted heights; weights are smoothed with the silhouette, so that the
    object's own edge is no slope.
    """
    mm = camera.mm_per_px()
    top = float(height.max())
    if top < 1.0:  # cards and paper: level
        return np.ones_like(height), np.zeros_like(height)
    sigma = max(NORMAL_BLUR_MM / mm, 0.6)
    inside = (whole > 0.5).astype(np.float32)
    weight = cv2.GaussianBlur(inside, (0, 0), sigma) + np.float32(1e-3)
    smooth = cv2.GaussianBlur(height * inside, (0, 0), sigma) / weight
    slope_x = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, ksize=3, scale=1 / (8 * mm))
    slope_y = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, ksize=3, scale=1 / (8 * mm))
    up = 1 / np.sqrt(1 + slope_x**2 + slope_y**2)
    view = camera.rotation[:2, :2]
    shade = np.zeros_like(height)
    shine = np.zeros_like(height)
    powers = [sum(source.colour) for source in light.sources]
    for index, source in enumerate(light.sources):
        share = np.float32(powers[index] / sum(powers))
        if index == 0:
            shade += share * (0.35 + 0.65 * up)
            continue
        toward = source.direction
        image_xy = view @ toward[:2]
        facing = up * (toward[2] - slope_x * image_xy[0] - slope_y * image_xy[1])
        shade += share * np.clip(facing / toward[2], 0.0, 1.7)
        half = np.array([image_xy[0], image_xy[1], toward[2] + 1.0])
        half /= np.linalg.norm(half)
        mirror = np.clip(up * (half[2] - slope_x * half[0] - slope_y * half[1]), 0, 1)
        shine += share * np.float32(solid.gloss) * (mirror**28 + _sheen(up, image_xy, mm))
    reach = max(int(2 * HOLLOW_REACH_MM / mm) | 1, 3)
    hollow = np.clip((cv2.blur(height * inside, (reach, reach)) - height) / CAVITY_MM, 0, 1)
    shade *= 1 - 0.85 * hollow
    return np.asarray(shade, np.float32), np.asarray(shine, np.float32)


def _sheen(up: Image, image_xy: Points, mm: float) -> Image:
    """Broad soft reflections that lie across level faces, as of a window frame."""
    rows, cols = up.shape
    along = np.arange(cols, dtype=np.float32)[None, :] * np.float32(image_xy[0] * mm / 45)
    along = along + np.arange(rows, dtype=np.float32)[:, None] * np.float32(image_xy[1] * mm / 45)
    band = np.float32(0.12) / (1 + np.exp(-5 * np.sin(along) + 3))
    return np.asarray(np.where(up > 0.97, band, 0), np.float32)


def paint_strings(
    picture: Image,
    camera: Camera,
    strings: BaseGeometry,
    racquet: Solid,
    colour: tuple[float, float, float],
    light: Illumination,
) -> None:
    """Strings at the racquet's middle level, under the upper half of its frame, in place."""
    frame = Window(0, 0, camera.width_px, camera.height_px)
    rings = project_layer(Layer(0.0, strings, colour), racquet.pose, camera)
    window = window_of(rings).meet(frame)
    if window.width == 0 or window.height == 0:
        return
    alpha = coverage(rings, window)
    upper = [layer for layer in racquet.layers if not layer.skin and layer.z_mm >= -1e-6]
    above = silhouette_px([project_layer(layer, racquet.pose, camera) for layer in upper])
    alpha *= 1 - coverage(_rings_px(above), window)
    lit = light.canvas.expand(light.field, window) * np.array(colour, np.float32) * np.float32(0.9)
    part = picture[window.rows_cols(frame)]
    part += alpha[..., None] * (lit - part)
