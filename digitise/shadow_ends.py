"""Ends of a rough shape that are nothing but the racquet's shadow, past the butt or the tip.

Where a lamp's light comes along the axis, the shadow's border is as strong an edge there as the racquet's own
and mirrors as well. But it is soft, for a lamp has a size; what it bounds is the table's colour, only darker;
and farther in the racquet's own end is a sharp edge.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt
from scipy.ndimage import maximum_filter1d

from digitise.band_filters import COLOUR_WEIGHT
from digitise.camera import Camera
from digitise.flat import FlatView
from digitise.half_width import SymmetricShape
from digitise.linear import LinearPhoto
from digitise.table_model import TableModel
from digitise.tone import FloatArray, log_colour

STEP_MM, ACROSS_MM = 0.25, 1.0
BEYOND_MM, INSIDE_MM = 14.0, 50.0
"""How far past the shape's end, and inside it, the photo is looked at."""
BUTT_HALF_MM, TIP_HALF_MM = 7.0, 12.0
"""How far to either side of the axis."""
FINE_MM, COARSE_MM = 0.5, 2.0
"""Half the distance over which a sharp edge's step and a soft one's are told."""
SHARP_STEP, SHARP, SOFT = 0.3, 0.5, 0.5
"""Least step of a sharp edge, and its share within FINE_MM; a soft one has less."""
PEAK_MM, CLEAR_MM, CLOSE_MM = 1.0, 2.0, 1.25
"""An edge is the strongest so far about; and how far from a soft and a sharp edge a shadow is judged."""
LEAST_MM = 4.0
"""A shorter shadow is left to the search along the outline."""
LEAST_DEPTH, MOST_DEPTH, TINT, LEAST_TINT, MOST_TINT = 0.1, 1.8, 0.25, 0.035, 0.15
"""How much darker (log of light) a shadow is than the open table, and by what share of it its colour ratios
may differ, at least and at most by so much."""
BORDER = 1.25
"""The step at a shadow's border is at most so many times as large as it is dark: a dark frame's blurred end
steps down by more than what is dark farther in, and up again."""
ALL_SHADE = 0.6
"""Share of the places between the two edges that must be such a shade: a joint may be there, too."""


def without_shadow_ends(
    linear: LinearPhoto, camera: Camera, view: FlatView, table: TableModel, shape: SymmetricShape
) -> SymmetricShape:
    """The shape less what of its two ends is the racquet's shadow."""

    def shadow(at_mm: float, inward: float, half_mm: float) -> float:
        return shadow_mm(_profile(linear, camera, view, table, shape, (at_mm, inward, half_mm)))

    butt_mm = shadow(0.0, 1.0, BUTT_HALF_MM)
    tip_mm = shadow(float(shape.y_mm[-1]), -1.0, TIP_HALF_MM)
    return _less_at_butt(_less_at_tip(shape, tip_mm), butt_mm)


def places_mm() -> FloatArray:
    """Places (n,) of a profile, from beyond a shape's end inward."""
    return np.arange(-BEYOND_MM, INSIDE_MM, STEP_MM)


def shadow_mm(profile: FloatArray) -> float:
    """How much of an end is shadow, by its ``profile`` (n, 3) at ``places_mm``: log colour less the table's.

    0 where no sharp edge follows on a shade with a soft border.
    """
    fine, coarse = (_steps(profile, reach_mm) for reach_mm in (FINE_MM, COARSE_MM))
    sharp = _first_sharp(fine, coarse)
    if sharp is None or places_mm()[sharp] < LEAST_MM:
        return 0.0
    soft = int(np.argmax(coarse[: sharp - _cells(COARSE_MM + CLOSE_MM)]))
    reach = _cells(COARSE_MM)
    if fine[max(soft - reach, 0) : soft + reach + 1].max() > SOFT * coarse[soft]:
        return 0.0
    between = profile[soft + _cells(CLEAR_MM) : sharp - _cells(CLOSE_MM)]
    shade = between[_is_shade(between)]
    if len(shade) == 0 or len(shade) < ALL_SHADE * len(between):
        return 0.0
    if coarse[soft] > BORDER * np.median(-shade[:, 0]):
        return 0.0
    return float(places_mm()[sharp])


