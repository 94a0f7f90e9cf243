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
from scipy.ndimage import gaussian_filter1d, median_filter, uniform_filter1d

from digitise.band import ACROSS_MM, Band
from digitise.best_line import best_closed_line
from digitise.row_median import row_median
from digitise.table_model import Image, Mask, log_colour
from digitise.tone import FloatArray

COLOUR_WEIGHT = np.array([1.0, 1.5, 1.5], np.float32)
WINDOW_MM = 0.5
EDGE_HALF_STRENGTH = 0.06
"""Step of log colour at which an edge counts half of a strong one on a table without texture."""
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
SURE_RACQUET = 0.8
"""How much a place surely unlike the table speaks against being outside, where sure table counts 1: a
shadow tinted by the racquet is unlike it too."""
MOST_UNLIKE = 1.5
"""What all that is unlike the table outside the line can cost at most: half an edge. So a strong edge stands
against a tinted shadow outside it, and a faint outer edge against a strong one inside the rim."""
PERSISTENT_ROWS = 11
"""What lies outside the line counts where it goes along with it for half of this many mm: a line of the
table that runs under the racquet does not."""
FIT_MM, KINK_REACH_MM, KINK_WORTH, KINK_STEP_COST, KINK_ONLY = 1.6, 1.0, 2.0, 1.0, 0.01
"""Length of the two lines fitted, how far from the rough line, the worth of a better fit (per e-fold of
its squared residual), the cost of a
step between rows, and the step of light below which it is a kink only."""
STEP_WORTH = 1.0
"""Worth of a larger step of light between the two lines, per e-fold."""
NEAR_ROWS, PALETTE = 42, 12
"""How far along the outline, in mm, the looks of the table are taken from."""
CONTACT_DEPTH, SHADOW_TINT = 0.4, 0.2
"""A place this much darker (log) than a look of the table is one spread away from it, and its colour ratios
may differ by this share of the darkening."""

AT_ONCE = 24_000
"""Places of the band reckoned in one go, so that they stay in the processor's nearest memory."""


@dataclass(frozen=True, eq=False)
class Evidence:
    """For each place of the band (n, k): ``strength`` 0 to 1 of an edge there, and ``outside``, what
    speaks for nothing but table from there outward, in the units of a full edge's worth."""

    strength: Image
    outside: Image


@dataclass(frozen=True, eq=False)
class Ground:
    """What the flat view knows of the table along a band: ``colour`` (n, 3), its log colour under the band's
    base; ``bare`` (n, k), where neither card nor frame's edge is; ``spread`` (3,) of its texture."""

    colour: FloatArray
    bare: Mask
    spread: FloatArray


def weigh(band: Band, ground: Ground, px_mm: float, clear_mm: float, rough: bool = False) -> Evidence:
    """Evidence for the racquet's edge.

    ``px_mm`` is the size of a pixel of the photo on the table; ``clear_mm`` the distance outside the
    band's base from which on it is sure to show table. As long as the base is ``rough`` all the table outside
    a place speaks for it and a strong edge far outside against it, for shadows are left out by the one and
    rims found by the other; later that edge is a joint or a line of the table that runs up to it.
    """
    colour = gaussian_filter1d(log_colour(band.light), 1.5, axis=0, mode="wrap")
    strength = edge_strength(colour, band.offset_mm >= clear_mm, max(WINDOW_MM, 1.5 * px_mm))
    likeness = _table_evidence(colour, band, ground, clear_mm)
    table = OUTSIDE_WORTH * _beyond(np.maximum(likeness, 0))
    if not rough:
        table = ENOUGH_TABLE * np.tanh(table / ENOUGH_TABLE)
    stray = row_median(np.maximum(strength - STRAY_EDGE, 0), PERSISTENT_ROWS)
    unlike = OUTSIDE_WORTH * _beyond(np.maximum(-likeness, 0)) + STRAY_COST * _beyond(stray)
    against = MOST_UNLIKE * np.tanh(unlike / MOST_UNLIKE)
    return Evidence(strength, table - against - _far_edges(strength) if rough else table - against)


