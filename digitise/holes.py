"""The holes of a perforated face: round, alike, and edged at the face's upper side.

A deep hole is seen through its upper rim; so circles are sought on the plane of the upper side, and have
there the size and place they have in the middle plane.
"""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree

from digitise.camera import Camera
from digitise.contour import Contour
from digitise.hole_rims import refined, rim_shares
from digitise.linear import LinearPhoto
from digitise.remap import remap_linear
from digitise.resting import Body, Resting
from digitise.tone import FloatArray

CELL_MM = 0.5
RADII_MM = (3.5, 9.0)
"""Hole radii looked for; rules and practice end at 13 mm across, beach faces have larger ones."""
RIM_CLEAR_MM = 6.0
"""Holes keep this far from the outline."""
LEAST_CONTRAST = 0.25
"""Log of light by which a hole is darker than the face round it, on most of its rim."""
PATTERN_MM, SAME_PLACE_MM = 45.0, 4.0
"""Largest distance of neighbours in the pattern, and how exactly a pattern repeats."""
CLEAR_RIM, SOME_RIM = 0.6, 0.2
"""Share of its rim that must show of a hole that the pattern wants, and of one that is dark inside, too."""
ROUNDS = 3
"""How often what was found is asked again what it wants beside it."""
NEIGHBOUR = 1.5
"""Holes of a pattern have neighbours within so many of its usual distances."""
AS_DARK = 0.3
"""Log of light by which a hole over a dark print may be lighter inside than most others."""
ALIKE = 0.15
"""Radii differ by less than this share between the holes of one face."""


def find_holes(
    linear: LinearPhoto,
    camera: Camera,
    contour: Contour,
    body: Body,
    handle_top_mm: float,
) -> tuple[FloatArray, ...]:
    """Rings (n, 2) of the round holes in the racquet's frame."""
    top = upper_side(contour.resting, body)
    high, half = float(contour.ring_mm[:, 1].max()), float(np.abs(contour.ring_mm[:, 0]).max())
    x_mm = np.arange(-half, half + CELL_MM, CELL_MM)
    y_mm = np.arange(high, handle_top_mm, -CELL_MM)
    grid_x, grid_y = np.meshgrid(x_mm, y_mm)
    red, green, blue = cv2.split(linear.at_apart(top.to_pixels_apart(camera, grid_x, grid_y)))
    dark = np.log(np.maximum(np.maximum(red, green), blue) + 0.01)
    circles = _circles(dark)
    centres = np.column_stack([x_mm[0] + circles[:, 0] * CELL_MM, y_mm[0] - circles[:, 1] * CELL_MM])
    radii = circles[:, 2] * CELL_MM
    inside = _depth(contour.ring_mm, centres) > radii + RIM_CLEAR_MM
    good = inside & _is_dark(dark, circles)
    if good.sum() < 4:
        return ()
    typical = float(np.median(radii[good]))
    good &= np.abs(radii / typical - 1) < ALIKE
    # Rough circles may follow the shade inside a rounded rim: what the pattern wants is sought as it is.
    rough, (_, typical) = typical, refined(linear, camera, top, centres[good], typical)
    turn = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    circle = np.column_stack([np.cos(turn), np.sin(turn)])
    found = centres[good]
    for _ in range(ROUNDS):
        missing = _missing(found, typical)
        missing = missing[_depth(contour.ring_mm, missing) > typical + RIM_CLEAR_MM]
        if len(missing) == 0:
            break
        deep = _are_deep(dark, _cells(missing, x_mm, y_mm), _cells(centres[good], x_mm, y_mm), typical)
        shares = rim_shares(linear, camera, top, missing, typical)
        seen = (shares > CLEAR_RIM) | (deep & (shares > SOME_RIM))
        found = np.vstack([found, missing[seen]])
        if not seen.any():
            break
    # One drill makes all holes: their common radius is better known than any single one.
    patterned = found[_has_neighbours(found) & _on_pattern(found, typical)]
    if len(patterned) == 0:
        return ()
    rims, radius = refined(linear, camera, top, patterned, rough)
    return tuple(centre + radius * circle for centre in rims)


def _has_neighbours(holes_mm: FloatArray) -> npt.NDArray[np.bool_]:
    """Which holes (n,) have two others near by, as all of a pattern have; a throat's corner has not."""
    apart = np.linalg.norm(holes_mm[:, None, :] - holes_mm[None, :, :], axis=2)
    apart[np.diag_indices(len(apart))] = np.inf
    pitch = float(np.median(apart.min(axis=1)))
    return np.asarray((apart < NEIGHBOUR * pitch).sum(axis=1) >= 2)


def _on_pattern(holes_mm: FloatArray, radius_mm: float) -> npt.NDArray[np.bool_]:
    """Which holes (n,) lie a step of the pattern from two others; all where it has no steps in common.

    A dark corner of the throat may have neighbours, but stands nowhere in their pattern.
    """
    common = _common_steps(holes_mm, radius_mm)
    if len(common) == 0:
        return np.ones(len(holes_mm), bool)
    steps = holes_mm[None, :, None, :] - holes_mm[:, None, None, :]
    regular = (np.linalg.norm(steps - common, axis=3) < SAME_PLACE_MM).any(axis=2)
    return np.asarray(regular.sum(axis=1) >= 2)


