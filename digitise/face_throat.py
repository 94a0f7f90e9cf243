"""The open throat of a thick perforated racquet: table seen between the face and the handle.

What is seen there looks like the table in deep shadow, is alike left and right, and is closed all round by
the racquet. A dark print passes none of these tests for sure, so all of them are asked.
"""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt
from shapely.geometry import Polygon

from digitise.band import even_ring, sample_light, smooth_ring
from digitise.camera import Camera
from digitise.contour import Contour
from digitise.holes import upper_side
from digitise.resting import Body
from digitise.silhouette import filled, largest_part
from digitise.table_model import Mask, log_colour
from digitise.tone import FloatArray

CELL_MM = 1.0
RIM_MM = 7.0
"""Least width of the arms beside the throat."""
AREA_MM2 = (800.0, 9000.0)
SHADOW_DEPTH, TINT_SHARE, RATIO_SPREAD = 1.2, 0.15, 0.06
"""How much darker (log) than the table the throat may be to be one spread away, and how its colour ratios
may differ: by their own spread and by this share of the darkening."""
LEAST_ALIKE, LEAST_SOLID = 0.7, 0.8
"""Overlap with its mirror image, and share of its convex hull, of an opening."""


def find_face_throat(
    pixels_rgb: npt.NDArray[np.uint8],
    camera: Camera,
    contour: Contour,
    body: Body,
    table_colour: FloatArray,
    span_mm: tuple[float, float],
) -> FloatArray | None:
    """Ring (n, 2) in the racquet's frame of the open throat between two distances from the butt, or None.

    ``table_colour`` (3,) is the log colour of the open table near by.
    """
    half = float(np.abs(contour.ring_mm[:, 0]).max())
    x_mm = np.arange(-half, half + CELL_MM / 2, CELL_MM)
    y_mm = np.arange(span_mm[1], span_mm[0], -CELL_MM)
    if len(y_mm) < 20:
        return None
    grid_x, grid_y = np.meshgrid(x_mm, y_mm)
    places = np.column_stack([grid_x.ravel(), grid_y.ravel()])
    px = upper_side(contour.resting, body).to_pixels(camera, places)
    light = sample_light(pixels_rgb, px).reshape(*grid_x.shape, 3)
    inside = _well_inside(contour.ring_mm, x_mm, y_mm)
    part = _on_axis(
        _like_table(np.asarray(cv2.GaussianBlur(light, (0, 0), 1.0), np.float32), table_colour) & inside
    )
    if part is None or not _is_opening(part):
        return None
    outlines, _ = cv2.findContours(part.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    cells = max(outlines, key=len).reshape(-1, 2).astype(float)
    ring = np.column_stack([x_mm[0] + cells[:, 0] * CELL_MM, y_mm[0] - cells[:, 1] * CELL_MM])
    grown = Polygon(ring).buffer(CELL_MM / 2)  # a contour runs through the outermost cells' centres
    return smooth_ring(even_ring(np.asarray(grown.exterior.coords)[:-1], 1.0), 1.5)


def _like_table(light: npt.NDArray[np.float32], table_colour: FloatArray) -> Mask:
    rest = log_colour(light) - table_colour
    darker = np.maximum(-rest[..., 0], 0)
    ratio2 = RATIO_SPREAD**2 + (TINT_SHARE * darker) ** 2
    distance2 = (
        (np.maximum(rest[..., 0], 0) / 0.1) ** 2
        + (darker / SHADOW_DEPTH) ** 2
        + (rest[..., 1] ** 2 + rest[..., 2] ** 2) / ratio2
    )
    return np.asarray(distance2 < 6.0)


def _well_inside(ring_mm: FloatArray, x_mm: FloatArray, y_mm: FloatArray) -> Mask:
    """Cells at least RIM_MM inside the outline."""
    cells = np.column_stack([ring_mm[:, 0] - x_mm[0], y_mm[0] - ring_mm[:, 1]]) / CELL_MM
    whole = np.zeros((len(y_mm) + 200, len(x_mm)), np.uint8)
    cv2.fillPoly(whole, [np.round(cells + np.array([0.0, 100.0])).astype(np.int32)], 1)
    depth = cv2.distanceTransform(np.pad(whole, ((0, 0), (1, 1))), cv2.DIST_L2, 5)[:, 1:-1]
    return np.asarray(depth[100:-100] * CELL_MM > RIM_MM)


def _on_axis(mask: Mask) -> Mask | None:
    """The largest connected part of ``mask``, filled, if it crosses the axis (the middle column)."""
    kernel = np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5)), np.uint8)
    calm = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, kernel) > 0
    part = filled(largest_part(np.asarray(calm)))
    return part if part[:, part.shape[1] // 2].any() else None


def _is_opening(part: Mask) -> bool:
    area = float(part.sum()) * CELL_MM**2
    if not AREA_MM2[0] < area < AREA_MM2[1]:
        return False
    alike = float((part & part[:, ::-1]).sum() / (part | part[:, ::-1]).sum())
    points = np.argwhere(part)[:, ::-1].astype(np.float32)
    hull_area = float(cv2.contourArea(cv2.convexHull(points))) * CELL_MM**2
    touches = bool(part[0].any() or part[-1].any())
    return alike > LEAST_ALIKE and area > LEAST_SOLID * hull_area and not touches
