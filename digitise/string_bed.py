"""The string bed and the open throat of a frame: the inner side of its tube.

Strings and what lies below them fill the opening with edges, but only the tube's inner side keeps the
same distance from its outer side all round.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt
from scipy.ndimage import gaussian_filter1d
from shapely.geometry import MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry

from digitise.band import ACROSS_MM, Band, even_ring, mirrored, ring_normals, sample_band, smooth_ring
from digitise.band_filters import blurred
from digitise.best_line import best_mirrored_line
from digitise.camera import Camera
from digitise.contour import Contour
from digitise.edge import MAX_STEPS, STEP_COST, edge_strength
from digitise.linear import LinearPhoto
from digitise.resting import Body
from digitise.tone import FloatArray, Image, log_colour

TUBE_WIDTHS_MM = (5.0, 20.0)
"""Widths of tube looked for, as seen from above."""
LOWER_HOOP = 0.55
"""Share of the head's half length, below its widest place, to which the outer side is surely the hoop's."""
BED_SLACK_MM = 3.0
NARROWEST_GAP_MM = 8.0
BEYOND_MM = 1000.0
THROAT_LEAST_MM2 = 800.0
"""Smaller gaps between bridge and arms are joints, not an open throat."""


@dataclass(frozen=True, eq=False)
class StringBed:
    """``ring_mm`` (n, 2) of the opening, and the hoop tube's width as seen, mm."""

    ring_mm: FloatArray
    tube_width_mm: float


def find_string_bed(linear: LinearPhoto, camera: Camera, contour: Contour, body: Body) -> StringBed:
    """The opening inside the hoop of ``contour``."""
    outer = even_ring(smooth_ring(contour.ring_mm, 2.0), 1.0)
    rows = _hoop_rows(outer)
    width_mm = _tube_width(linear, camera, contour, body, outer, rows)
    inner = even_ring(outer - width_mm * ring_normals(outer), 1.0)
    known = inner[_hoop_rows(inner, outer)]
    base = _ellipse(known)
    weight_mm = np.where(base[:, 1] > known[:, 1].min(), 2.0, 5.0)
    ring = _fitted(linear, camera, contour, body, base, weight_mm)
    return StringBed(ring, width_mm)


def find_throat(
    linear: LinearPhoto,
    camera: Camera,
    contour: Contour,
    body: Body,
    bed: StringBed,
    handle_top_mm: float,
) -> FloatArray | None:
    """The open throat's ring (n, 2) below the string bed, None where a single shaft leaves none."""
    arms = Polygon(contour.ring_mm).buffer(0).buffer(-bed.tube_width_mm)
    gap = arms.difference(Polygon(bed.ring_mm).buffer(bed.tube_width_mm))
    # the handle is wider than two tubes, but closed; and where the arms all but touch there is no gap
    gap = gap.difference(box(-BEYOND_MM, -BEYOND_MM, BEYOND_MM, handle_top_mm))
    gap = gap.buffer(-NARROWEST_GAP_MM / 2).buffer(NARROWEST_GAP_MM / 2)
    low_edge = float(bed.ring_mm[:, 1].min())
    pieces = [
        piece
        for piece in _polygons(gap)
        if handle_top_mm < piece.centroid.y < low_edge and piece.area > THROAT_LEAST_MM2
    ]
    if not pieces:
        return None
    rough = np.array(max(pieces, key=lambda piece: piece.area).exterior.coords)[:-1]
    ring = _from_lowest(rough)
    return _fitted(linear, camera, contour, body, ring, np.full(len(ring), 3.0))


def _polygons(shape: BaseGeometry) -> list[Polygon]:
    if isinstance(shape, Polygon):
        return [shape] if not shape.is_empty else []
    return list(shape.geoms) if isinstance(shape, MultiPolygon) else []


