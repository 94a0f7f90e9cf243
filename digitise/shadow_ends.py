"""Ends of a rough shape that are nothing but the racquet's shadow, past the butt or the tip.

Where a lamp's light comes along the axis, the shadow's border is as strong an edge there as the racquet's own
and mirrors as well. But it is soft, for a lamp has a size; what it bounds is the table's colour, only darker;
and farther in the racquet's own end is a sharp edge. The sun's has a sharp border, too: such a shadow is told
by what follows farther in, which goes on along the head's sides, or is a butt cap, and by the sky's blue.
"""

from __future__ import annotations

from collections.abc import Callable
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
BEYOND_MM, INSIDE_MM = 14.0, 75.0
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
LONGEST_MM = 50.0
"""No shadow past an end is longer."""
BORDER_WITHIN_MM, EVEN = 4.0, 0.08
"""How far from the shape's end a sharp border of its shadow is, and by how much (log) the middle half of its
light may be off: a cap is shaded."""
SKY_DEPTH, SKY_BLUE, MOST_BLUE, MOST_RED = 0.7, 0.08, 0.25, 0.02
"""How much darker (log) at least what only the sky lights is, for the sun gives half of all light and more;
and how much bluer, at least and at most, and redder at most: by this it is told from a dark guard or cap."""
SIDE_MM, SIDE_ALONG_MM, NEARER = (2.0, 5.0), 25.0, 0.5
"""How far in from the head's widest places, and how far along, its sides' colour is taken; and what share of
its distance from the shade's colour that from the colour farther in is at most."""
RIM_MM = 3.0
"""How wide what follows farther in is at least."""
CAP_MM = (12.0, 35.0)
"""How long a butt cap is: after its end comes the border between it and the grip."""
ALL_SHADE = 0.6
"""Share of the places between the two edges that must be such a shade: a joint may be there, too."""


