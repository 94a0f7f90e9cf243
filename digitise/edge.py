"""The racquet's edge in a band along its rough outline, to a fraction of a pixel.

Across the band there may be several edges: the racquet's own, its edge band's inner border, a print, a
shadow's, lines of the table. The racquet's is a sharp one with nothing but table outside, lit or in
shadow. The best closed line is found by dynamic programming, then moved to where the light says.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.ndimage import gaussian_filter1d, median_filter, uniform_filter1d

from digitise.band import ACROSS_MM, Band
from digitise.table_model import Image, log_colour
from digitise.tone import FloatArray

COLOUR_WEIGHT = np.array([1.0, 1.5, 1.5], np.float32)
WINDOW_MM = 0.5
OUTSIDE_MM = 2.5
"""Farther out than this from the rough outline a band shows table, mostly."""
EDGE_HALF_STRENGTH = 0.06
"""Step of log colour at which an edge counts half of a strong one on a table without texture."""
EDGE_WORTH, OUTSIDE_WORTH = 3.0, 0.6
"""Worth of a full edge under the line, and of a millimetre of sure table outside it."""
STRAY_EDGE, STRAY_COST = 0.5, 0.5
"""Edges stronger than this outside the line are doubtful, at this cost per millimetre."""
STEP_COST, MAX_STEPS = 0.3, 4
"""Cost of moving one column over between rows; the line may slope by up to MAX_STEPS columns a row."""
PERSISTENT_ROWS = 21
"""What lies outside the line counts where it goes along with it for half of this many mm: a line of the
table that runs under the racquet does not."""
FOOT = 0.2
SHADOW_DEPTH, SHADOW_TINT = 0.8, 0.2
"""A place this much darker (log) than the table is one spread away, and its colour ratios may change by
this share of the darkening: a shadow is lit by other light than the table."""


@dataclass(frozen=True, eq=False)
class Evidence:
    """For each place of the band (n, k): ``strength`` 0 to 1 of an edge there, and ``outside``, what
    speaks for nothing but table from there outward, in the units of a full edge's worth."""

    strength: Image
    outside: Image


def weigh(band: Band, table_colour: Image, table_spread: FloatArray, px_mm: float) -> Evidence:
    """Evidence for the racquet's edge; ``table_colour`` (n, 3) is the bare table's log colour along it.

    ``px_mm`` is the size of a pixel of the photo on the table.
    """
    colour = gaussian_filter1d(log_colour(band.light), 1.5, axis=0, mode="wrap")
    strength = edge_strength(colour, band.offset_mm, max(WINDOW_MM, 1.5 * px_mm))
    likeness = _table_evidence(colour, band, table_colour, table_spread)
    stray = median_filter(np.maximum(strength - STRAY_EDGE, 0), (PERSISTENT_ROWS, 1), mode="wrap")
    outside = OUTSIDE_WORTH * _beyond(likeness) - STRAY_COST * _beyond(stray)
    return Evidence(strength, outside)


def _beyond(values: Image) -> Image:
    """Integral over mm of ``values`` (n, k) from each place outward to the band's border."""
    return np.asarray(np.cumsum(values[:, ::-1], axis=1)[:, ::-1] * ACROSS_MM)


def edge_strength(colour: Image, offset_mm: FloatArray, window_mm: float) -> Image:
    """Strength 0 to 1 of a step of log colour (n, k, 3) across each place of the band, (n, k).

    Compared are the means of ``window_mm`` on either side, so that soft edges count little. The table's
    own texture, as strong as most of what lies well outside, is discounted.
    """
    cells = max(int(round(window_mm / ACROSS_MM)), 1)
    means = uniform_filter1d(colour, cells, axis=1, mode="nearest")
    gap = (cells + 1) // 2
    inner = np.roll(means, gap, axis=1)
    outer = np.roll(means, -gap, axis=1)
    step = np.sqrt(np.sum(((outer - inner) * COLOUR_WEIGHT) ** 2, axis=2))
    step[:, : 2 * gap] = 0
    step[:, -2 * gap :] = 0
    texture = np.quantile(step[:, offset_mm > OUTSIDE_MM], 0.6, axis=1)
    texture = median_filter(texture, 31, mode="wrap")[:, None]
    return np.asarray(step / (step + EDGE_HALF_STRENGTH + 1.5 * texture))