def _hoop_rows(points: FloatArray, outer: FloatArray | None = None) -> npt.NDArray[np.bool_]:
    """Which points (n,) belong to the part of the head whose outer side is the hoop's."""
    ring = points if outer is None else outer
    tip = float(ring[:, 1].max())
    widest = float(ring[np.argmax(np.abs(ring[:, 0])), 1])
    return np.asarray(points[:, 1] > widest - LOWER_HOOP * (tip - widest))


def _tube_width(
    linear: LinearPhoto,
    camera: Camera,
    contour: Contour,
    body: Body,
    outer: FloatArray,
    rows: npt.NDArray[np.bool_],
) -> float:
    """The distance inside the outline at which there is an edge all along the hoop."""
    # Seen from above, the tube's inner side shows as much farther in as its outer side farther out.
    band = sample_band(linear, camera, contour.resting, body, outer, (TUBE_WIDTHS_MM[1] + 3, 6.0), True)
    strength = _strength(band)[rows]
    typical = gaussian_filter1d(np.median(strength, axis=0) + strength.mean(axis=0), 1.5)
    inside = (band.offset_mm < -TUBE_WIDTHS_MM[0]) & (band.offset_mm > -TUBE_WIDTHS_MM[1])
    return float(-band.offset_mm[np.argmax(np.where(inside, typical, -np.inf))])


def _strength(band: Band) -> Image:
    colour = blurred(log_colour(band.light), 1.0)
    everywhere = np.ones(len(band.offset_mm), bool)
    return edge_strength(colour, everywhere, 0.5)


def _ellipse(points_mm: FloatArray) -> FloatArray:
    """Ring (n, 2) of the ellipse, upright and on the axis, that fits ``points_mm`` best, from its bottom."""
    both = np.vstack([points_mm, points_mm * np.array([-1.0, 1.0])]).astype(np.float32)
    (_, centre_y), (first, second), angle = cv2.fitEllipseDirect(both)
    upright = abs(((angle + 45) % 180) - 45) < 45
    across, along = (first, second) if upright else (second, first)
    turn = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    ring = np.column_stack([across / 2 * np.sin(turn), centre_y - along / 2 * np.cos(turn)])
    return even_ring(ring, 1.0)


def _fitted(
    linear: LinearPhoto,
    camera: Camera,
    contour: Contour,
    body: Body,
    base: FloatArray,
    slack_mm: FloatArray,
) -> FloatArray:
    """The edge near the symmetric ring ``base``, both sides together, held to within ``slack_mm`` (n,)."""
    base = even_ring(base, 1.0)
    slack = np.interp(np.linspace(0, 1, len(base)), np.linspace(0, 1, len(slack_mm)), slack_mm)
    band = sample_band(linear, camera, contour.resting, body, base, (10.0, 10.0), True)
    gain = 3.0 * _strength(band) - (band.offset_mm[None, :] / slack[:, None]) ** 2
    line = best_mirrored_line((gain + mirrored(gain)) / 2, STEP_COST, MAX_STEPS)
    ring = band.points_mm(gaussian_filter1d(band.offset_mm[line], 2.0, mode="wrap"))
    if Polygon(ring).is_valid:
        return ring
    pieces = _polygons(Polygon(ring).buffer(0))
    return np.asarray(max(pieces, key=lambda piece: piece.area).exterior.coords)[:-1] if pieces else base


def _from_lowest(ring_mm: FloatArray) -> FloatArray:
    """The ring, counter-clockwise, made symmetric about the axis and begun at its lowest point."""
    shape = Polygon(ring_mm)
    turned = Polygon(ring_mm * np.array([-1.0, 1.0]))
    both = _polygons(shape.intersection(turned))
    even = even_ring(np.array(max(both, key=lambda p: p.area).exterior.coords)[:-1], 1.0)
    if Polygon(even).exterior.is_ccw is False:
        even = even[::-1]
    on_axis = np.where(even[:, 1] < np.median(even[:, 1]), np.abs(even[:, 0]), np.inf)
    return np.roll(even, -int(np.argmin(on_axis)), axis=0)


__all__ = ["ACROSS_MM", "StringBed", "find_string_bed", "find_throat"]
