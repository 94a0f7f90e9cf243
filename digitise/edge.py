"""The racquet's edge in a band along its rough outline, to a fraction of a pixel.

Across the band there may be several edges: the racquet's own, its edge band's inner border, a print, a
shadow's, lines of the table. The racquet's is a sharp one with nothing but table outside, lit or in
shadow. The best closed line is found by dynamic programming, then moved to where the light says.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt
from scipy.ndimage import median_filter

from digitise.band import ACROSS_MM, Band
from digitise.band_filters import blurred, colour_steps
from digitise.best_line import best_closed_line
from digitise.quantile import quantile_of_rows
from digitise.row_median import row_median
from digitise.running import running
from digitise.table_evidence import PERSISTENT_ROWS, Ground, table_evidence
from digitise.tone import FloatArray, Image, log_colour

WINDOW_MM = 0.5
EDGE_HALF_STRENGTH = 0.06
"""Step of log colour at which an edge counts half of a strong one on a table without texture."""
WIDER, SOFT, SHARP, SOFT_SHARE = 4, 0.3, 0.6, 0.3
"""Shares of an edge's step, told over so many times the window, that the window sees of a soft and a sharp
one, and what a soft one's step counts."""
EDGE_WORTH, OUTSIDE_WORTH = 3.0, 0.6
"""Worth of a full edge under the line, and of a millimetre of sure table outside it."""
ENOUGH_TABLE = 5.0
"""What table outside the line can be worth at most, once the line is near: a grip or face of the table's
colour looks like table, too, and would draw the line in for as long as it goes on."""
STRAY_EDGE, STRAY_COST = 0.5, 0.5
"""Edges stronger than this outside the line are doubtful, at this cost per millimetre."""
FAR_EDGE, FAR_COST, FAR_FROM_MM = 0.7, 10.0, 1.5
"""An edge stronger than this, sharper than most shadows', that runs along so far outside a rough line tells
that the racquet goes on to there, and the cost of its strength beyond that: nearly a full edge's worth."""
STEP_COST, MAX_STEPS = 0.6, 4
"""Cost of moving one column over between rows; the line may slope by up to MAX_STEPS columns a row."""
MOST_UNLIKE = 1.5
"""What all that is unlike the table outside the line can cost at most: half an edge. So a strong edge stands
against a tinted shadow outside it, and a faint outer edge against a strong one inside the rim."""
GAP_PX, FIT_PX = 1.2, 4.0
"""The gap in pixels, and the least length of a line."""
FIT_MM, KINK_REACH_MM, KINK_WORTH, KINK_STEP_COST, KINK_ONLY = 1.6, 1.0, 2.0, 1.0, 0.01
"""Length of the two lines fitted, how far from the rough line, the worth of a better fit (per e-fold of
its squared residual), the cost of a
step between rows, and the step of light below which it is a kink only."""
STEP_WORTH = 1.0
"""Worth of a larger step of light between the two lines, per e-fold."""


@dataclass(frozen=True, eq=False)
class Evidence:
    """For each place of the band (n, k): ``strength`` 0 to 1 of an edge there, and ``outside``, what
    speaks for nothing but table from there outward, in the units of a full edge's worth; ``fair`` is the same
    with no more for table than is enough: to compare outlines by, for one that lies on the table beside the
    racquet has more of it than the racquet's own."""

    strength: Image
    outside: Image
    fair: Image