def _table_evidence(colour: Image, band: Band, table_colour: Image, spread: FloatArray) -> Image:
    """For each place (n, k) how much it speaks for table: 1 sure table, down to -1.5 sure racquet.

    The table is taken as the flat view knows it, or as it looks just outside: either will do.
    """
    outer = np.median(colour[:, band.offset_mm > OUTSIDE_MM], axis=1)
    near = median_filter(outer, (31, 1), mode="wrap")
    distance = np.minimum(
        _distance(colour - table_colour[:, None, :], spread), _distance(colour - near[:, None, :], spread)
    )
    evidence = np.clip(1.0 - distance**2 / 2, -1.5, 1.0)
    return np.asarray(median_filter(evidence, (PERSISTENT_ROWS, 1), mode="wrap"))


def _distance(rest: Image, spread: FloatArray) -> Image:
    darker = np.maximum(-rest[..., 0], 0)
    lighter = np.maximum(rest[..., 0], 0)
    tint = np.sqrt((1.3 * spread[1:]) ** 2 + (SHADOW_TINT * darker[..., None]) ** 2)
    return np.asarray(
        np.sqrt(
            (lighter / max(1.5 * spread[0], 0.05)) ** 2
            + (darker / SHADOW_DEPTH) ** 2
            + np.sum((rest[..., 1:] / tint) ** 2, axis=-1)
        )
    )


def best_closed_line(gain: Image, step_cost: float = STEP_COST) -> npt.NDArray[np.int64]:
    """Column (n,) of each row of ``gain`` (n, k), cyclic in n, that gains most in all."""
    rows, cols = gain.shape
    lead = min(rows, 200)
    unrolled = np.vstack([gain[-lead:], gain, gain[:lead]])
    steps = np.arange(-MAX_STEPS, MAX_STEPS + 1)
    cost = step_cost * np.abs(steps)[:, None]
    came = np.empty(unrolled.shape, np.int8)
    total = unrolled[0].copy()
    here = np.arange(cols)
    for row in range(1, len(unrolled)):
        padded = np.pad(total, MAX_STEPS, constant_values=-np.inf)
        options = np.stack([padded[k : k + cols] for k in range(2 * MAX_STEPS + 1)]) - cost
        choice = np.argmax(options, axis=0)
        came[row] = steps[choice]
        total = options[choice, here] + unrolled[row]
    line = np.empty(len(unrolled), int)
    line[-1] = int(np.argmax(total))
    for row in range(len(unrolled) - 1, 0, -1):
        line[row - 1] = line[row] + came[row, line[row]]
    return line[lead : lead + rows]


def light_edge(band: Band, columns: npt.NDArray[np.int64], px_mm: float) -> FloatArray:
    """Sub-pixel offsets (n,) near ``columns``: where the step in linear light begins, less the blur.

    A rounded rim turns dark towards its border, so the steepest place lies inside the racquet. The foot
    of the step, where it has risen by FOOT, stands outside the border by what the lens blurs and no more.
    """
    reach = int(round(max(1.5, 4 * px_mm) / ACROSS_MM))
    tail = max(reach // 3, 1)
    at = np.clip(columns[:, None] + np.arange(reach, -reach - 1, -1), 0, len(band.offset_mm) - 1)
    light = np.take_along_axis(band.light, at[..., None], axis=1).astype(float)
    light = gaussian_filter1d(light, 1.5, axis=0, mode="nearest")
    outer, inner = light[:, :tail].mean(axis=1), light[:, -tail:].mean(axis=1)
    step = inner - outer
    size = np.maximum(np.linalg.norm(step, axis=1), 1e-6)
    rise = np.einsum("nkc,nc->nk", light - outer[:, None, :], step / size[:, None] ** 2)
    foot, shoulder = (_first_crossing(rise, level) for level in (FOOT, 1 - FOOT))
    blur = float(np.quantile(shoulder - foot, 0.2)) / 2
    shift = (reach - foot - blur) * ACROSS_MM
    return band.offset_mm[columns] + np.clip(shift, -1.5, 1.5)


def _first_crossing(rise: FloatArray, level: float) -> FloatArray:
    """Column (n,), with its fraction, at which each row of ``rise`` (n, k) first passes ``level``."""
    above = rise >= level
    first = np.maximum(np.argmax(above, axis=1), 1)
    rows = np.arange(len(rise))
    before, after = rise[rows, first - 1], rise[rows, first]
    return first - 1 + np.clip((level - before) / np.maximum(after - before, 1e-9), 0, 1)