def _far_edges(strength: Image) -> Image:
    """What the strongest edge farther out speaks against each place (n, k) of the band."""
    along = row_median(np.maximum(strength - FAR_EDGE, 0), PERSISTENT_ROWS)
    strongest = np.maximum.accumulate(along[:, ::-1], axis=1)[:, ::-1]
    cells = round(FAR_FROM_MM / ACROSS_MM)
    beyond = np.zeros_like(strongest)
    beyond[:, :-cells] = strongest[:, cells:]
    return np.asarray(FAR_COST * beyond)


def _beyond(values: Image) -> Image:
    """Integral over mm of ``values`` (n, k) from each place outward to the band's border."""
    return np.asarray(np.cumsum(values[:, ::-1], axis=1)[:, ::-1] * ACROSS_MM)


def edge_strength(colour: Image, clear: npt.NDArray[np.bool_], window_mm: float) -> Image:
    """Strength 0 to 1 of a step of log colour (n, k, 3) across each place of the band, (n, k).

    Compared are the means of ``window_mm`` on either side, so that soft edges count little. The table's
    own texture, as strong as most of what lies in the ``clear`` (k,) columns, is discounted.
    """
    cells = max(round(window_mm / ACROSS_MM), 1)
    means = uniform_filter1d(colour, cells, axis=1, mode="nearest")
    gap = (cells + 1) // 2
    inner = np.roll(means, gap, axis=1)
    outer = np.roll(means, -gap, axis=1)
    step = np.sqrt(np.sum(((outer - inner) * COLOUR_WEIGHT) ** 2, axis=2))
    step[:, : 2 * gap] = 0
    step[:, -2 * gap :] = 0
    texture = np.quantile(step[:, clear], 0.6, axis=1)
    texture = median_filter(texture, 31, mode="wrap")[:, None]
    return np.asarray(step / (step + EDGE_HALF_STRENGTH + 1.5 * texture))


def _table_evidence(colour: Image, band: Band, ground: Ground, clear_mm: float) -> Image:
    """For each place (n, k) how much it speaks for table: 1 sure table, down to -SURE_RACQUET.

    It is table if it looks like the table in the open, or like any place near by that lies at least
    ``clear_mm`` outside the rough outline: shadows, lines and grain are among those.
    """
    looks = np.stack([ground.colour, *_looks(colour, ground.bare, band.offset_mm, clear_mm)])
    # Every second place along and across is enough for what is then summed over millimetres.
    distance2 = _least_distance2(colour[::2, ::2], looks[:, ::2], ground.spread)
    evidence = np.clip(1.0 - distance2 / 2, -SURE_RACQUET, 1.0)
    coarse = row_median(evidence, PERSISTENT_ROWS // 2)
    rows, cols = colour.shape[:2]
    return coarse.repeat(2, axis=0)[:rows].repeat(2, axis=1)[:, :cols]


def _looks(colour: Image, bare: Mask, offset_mm: FloatArray, clear_mm: float) -> list[Image]:
    """Colours (n, 3) of the table well outside the outline: what is seen from NEAR_ROWS before each row to
    as many after, and the PALETTE most typical ones of the whole band (its shadows, mostly).

    Places that are not ``bare`` (n, k), the card, are left out: between it and the table lies every shade.
    """
    outer = np.flatnonzero(offset_mm >= clear_mm)
    near, samples = [], []
    for part in np.array_split(outer, 3):
        look, seen = colour[:, part].mean(axis=1), np.asarray(bare[:, part].all(axis=1))
        if seen.any():
            samples.append(look[seen])
            near.append(np.where(seen[:, None], look, np.median(look[seen], axis=0)))
    if sum(map(len, samples)) < PALETTE:
        return near
    cv2.setRNGSeed(1)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 20, 0.01)
    both = np.concatenate(samples).astype(np.float32)
    _, _, typical = cv2.kmeans(both, PALETTE, np.empty(0, np.int32), stop, 1, cv2.KMEANS_PP_CENTERS)
    looks = [np.roll(look, shift, axis=0) for look in near for shift in range(-NEAR_ROWS, NEAR_ROWS + 1, 14)]
    return looks + [np.broadcast_to(look, near[0].shape) for look in typical]