def without_shadow_ends(
    linear: LinearPhoto, camera: Camera, view: FlatView, table: TableModel, shape: SymmetricShape
) -> SymmetricShape:
    """The shape less what of its two ends is the racquet's shadow."""

    def colours(x_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
        """Log colours less the table's at places of the shape's own frame."""
        world = shape.axis.to_world(np.column_stack([x_mm.ravel(), y_mm.ravel()]))
        seen = linear.at(camera.project(np.column_stack([world, np.full(len(world), view.plane_z_mm)])))
        bare = table.colour[view.nearest(world)]
        return np.asarray((log_colour(seen) - bare).reshape(*x_mm.shape, 3), float)

    def profile(at_mm: float, inward: float, half_mm: float) -> FloatArray:
        """Median colour at ``places_mm`` along the axis from an end, so far to either side."""
        across = np.arange(-half_mm, half_mm + ACROSS_MM / 2, ACROSS_MM)
        x, y = np.meshgrid(across, at_mm + inward * places_mm())
        return np.asarray(np.median(colours(x, y), axis=1), float)

    def sides() -> FloatArray:
        """Median colour (2, 3) just inside the head's widest places."""
        widest = float(shape.y_mm[int(np.argmax(shape.half_width_mm))])
        along = np.arange(widest - SIDE_ALONG_MM, widest + SIDE_ALONG_MM, 1.0)
        half = np.interp(along, shape.y_mm, shape.half_width_mm)
        x, y = half[:, None] - np.arange(*SIDE_MM, STEP_MM), along[:, None]
        both = [colours(side * x, np.broadcast_to(y, x.shape)) for side in (1.0, -1.0)]
        return np.asarray([np.median(each, axis=(0, 1)) for each in both], float)

    at_butt = profile(0.0, 1.0, BUTT_HALF_MM)
    at_tip = profile(float(shape.y_mm[-1]), -1.0, TIP_HALF_MM)
    butt_mm, tip_mm = shadow_mm(at_butt), shadow_mm(at_tip)
    shade = None
    if butt_mm == 0 and (sunlit := sunlit_butt(at_butt)) is not None:
        butt_mm, shade = sunlit
    if tip_mm == 0 and (sunlit := sunlit_tip(at_tip, sides)) is not None:
        tip_mm, shade = sunlit
    return replace(_less_at_butt(_less_at_tip(shape, tip_mm), butt_mm), shade=shade)


def places_mm() -> FloatArray:
    """Places (n,) of a profile, from beyond a shape's end inward."""
    return np.arange(-BEYOND_MM, INSIDE_MM, STEP_MM)


def shadow_mm(profile: FloatArray) -> float:
    """How much of an end is shadow, by its ``profile`` (n, 3) at ``places_mm``: log colour less the table's.

    0 where no sharp edge follows on a shade with a soft border.
    """
    fine, coarse = (_steps(profile, reach_mm) for reach_mm in (FINE_MM, COARSE_MM))
    edges = _sharp(profile)
    if len(edges) == 0 or not LEAST_MM <= places_mm()[edges[0]] < LONGEST_MM:
        return 0.0
    sharp = int(edges[0])
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


def sunlit_tip(profile: FloatArray, sides: Callable[[], FloatArray]) -> tuple[float, FloatArray] | None:
    """How much of the tip is a shadow with a sharp border, and its colour; None if there is none.

    What follows farther in goes on along the head's ``sides``, whose colours (2, 3) are asked for if it comes
    to that, and the shade does not.
    """
    found = _sharp_shade(profile)
    if found is None:
        return None
    edge, shade = found
    inner = np.median(profile[edge + _cells(CLOSE_MM) : edge + _cells(CLOSE_MM + RIM_MM)], axis=0)
    along = sides()
    own, other = _unlike(along, inner), _unlike(along, shade)
    return (float(places_mm()[edge]), shade) if np.any(own < NEARER * other) else None


def sunlit_butt(profile: FloatArray) -> tuple[float, FloatArray] | None:
    """How much of the butt is a shadow with a sharp border, and its colour; None if there is none.

    A cap's two ends follow farther in.
    """
    found = _sharp_shade(profile)
    if found is None:
        return None
    at_mm = places_mm()
    after_mm = at_mm[_sharp(profile)] - at_mm[found[0]]
    capped = np.any((after_mm > CAP_MM[0]) & (after_mm < CAP_MM[1]))
    return (float(at_mm[found[0]]), found[1]) if capped else None


def _sharp_shade(profile: FloatArray) -> tuple[int, FloatArray] | None:
    """The racquet's own end, and the colour (3,) of the even shade from it to a sharp border beyond it."""
    at_mm = places_mm()
    edges = _sharp(profile)
    for border in edges[np.abs(at_mm[edges]) < BORDER_WITHIN_MM]:
        for own in edges[(at_mm[edges] > max(at_mm[border], 0.0) + LEAST_MM) & (at_mm[edges] < LONGEST_MM)]:
            between = profile[border + _cells(CLOSE_MM) : own - _cells(CLOSE_MM)]
            shade = np.median(between, axis=0)
            if not _is_sky_lit(shade) or np.median(np.abs(between[:, 0] - shade[0])) > EVEN:
                break
            beyond = profile[own + _cells(CLOSE_MM) : own + 2 * _cells(CLOSE_MM)]
            if _unlike(beyond, shade).mean() > SHARP_STEP:  # else it is a line of the table's
                return int(own), shade
    return None


def _is_sky_lit(colour: FloatArray) -> bool:
    """Whether a colour (3,), less the table's, may be the table's in the sun's shadow."""
    light, red, blue = (float(value) for value in colour)
    return SKY_DEPTH < -light < MOST_DEPTH and -MOST_BLUE < red < MOST_RED and SKY_BLUE < blue < MOST_BLUE


def _unlike(colours: FloatArray, other: FloatArray) -> FloatArray:
    """How far (n,) colours (n, 3) are from another (3,)."""
    return np.asarray(np.linalg.norm((colours - other) * COLOUR_WEIGHT, axis=1))


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


def _sharp(profile: FloatArray) -> npt.NDArray[np.intp]:
    """All sharp edges, from the outermost inward."""
    fine, coarse = (_steps(profile, reach_mm) for reach_mm in (FINE_MM, COARSE_MM))
    cells = 2 * _cells(PEAK_MM) + 1
    sharp = (fine > SHARP_STEP) & (fine == maximum_filter1d(fine, cells))
    sharp &= fine > SHARP * maximum_filter1d(coarse, cells)
    margin = _cells(COARSE_MM)  # nearer to an end nothing is known of a step
    return margin + np.flatnonzero(sharp[margin:-margin])


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
