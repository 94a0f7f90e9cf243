"""What looks like table in a band along the racquet's rough outline: in the open, in shadow, or hardly.

The table is known from what lies well outside the outline, and from the map of the table.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from digitise.band import Band
from digitise.row_median import row_median
from digitise.table_model import Mask
from digitise.table_shade import shade_of
from digitise.tone import FloatArray, Image

SURE_RACQUET = 0.8
"""How much a place surely unlike the table speaks against being outside, where sure table counts 1: a
shadow tinted by the racquet is unlike it too."""
PERSISTENT_ROWS = 11
"""What lies outside the line counts where it goes along with it for half of this many mm: a line of the
table that runs under the racquet does not."""
NEAR_ROWS, PALETTE = 42, 12
"""How far along the outline, in mm, the looks of the table are taken from."""
SHADOW_TINT = 0.2
"""The colour ratios of a place darker than a look of the table may differ by this share of the darkening from
what that makes of them: a shadow is lit by other light than the open table."""
AT_ONCE = 24_000
"""Places of the band reckoned in one go, so that they stay in the processor's nearest memory."""


@dataclass(frozen=True, eq=False)
class Ground:
    """What the flat view knows of the table along a band: ``colour`` (n, 3), its log colour under the band's
    base; ``bare`` (n, k), where neither card nor frame's edge is; ``spread`` (3,) of its texture; ``shade``
    (3,), by how much its colour differs in a shadow that is known."""

    colour: FloatArray
    bare: Mask
    spread: FloatArray
    shade: FloatArray | None = None


def table_evidence(colour: Image, band: Band, ground: Ground, clear_mm: float) -> Image:
    """For each place (n, k) how much it speaks for table: 1 sure table, down to -SURE_RACQUET.

    It is table if it looks like the table in the open, or like any place near by that lies at least
    ``clear_mm`` outside the rough outline: shadows, lines and grain are among those.
    """
    shaded = [] if ground.shade is None else [(ground.colour + ground.shade).astype(ground.colour.dtype)]
    looks = ground.colour, *shaded, *_looks(colour, ground.bare, band.offset_mm, clear_mm)
    # Every second place along and across is enough for what is then summed over millimetres.
    few = np.stack([look[::2] for look in looks])
    distance2 = _least_distance2(colour[::2, ::2], few, ground.spread)
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
            near.append(look if seen.all() else np.where(seen[:, None], look, np.median(look[seen], axis=0)))
    if sum(map(len, samples)) < PALETTE:
        return near
    cv2.setRNGSeed(1)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 20, 0.01)
    both = np.concatenate(samples).astype(np.float32)
    _, _, typical = cv2.kmeans(both, PALETTE, np.empty(0, np.int32), stop, 1, cv2.KMEANS_PP_CENTERS)
    count = len(colour)
    around = np.arange(-NEAR_ROWS, count + NEAR_ROWS) % count
    looks = [
        look[first : first + count]
        for look in (each[around] for each in near)
        for first in range(0, 2 * NEAR_ROWS + 1, 14)
    ]
    return looks + [np.broadcast_to(look, near[0].shape) for look in typical]


def _least_distance2(colour: Image, looks: Image, spread: FloatArray) -> Image:
    """Squared distance (n, k), in multiples of the table's spread, of ``colour`` (n, k, 3) from the nearest
    of ``looks`` (m, n, 3); darker counts less, as in a shadow, whose tint fades and may be another.
    """
    # One plane for each channel, some rows at a time and no new arrays: this is done for dozens of looks.
    planes = np.ascontiguousarray(np.moveaxis(colour, 2, 0), np.float32)
    wanted = np.ascontiguousarray(np.moveaxis(looks, 2, 0)[..., None], np.float32)
    scale = np.maximum(1.5 * spread, [0.05, 0.02, 0.02]).astype(np.float32)
    shade = shade_of(looks, float(scale[0]))
    lighter, darker = 1 / scale[0], -1 / shade.depth[..., None]
    fading = np.ascontiguousarray(np.moveaxis(shade.fading, 2, 0)[..., None], np.float32)
    least = np.full(planes.shape[1:], np.inf, np.float32)
    few = max(AT_ONCE // planes.shape[2], 1)
    for rows in (slice(first, first + few) for first in range(0, len(colour), few)):
        rest = np.empty_like(planes[:, rows])
        tint2, sum2, faded = np.empty_like(rest[0]), np.empty_like(rest[0]), np.empty_like(rest[0])
        none = np.zeros_like(rest[0])  # numpy is five times slower with a single zero
        for look in range(len(looks)):
            np.subtract(planes[:, rows], wanted[:, look, rows], out=rest)
            np.minimum(rest[0], none, out=tint2)
            for ratio in (1, 2) if fading[:, look].any() else ():
                np.multiply(tint2, fading[ratio - 1, look, rows], out=faded)
                np.subtract(rest[ratio], faded, out=rest[ratio])
            np.multiply(tint2, np.float32(SHADOW_TINT), out=tint2)
            np.multiply(tint2, tint2, out=tint2)
            np.multiply(rest[0], lighter, out=sum2)
            np.multiply(rest[0], darker[look, rows], out=rest[0])
            np.maximum(sum2, rest[0], out=sum2)
            np.multiply(sum2, sum2, out=sum2)
            for ratio in (1, 2):
                np.multiply(rest[ratio], rest[ratio], out=rest[ratio])
                np.add(tint2, scale[ratio] ** 2, out=rest[0])
                np.divide(rest[ratio], rest[0], out=rest[0])
                np.add(sum2, rest[0], out=sum2)
            np.minimum(least[rows], sum2, out=least[rows])
    return least