def _least_distance2(colour: Image, looks: Image, spread: FloatArray) -> Image:
    """Squared distance (n, k), in multiples of the table's spread, of ``colour`` (n, k, 3) from the nearest
    of ``looks`` (m, n, 3); darker counts less, as in a contact shadow.

    What is darker may also be tinted: a shadow is lit by other light than the open table.
    """
    # One plane for each channel, some rows at a time and no new arrays: this is done for dozens of looks.
    planes = np.ascontiguousarray(np.moveaxis(colour, 2, 0), np.float32)
    wanted = np.ascontiguousarray(np.moveaxis(looks, 2, 0)[..., None], np.float32)
    scale = np.maximum(1.5 * spread, [0.05, 0.02, 0.02]).astype(np.float32)
    lighter, darker = 1 / scale[0], -1 / np.float32(max(CONTACT_DEPTH, scale[0]))
    least = np.full(planes.shape[1:], np.inf, np.float32)
    few = max(AT_ONCE // planes.shape[2], 1)
    for rows in (slice(first, first + few) for first in range(0, len(colour), few)):
        rest = np.empty_like(planes[:, rows])
        tint2, sum2 = np.empty_like(rest[0]), np.empty_like(rest[0])
        for look in range(len(looks)):
            np.subtract(planes[:, rows], wanted[:, look, rows], out=rest)
            np.minimum(rest[0], 0, out=tint2)
            np.multiply(tint2, np.float32(SHADOW_TINT), out=tint2)
            np.multiply(tint2, tint2, out=tint2)
            np.multiply(rest[0], lighter, out=sum2)
            np.multiply(rest[0], darker, out=rest[0])
            np.maximum(sum2, rest[0], out=sum2)
            np.multiply(sum2, sum2, out=sum2)
            for ratio in (1, 2):
                np.multiply(rest[ratio], rest[ratio], out=rest[ratio])
                np.add(tint2, scale[ratio] ** 2, out=rest[0])
                np.divide(rest[ratio], rest[0], out=rest[0])
                np.add(sum2, rest[0], out=sum2)
            np.minimum(least[rows], sum2, out=least[rows])
    return least


def exact_edge(band: Band, columns: npt.NDArray[np.int64], px_mm: float) -> FloatArray:
    """Sub-pixel offsets (n,) of the edge within KINK_REACH_MM of ``columns``.

    Outside the edge light changes slowly (a contact shadow), inside too (a rounded rim turns dark), and
    at the edge abruptly or with a kink. So two straight lines are fitted to the light, one on each side of
    a gap as wide as the lens's blur, and the gap is put where they fit best; within it the edge is where
    light passes half-way between the two.
    """
    gap = max(round(1.2 * px_mm / ACROSS_MM), 1)
    length = max(round(max(FIT_MM, 4 * px_mm) / ACROSS_MM), 4)
    light = gaussian_filter1d(band.light.astype(float), 1.5, axis=0, mode="wrap")
    inner, outer = _side_lines(light, length, gap), _side_lines(light[:, ::-1], length, gap)
    outer = _Lines(outer.misfit[:, ::-1], outer.ahead[:, ::-1])
    misfit = inner.misfit + outer.misfit
    floor = 1e-6 + 0.02 * np.median(misfit, axis=1, keepdims=True)
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


def _side_lines(light: FloatArray, length: int, gap: int) -> _Lines:
    """Straight lines through the ``length`` places before each place, ``gap`` left out next to it."""
    at = np.arange(length) - (length - 1) / 2
    spread = float(at @ at)
    pad = length + gap
    padded = np.concatenate([np.repeat(light[:, :1], pad, axis=1), light], axis=1)
    windows = np.lib.stride_tricks.sliding_window_view(padded, length, axis=1)[:, : light.shape[1]]
    mean = windows.mean(axis=-1)
    slope = windows @ at / spread
    misfit = np.sum((windows**2).sum(axis=-1) - length * mean**2 - slope**2 * spread, axis=-1)
    to_place = (length - 1) / 2 + gap + 1
    misfit[:, :pad] = np.inf
    return _Lines(np.maximum(misfit, 0), mean + slope * to_place)


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
