"""The rim of a deep opening, from a rough ring: the ring whose upper and lower rim both lie on edges.

The wall of an opening is drilled or cut straight through, so that one ring has two rims, one face thickness
apart. The upper one is seen all round; the lower one where the wall is turned to the camera, and there the
two edges lie apart as far as the camera's pose says. Shade, prints and lines of the table make edges too, but
not two of them at just that distance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d
from shapely.geometry import Polygon
from shapely.geometry.polygon import orient

from digitise.band import ACROSS_MM, Band, even_ring, mirrored, ring_normals
from digitise.band_filters import blurred
from digitise.best_line import best_closed_line, best_mirrored_line
from digitise.camera import Camera
from digitise.edge import edge_strength
from digitise.linear import LinearPhoto
from digitise.resting import Resting
from digitise.tone import FloatArray, Image, log_colour

REACH_MM, SLACK_MM, ROUNDS = 8.0, 4.0, 4
"""How far about the ring so far its rim is looked for, and how far off it costs a third of an edge. A rough
ring cuts sharp corners off by up to a centimetre, and each round goes farther into them."""
WALL_MM = 0.4
"""A wall seen narrower than this has no lower edge of its own."""
EDGE_WORTH, STEP_COST, MAX_STEPS = 3.0, 0.3, 4
"""Worth of a full edge, and the cost of moving one column over between rows, of which it may be MAX_STEPS."""
WINDOW_MM, CALM_ROWS, SMOOTH_ROWS = 0.5, 1.0, 1.0
EXACT_ROUNDS, EXACT_REACH_MM, EXACT_STEP_COST = 2, 0.75, 0.3
"""A strong edge counts alike to half a millimetre on either side; just where it is, the light's slope tells,
looked for so near that nothing else comes in."""
SHOWN_REACH_MM, ON_RIM_MM, NEARLY_NONE = 3.0, 0.6, 0.1
"""How far about a rim, and how near to it, its edge is judged, and the share of it that may show none."""
SLOPE_MM, SLOPE_ROWS, LEAST_SLOPE = 0.25, 1.5, 0.002
"""Width over which the slope is taken, across and along, and a slope that is nothing but noise."""


@dataclass(frozen=True, eq=False)
class Rim:
    """``ring_mm`` (n, 2), about 1 mm apart, and ``shown``, 0 to 1: how strong its edges are nearly all round,
    those of the upper rim or of the lower one, whichever is weaker."""

    ring_mm: FloatArray
    shown: float


def throat_rim(
    linear: LinearPhoto,
    camera: Camera,
    upper: Resting,
    lower: Resting,
    rough: Polygon,
) -> Rim:
    """The rim of the opening that is roughly ``rough``.

    ``upper`` and ``lower`` are the planes of its two rims.
    """
    ring = _from_lowest(rough)
    for _ in range(ROUNDS):
        bands = [_band(linear, camera, plane, ring, REACH_MM) for plane in (upper, lower)]
        shows = _wall_shows(camera, upper, lower, bands[0])
        away_mm = bands[0].offset_mm
        gain = EDGE_WORTH * (_edges(bands[0]) + shows * _edges(bands[1])) - (away_mm / SLACK_MM) ** 2
        line = best_mirrored_line((gain + mirrored(gain)) / 2, STEP_COST, MAX_STEPS)
        ring = _moved(bands[0], gaussian_filter1d(away_mm[line], SMOOTH_ROWS, mode="wrap"))
    for _ in range(EXACT_ROUNDS):
        bands = [_band(linear, camera, plane, ring, EXACT_REACH_MM) for plane in (upper, lower)]
        shows = _wall_shows(camera, upper, lower, bands[0])
        slopes = _slopes(bands[0]) + shows * _slopes(bands[1])
        away_mm = _peaks(slopes, bands[0].offset_mm)
        ring = _moved(bands[0], gaussian_filter1d(away_mm, SMOOTH_ROWS, mode="wrap"))
    return Rim(ring, _shown(linear, camera, (upper, lower), ring))


def _shown(
    linear: LinearPhoto,
    camera: Camera,
    planes: tuple[Resting, Resting],
    ring_mm: FloatArray,
) -> float:
    bands = [_band(linear, camera, plane, ring_mm, SHOWN_REACH_MM) for plane in planes]
    on_rim = np.abs(bands[0].offset_mm) < ON_RIM_MM
    upper, lower = (_edges(band)[:, on_rim].max(axis=1) for band in bands)
    seen = _wall_shows(camera, *planes, bands[0])[:, 0] > 0
    return min(float(np.quantile(edges, NEARLY_NONE)) for edges in (upper, lower[seen]) if len(edges))


def _wall_shows(camera: Camera, upper: Resting, lower: Resting, band: Band) -> FloatArray:
    """1 for each place (n, 1) of the ring whose wall is turned to the camera: its lower rim is seen."""
    below = upper.from_pixels(camera, lower.to_pixels(camera, band.base_mm))
    return np.asarray(np.sum((band.base_mm - below) * band.normal, axis=1)[:, None] > WALL_MM, float)


def _slopes(band: Band) -> FloatArray:
    """How steep light is across each place (n, k), 1 for the steepest of its row."""
    light = blurred(band.light, SLOPE_ROWS).astype(float)
    size = np.linalg.norm(gaussian_filter1d(light, SLOPE_MM / ACROSS_MM, axis=1, order=1), axis=2)
    return np.asarray(size / (size.max(axis=1, keepdims=True) + LEAST_SLOPE))


def _peaks(slopes: FloatArray, offset_mm: FloatArray) -> FloatArray:
    """Offsets (n,) of the line along the steepest slopes (n, k), between columns by a parabola."""
    line = best_closed_line(slopes.astype(np.float32), EXACT_STEP_COST, 1)
    line = np.clip(line, 1, len(offset_mm) - 2)
    rows = np.arange(len(slopes))
    before, here, after = (slopes[rows, line + k] for k in (-1, 0, 1))
    bend = np.minimum(before - 2 * here + after, -1e-6)
    return np.asarray(offset_mm[line] + ACROSS_MM * np.clip(0.5 * (before - after) / bend, -0.5, 0.5))


def _band(
    linear: LinearPhoto,
    camera: Camera,
    plane: Resting,
    ring_mm: FloatArray,
    reach_mm: float,
) -> Band:
    """The photo along the ring (n, 2) as it is seen if it lies in ``plane``."""
    normal = ring_normals(ring_mm)
    offset_mm = np.arange(-reach_mm, reach_mm + ACROSS_MM / 2, ACROSS_MM)
    places = ring_mm[:, None, :] + offset_mm[:, None] * normal[:, None, :]
    light = linear.at(plane.to_pixels(camera, places.reshape(-1, 2)))
    return Band(light.reshape(*places.shape[:2], 3), ring_mm, normal, offset_mm)


def _edges(band: Band) -> Image:
    """Strength (n, k) of the edges across the band."""
    colour = blurred(log_colour(band.light), CALM_ROWS)
    return edge_strength(colour, np.ones(len(band.offset_mm), bool), WINDOW_MM)


def _moved(band: Band, away_mm: FloatArray) -> FloatArray:
    """The band's ring moved by ``away_mm`` (n,), anew about 1 mm apart; unmoved if nothing whole is left."""
    moved = Polygon(band.points_mm(away_mm)).buffer(0)
    return _begun_on_axis(moved) if isinstance(moved, Polygon) and not moved.is_empty else band.base_mm