def weigh(band: Band, ground: Ground, px_mm: float, clear_mm: float, rough: bool = False) -> Evidence:
    """Evidence for the racquet's edge.

    ``px_mm`` is the size of a pixel of the photo on the table; ``clear_mm`` the distance outside the
    band's base from which on it is sure to show table. As long as the base is ``rough`` all the table outside
    a place speaks for it and a strong edge far outside against it, for shadows are left out by the one and
    rims found by the other; later that edge is a joint or a line of the table that runs up to it.
    """
    colour = blurred(log_colour(band.light), 1.5)
    strength = edge_strength(colour, band.offset_mm >= clear_mm, max(WINDOW_MM, 1.5 * px_mm))
    likeness = table_evidence(colour, band, ground, clear_mm)
    table = OUTSIDE_WORTH * _beyond(np.maximum(likeness, 0))
    enough = ENOUGH_TABLE * np.tanh(table / ENOUGH_TABLE)
    along = row_median(strength, PERSISTENT_ROWS)
    stray = np.maximum(along - STRAY_EDGE, 0)
    unlike = _beyond(OUTSIDE_WORTH * np.maximum(-likeness, 0) + STRAY_COST * stray)
    against = MOST_UNLIKE * np.tanh(unlike / MOST_UNLIKE)
    if rough:
        against += _far_edges(along)
    fair = enough - against
    return Evidence(strength, table - against if rough else fair, fair)


def _far_edges(along: Image) -> Image:
    """What the strongest edge farther out speaks against each place (n, k) of the band, of how strong edges
    ``along`` it (n, k) are."""
    strongest = running(np.maximum, np.maximum(along - FAR_EDGE, 0), from_end=True)
    cells = round(FAR_FROM_MM / ACROSS_MM)
    beyond = np.zeros_like(strongest)
    beyond[:, :-cells] = strongest[:, cells:]
    return np.asarray(FAR_COST * beyond)


def _beyond(values: Image) -> Image:
    """Integral over mm of ``values`` (n, k) from each place outward to the band's border."""
    return np.asarray(running(np.add, values, from_end=True) * ACROSS_MM)


def edge_strength(
    colour: Image, clear: npt.NDArray[np.bool_], window_mm: float, soft_too: bool = False
) -> Image:
    """Strength 0 to 1 of a step of log colour (n, k, 3) across each place of the band, (n, k).

    Compared are the means of ``window_mm`` on either side. Unless ``soft_too``, edges as soft as a shadow's
    count little. The table's own texture, as strong as most of what lies in the ``clear`` (k,) columns, is
    discounted.
    """
    cells = max(round(window_mm / ACROSS_MM), 1)
    step = colour_steps(colour, cells)
    if not soft_too:
        step = step * _sharpness(step, colour_steps(colour, WIDER * cells))
    texture = quantile_of_rows(step[:, clear], 0.6)
    texture = median_filter(texture, 31, mode="wrap")[:, None]
    return np.asarray(step / (step + EDGE_HALF_STRENGTH + 1.5 * texture))


def _sharpness(step: Image, whole: Image) -> npt.NDArray[np.float32]:
    """What edges of a ``step`` (n, k) count, whose ``whole`` is seen in the wider windows.

    Of a shadow's border, spread over millimetres, the narrow ones see a small share. Towards the band's
    borders the wider ones see nothing, and all edges are sharp.
    """
    sharp = np.clip((step - SOFT * whole) / np.maximum((SHARP - SOFT) * whole, 1e-6), 0, 1)
    return np.asarray(np.where(whole > 0, SOFT_SHARE + (1 - SOFT_SHARE) * sharp, 1.0), np.float32)


def exact_reach_mm(px_mm: float) -> float:
    """How far to both sides of an edge ``exact_edge`` needs the band; pixels are ``px_mm`` on the table."""
    return sum(_windows_mm(px_mm)) + KINK_REACH_MM + ACROSS_MM


def _windows_mm(px_mm: float) -> tuple[float, float]:
    """Widths of the gap left at an edge and of the lines on either side of it."""
    return max(GAP_PX * px_mm, ACROSS_MM), max(FIT_MM, FIT_PX * px_mm)