def _profile(
    linear: LinearPhoto,
    camera: Camera,
    view: FlatView,
    table: TableModel,
    shape: SymmetricShape,
    end: tuple[float, float, float],
) -> FloatArray:
    """Median log colour less the table's at ``places_mm`` along the axis from an ``end``: where on the axis,
    the way inward, and how far to either side."""
    at_mm, inward, half_mm = end
    across = np.arange(-half_mm, half_mm + ACROSS_MM / 2, ACROSS_MM)
    x, y = np.meshgrid(across, at_mm + inward * places_mm())
    world = shape.axis.to_world(np.column_stack([x.ravel(), y.ravel()]))
    seen = linear.at(camera.project(np.column_stack([world, np.full(len(world), view.plane_z_mm)])))
    bare = table.colour[view.nearest(world)]
    return np.asarray(np.median((log_colour(seen) - bare).reshape(*x.shape, 3), axis=1), float)


def _cells(mm: float) -> int:
    return round(mm / STEP_MM)


def _steps(profile: FloatArray, reach_mm: float) -> FloatArray:
    """Size (n,) of the step of colour from ``reach_mm`` before each place to as far behind it."""
    reach = _cells(reach_mm)
    step = np.zeros(len(profile))
    step[reach:-reach] = np.linalg.norm(
        (profile[2 * reach :] - profile[: -2 * reach]) * COLOUR_WEIGHT, axis=1
    )
    return step


def _first_sharp(fine: FloatArray, coarse: FloatArray) -> int | None:
    """The outermost sharp edge."""
    cells = 2 * _cells(PEAK_MM) + 1
    sharp = (fine > SHARP_STEP) & (fine == maximum_filter1d(fine, cells))
    sharp &= fine > SHARP * maximum_filter1d(coarse, cells)
    margin = _cells(COARSE_MM)  # nearer to an end nothing is known of a step
    places = np.flatnonzero(sharp[margin:-margin])
    return margin + int(places[0]) if len(places) else None


def _is_shade(colour: FloatArray) -> npt.NDArray[np.bool_]:
    """Which of colours (n, 3), less the table's, are the table's in shadow."""
    depth = -colour[:, 0]
    tint = np.abs(colour[:, 1:]).max(axis=1)
    return np.asarray(
        (depth > LEAST_DEPTH) & (depth < MOST_DEPTH) & (tint < np.clip(TINT * depth, LEAST_TINT, MOST_TINT))
    )


def _less_at_butt(shape: SymmetricShape, mm: float) -> SymmetricShape:
    """The shape without the first ``mm`` of its handle."""
    kept = shape.y_mm > mm
    if mm == 0 or kept.sum() < 2:
        return shape
    y_mm = shape.y_mm[kept]
    first = float(y_mm[0])
    return replace(
        shape,
        axis=shape.axis.moved(0.0, 0.0, first),
        y_mm=y_mm - first,
        half_width_mm=shape.half_width_mm[kept],
        grip_to_mm=max(shape.grip_to_mm - first, 0.0),
    )


def _less_at_tip(shape: SymmetricShape, mm: float) -> SymmetricShape:
    """The shape with its head's far half ``mm`` shorter, and as wide as it was."""
    widest, tip = float(shape.y_mm[int(np.argmax(shape.half_width_mm))]), float(shape.y_mm[-1])
    if mm == 0 or tip - widest < 2 * mm:
        return shape
    kept = shape.y_mm <= tip - mm
    y_mm = shape.y_mm[kept]
    before = np.where(y_mm > widest, widest + (y_mm - widest) * (tip - widest) / (tip - mm - widest), y_mm)
    half_mm = np.interp(before, shape.y_mm, shape.half_width_mm)
    return replace(shape, y_mm=y_mm, half_width_mm=half_mm)