def _from_lowest(shape: Polygon) -> FloatArray:
    """The ring (n, 2) of all that ``shape`` and its mirror image cover, about 1 mm apart."""
    ring = np.asarray(shape.exterior.coords)[:-1]
    both = shape.union(Polygon(ring * np.array([-1.0, 1.0])).buffer(0))
    return _begun_on_axis(both)


def _begun_on_axis(shape: Polygon) -> FloatArray:
    """The ring (n, 2) about 1 mm apart of ``shape``, counter-clockwise from where it crosses the axis lowest.

    So the points of a symmetric shape mirror each other.
    """
    ring = np.asarray(orient(shape).exterior.coords)[:-1]
    after = np.roll(ring, -1, axis=0)
    crossing = np.flatnonzero((ring[:, 0] < 0) & (after[:, 0] >= 0))
    if len(crossing) == 0:
        return even_ring(ring, 1.0)
    share = ring[crossing, 0] / (ring[crossing, 0] - after[crossing, 0])
    height = ring[crossing, 1] + share * (after[crossing, 1] - ring[crossing, 1])
    first = int(np.argmin(height))
    start = np.array([[0.0, height[first]]])
    return even_ring(np.vstack([start, np.roll(ring, -int(crossing[first]) - 1, axis=0)]), 1.0)
