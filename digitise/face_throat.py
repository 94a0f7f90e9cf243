"""The open throat of a thick perforated racquet: table seen between the face and the handle.

What is seen there looks like the table in deep shadow, is alike left and right, and is closed all round by
the racquet. A dark print passes none of these tests for sure, so all of them are asked.
"""

from __future__ import annotations

from collections.abc import Iterator

import cv2
import numpy as np
import numpy.typing as npt
from shapely.affinity import scale
from shapely.geometry import Polygon

from digitise.camera import Camera
from digitise.contour import Contour
from digitise.holes import upper_side
from digitise.hoop import disc, filled
from digitise.linear import LinearPhoto
from digitise.resting import Body, Resting
from digitise.table_model import Mask
from digitise.throat_rim import Rim, throat_rim
from digitise.tone import FloatArray, log_colour

CELL_MM = 1.0
RIM_MM = 7.0
"""Least width of the arms beside the throat."""
AREA_MM2 = (800.0, 9000.0)
SHADOW_DEPTH = 1.2
TINTS = ((0.15, 0.06), (0.3, 0.1))
"""How much darker (log) than the table the throat may be to be one spread away, and how its colour ratios may
differ: by a share of the darkening, and by their own spread. Where nothing is found so, bright walls may have
tinted the shadow."""
LINE_CELLS = 5
"""Width of a printed mat's lines, which look like no table."""
SHARP_STEP = 0.35
"""Step of log light within 2 mm that cuts off a dark face that looks like table in shadow."""
CLEAR = 0.45
"""A rim that shows so well is the opening's; else all that may be one is tried, and the best is taken."""
LEAST_ALIKE, SAME = 0.7, 0.97
"""Overlap of an opening with its mirror image, and of two that are one."""


def find_face_throat(
    linear: LinearPhoto,
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
    upper = upper_side(contour.resting, body)
    light = linear.at_apart(upper.to_pixels_apart(camera, grid_x, grid_y))
    inside = _well_inside(contour.ring_mm, x_mm, y_mm)
    calm = np.asarray(cv2.GaussianBlur(light, (0, 0), 1.0), np.float32)
    lower = Resting(upper.axis, upper.height_mm - body.face_thickness_mm, upper.slope)
    best: Rim | None = None
    tried: list[Polygon] = []
    for part in likely_parts(calm, table_colour, inside):
        outlines, _ = cv2.findContours(part.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        cells = max(outlines, key=len).reshape(-1, 2).astype(float)
        ring = np.column_stack([x_mm[0] + cells[:, 0] * CELL_MM, y_mm[0] - cells[:, 1] * CELL_MM])
        if len(ring) < 4:
            continue
        grown = Polygon(ring).buffer(CELL_MM / 2)  # a contour runs through the outermost cells' centres
        whole = with_walls(grown, camera, upper, lower)
        if not _is_opening(whole, span_mm) or any(_overlap(whole, other) > SAME for other in tried):
            continue
        tried.append(whole)
        rim = throat_rim(linear, camera, upper, lower, whole)
        if best is None or rim.shown > best.shown:
            best = rim
        if best.shown > CLEAR:
            break
    return None if best is None else best.ring_mm


def with_walls(seen: Polygon, camera: Camera, upper: Resting, lower: Resting) -> Polygon:
    """The opening at the upper side of which ``seen`` is the part through which one looks down to the table.

    What limits the view is the upper rim, or the lower end of a wall that is turned to the camera: the same
    rim one thickness lower. So the opening is all that is seen, together with where that lies if it is seen
    at the lower rim's height. Openings are convex.
    """
    ring = np.asarray(seen.exterior.coords)[:-1]
    below = Polygon(lower.from_pixels(camera, upper.to_pixels(camera, ring)))
    return seen.union(below).convex_hull


def likely_parts(light: npt.NDArray[np.float32], table_colour: FloatArray, inside: Mask) -> Iterator[Mask]:
    """What may be the opening, likeliest first: what looks like table; that with the table's lines filled in;
    that cut up along sharp edges."""
    rest = log_colour(light) - table_colour
    alike = [_like_table(rest, tint) & inside for tint in TINTS]
    lines = np.ones((LINE_CELLS, LINE_CELLS), np.uint8)
    filled_in = [cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, lines) > 0 for mask in alike]
    dark = np.log(light.sum(axis=2) + 0.01)
    across = np.ones((3, 3), np.uint8)
    sharp = cv2.dilate(dark, across) - cv2.erode(dark, across) > SHARP_STEP
    for mask in [*alike, *filled_in, *(mask & ~sharp for mask in alike)]:
        yield from _on_axis(np.asarray(mask))


def _like_table(rest: FloatArray, tint: tuple[float, float]) -> Mask:
    """Where log colour less the table's (rows, cols, 3) is that of table in some shadow, of such a tint."""
    darker = np.maximum(-rest[..., 0], 0)
    share, spread = tint
    ratio2 = spread**2 + (share * darker) ** 2
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


def _on_axis(mask: Mask) -> Iterator[Mask]:
    """The connected parts of ``mask`` that cross the axis (the middle column), filled, the largest first."""
    kernel = disc(5)
    calm = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, kernel)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(calm)
    area = stats[:, cv2.CC_STAT_AREA]
    for label in sorted(set(labels[:, labels.shape[1] // 2].tolist()) - {0}, key=lambda label: -area[label]):
        yield filled(np.asarray(labels == label))


def _is_opening(whole: Polygon, span_mm: tuple[float, float]) -> bool:
    mirrored = scale(whole, xfact=-1.0, origin=(0.0, 0.0))
    alike = _overlap(whole, mirrored)
    _, low, _, high = whole.bounds
    touches = low < span_mm[0] or high > span_mm[1]
    return AREA_MM2[0] < whole.area < AREA_MM2[1] and alike > LEAST_ALIKE and not touches


def _overlap(one: Polygon, other: Polygon) -> float:
    """Share that both cover of what either covers."""
    return float(one.intersection(other).area / one.union(other).area)