def _cells(places_mm: FloatArray, x_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
    """Column and row (n, 2) of places (n, 2) on the grid."""
    return np.column_stack([places_mm[:, 0] - x_mm[0], y_mm[0] - places_mm[:, 1]]) / CELL_MM


def _common_steps(holes_mm: FloatArray, radius_mm: float) -> FloatArray:
    """Steps (n, 2) from hole to near hole that the pattern repeats."""
    steps = (holes_mm[None, :, :] - holes_mm[:, None, :]).reshape(-1, 2)
    near = steps[(np.linalg.norm(steps, axis=1) > radius_mm) & (np.linalg.norm(steps, axis=1) < PATTERN_MM)]
    votes = _at_one_place(near)
    common: list[FloatArray] = []
    new = votes > max(2, 0.2 * len(holes_mm))
    for index in np.argsort(-votes):
        if new[index]:
            common.append(near[index])
            new &= np.hypot(*(near - near[index]).T) > 2 * SAME_PLACE_MM
    return np.array(common).reshape(-1, 2)


def _missing(holes_mm: FloatArray, radius_mm: float) -> FloatArray:
    """Places (n, 2) where the pattern of the holes found wants one more.

    Holes are drilled in a regular pattern and alike left and right; over a dark print some do not show.
    """
    common = _common_steps(holes_mm, radius_mm)
    if len(common) == 0:
        return np.zeros((0, 2))
    wanted = np.vstack([(holes_mm[:, None, :] + common).reshape(-1, 2), holes_mm * [-1.0, 1.0]])
    supporters = _at_one_place(wanted)
    missing: list[FloatArray] = []
    free = (supporters >= 3) & (cKDTree(holes_mm).query(wanted)[0] > 1.6 * radius_mm)
    for index in np.argsort(-supporters):
        if free[index]:
            missing.append(wanted[index])
            free &= np.hypot(*(wanted - wanted[index]).T) > 1.6 * radius_mm
    return np.array(missing).reshape(-1, 2)


def _at_one_place(points_mm: FloatArray) -> npt.NDArray[np.int64]:
    """How many of the points (n, 2) lie within SAME_PLACE_MM of each, itself among them."""
    if len(points_mm) == 0:
        return np.zeros(0, np.int64)
    return np.asarray(cKDTree(points_mm).query_ball_point(points_mm, SAME_PLACE_MM, return_length=True))


def _are_deep(
    dark: npt.NDArray[np.float32], cells: FloatArray, known_cells: FloatArray, radius_mm: float
) -> npt.NDArray[np.bool_]:
    """Whether each place is about as dark inside as the holes already known."""
    if len(cells) == 0:
        return np.zeros(0, bool)
    turn = np.linspace(0, 2 * np.pi, 16, endpoint=False)
    ways = 0.5 * radius_mm / CELL_MM * np.column_stack([np.cos(turn), np.sin(turn)])

    def depth(places: FloatArray) -> FloatArray:
        where = (places[:, None, :] + ways).astype(np.float32)
        inside = remap_linear(dark, where)
        return np.asarray(np.median(inside, axis=1), float)

    return np.asarray(depth(cells) < np.quantile(depth(known_cells), 0.8) + AS_DARK)


def upper_side(resting: Resting, body: Body) -> Resting:
    """The plane of the face's upper side."""
    return Resting(resting.axis, resting.height_mm + body.face_thickness_mm / 2, resting.slope)


def _circles(dark: npt.NDArray[np.float32]) -> FloatArray:
    """Circles (n, 3) of column, row and radius, in cells, in a picture of the logarithm of light."""
    low, high = np.quantile(dark, [0.01, 0.99])
    picture = np.clip((dark - low) / max(high - low, 1e-6) * 255, 0, 255).astype(np.uint8)
    found = cv2.HoughCircles(
        cv2.GaussianBlur(picture, (0, 0), 1.0),
        cv2.HOUGH_GRADIENT,
        dp=1,
        minDist=2 * RADII_MM[0] / CELL_MM,
        param1=60,
        param2=11,
        minRadius=int(RADII_MM[0] / CELL_MM),
        maxRadius=int(RADII_MM[1] / CELL_MM),
    )
    return np.zeros((0, 3)) if found is None else np.asarray(found[0], float).reshape(-1, 3)


def _is_dark(dark: npt.NDArray[np.float32], circles: FloatArray) -> npt.NDArray[np.bool_]:
    """Whether each circle's inside is darker than what lies just outside it, nearly all round."""
    turn = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    ways = np.column_stack([np.cos(turn), np.sin(turn)])
    rings = []
    for share in (0.6, 1.35):
        where = (circles[:, None, :2] + share * circles[:, None, 2:] * ways).astype(np.float32)
        rings.append(remap_linear(dark, where))
    return np.asarray(np.mean(rings[1] - rings[0] > LEAST_CONTRAST, axis=1) > 0.7)


def _depth(ring_mm: FloatArray, points: FloatArray) -> FloatArray:
    """Depth (n,) of points inside a ring, mm, negative outside."""
    polygon = ring_mm.astype(np.float32).reshape(-1, 1, 2)
    return np.array([cv2.pointPolygonTest(polygon, (float(x), float(y)), True) for x, y in points])