def exact_edge(band: Band, columns: npt.NDArray[np.int64], px_mm: float) -> FloatArray:
    """Sub-pixel offsets (n,) of the edge within KINK_REACH_MM of ``columns``.

    Outside the edge light changes slowly (a contact shadow), inside too (a rounded rim turns dark), and
    at the edge abruptly or with a kink. So two straight lines are fitted to the light, one on each side of
    a gap as wide as the lens's blur, and the gap is put where they fit best; within it the edge is where
    light passes half-way between the two. A band too narrow for lines on both sides tells no more than
    ``columns`` do: see ``exact_reach_mm``.
    """
    gap, length = (round(mm / ACROSS_MM) for mm in _windows_mm(px_mm))
    if len(band.offset_mm) <= 2 * (length + gap):
        return np.asarray(band.offset_mm[columns], float)
    light = blurred(band.light, 1.5).astype(float)
    inner, outer = _side_lines(light, length, gap)
    misfit = inner.misfit + outer.misfit
    known = np.isfinite(misfit[0])  # lines on both sides lie within the band
    floor = 1e-6 + 0.02 * np.median(misfit[:, known], axis=1, keepdims=True)
    reach = round(KINK_REACH_MM / ACROSS_MM)
    apart = np.abs(np.arange(light.shape[1])[None, :] - columns[:, None])
    step = np.linalg.norm(inner.ahead - outer.ahead, axis=2)
    worth = STEP_WORTH * np.log(step + KINK_ONLY) - KINK_WORTH * np.log(misfit + floor)
    gain = np.where(apart <= reach, worth, -1e3)
    line = best_closed_line(gain, KINK_STEP_COST, MAX_STEPS)
    shift = _half_way(light, inner.ahead, outer.ahead, line, gap) * ACROSS_MM
    return np.asarray(band.offset_mm[line] + shift)


@dataclass(frozen=True, eq=False)
class _Lines:
    """``misfit`` (n, k): squared residual of the line on one side; ``ahead`` (n, k, 3): its value at k."""

    misfit: Image
    ahead: Image


def _side_lines(light: FloatArray, length: int, gap: int) -> tuple[_Lines, _Lines]:
    """Straight lines through the ``length`` places before each place and through as many after it, ``gap``
    left out next to it: each line lies before one place and after another."""
    at = np.arange(length) - (length - 1) / 2
    spread = float(at @ at)
    one = np.ones(length)
    mean, slope = _along_windows(light, one / length), _along_windows(light, at / spread)
    square = _along_windows(light * light, one)
    misfit = np.maximum(np.sum(square - length * mean**2 - slope**2 * spread, axis=-1), 0)
    rise = slope * ((length - 1) / 2 + gap + 1)
    place = np.arange(light.shape[1])
    sides = []
    for first, ahead in ((place - length - gap, mean + rise), (place + gap + 1, mean - rise)):
        window = np.clip(first, 0, light.shape[1] - length)
        sides.append(_Lines(np.where(window == first, misfit[:, window], np.inf), ahead[:, window]))
    return sides[0], sides[1]


def _along_windows(values: Image, weights: Image) -> FloatArray:
    """Sum (n, k, 3) of ``values`` (n, k, 3) by ``weights`` (m,) over as many places from each on."""
    begin = (0, 0)
    return np.asarray(cv2.filter2D(values, -1, weights[None], anchor=begin, borderType=cv2.BORDER_REPLICATE))


def _half_way(light: Image, inner: Image, outer: Image, line: npt.NDArray[np.int64], gap: int) -> FloatArray:
    """Columns (n,) from ``line`` to where light passes half-way between the two lines' values there.

    Where the two hardly differ there is only a kink, and the place of the gap stands.
    """
    rows = np.arange(len(line))
    low, high = inner[rows, line], outer[rows, line]
    step = high - low
    size2 = np.sum(step**2, axis=1)
    around = np.clip(line[:, None] + np.arange(-gap - 1, gap + 2), 0, light.shape[1] - 1)
    seen = np.take_along_axis(light, around[..., None], axis=1)
    share = np.einsum("nkc,nc->nk", seen - low[:, None, :], step) / np.maximum(size2, 1e-12)[:, None]
    # The area under the profile gives the place of a blurred step whatever the blur's shape.
    shift = (gap + 1) + 0.5 - np.clip(share, -0.2, 1.2).sum(axis=1)
    sure = size2 / (size2 + KINK_ONLY**2)
    return np.asarray(np.clip(shift * sure, -gap - 1, gap + 1), float)
