"""A rim that is equally wide all round the head: what its border adds up to, sector by sector.

Each sector of the head has one course of colour outward, the median over all its places: lines of a mat,
joints of tiles and letters fall out of it, and noise and grain nearly do. A rim ends at one distance in all
sectors with one step of colour. A shadow, whose border lies elsewhere in each, does not, nor does table.
"""

from __future__ import annotations

import numpy as np

from digitise.band import ACROSS_MM, Band
from digitise.head_sectors import agreed, courses, steps_outward
from digitise.outer_rim import OuterRim, begun_at_head, free_of, smoothed
from digitise.table_model import Mask
from digitise.tone import FloatArray, Image

STEP_MM, WINDOW_MM = 0.5, 1.5
"""How far apart it is looked at, and over what distance colour is averaged on either side of a border."""
FROM_MM, TO_MM = 3.0, 15.5
"""Widths of rims; nearer borders blur into the one inside them."""
TABLE_MM = (17.0, 23.5)
"""Where outward it is mostly table: how unlike its steps are in different sectors is told there."""
LEAST_STEP, NARROW_MM, LEAST_NARROW = 2.1, 5.25, 3.3
"""The common step at a border, in sds, at least, and within this distance, where the dark gap under a rounded
edge is; of 771 photos without such a rim none has more."""
CLEAR_MM, SLOPE = 2.0, 0.8
"""So far from a border the step is less than this share of its own: that of a slope, which is a shadow's, is
not. Nearer than NARROW_MM the border inside it is seen there."""


def find_steady_rim(band: Band, bare: Mask, narrower_mm: FloatArray) -> OuterRim | None:
    """The rim of one width outside the symmetric ring of ``band``; None if none shows.

    ``band`` reaches at least TABLE_MM[1] + WINDOW_MM outside; ``bare`` (n, k): where neither card nor the
    photo's edge is; ``narrower_mm`` (n,): by how much the rim looks narrower than it is.
    """
    width_mm = np.arange(0.0, TABLE_MM[1] + WINDOW_MM, STEP_MM)
    seen = _courses(band, bare, narrower_mm, width_mm)
    found_mm = _common_border(seen, width_mm) if len(seen) else None
    if found_mm is None:
        return None
    offset_mm = begun_at_head(band.base_mm) * np.maximum(found_mm - narrower_mm, 0.0)
    return OuterRim(band.points_mm(offset_mm), found_mm)


def _courses(band: Band, bare: Mask, narrower_mm: FloatArray, width_mm: FloatArray) -> Image:
    """Log colour (s, k, 3) at distances ``width_mm`` (k,) outward as a rim's width is told, of each sector
    of the head that is seen."""
    _, colour = smoothed(band)
    columns = (width_mm - narrower_mm[:, None] - band.offset_mm[0]) / ACROSS_MM
    columns = np.clip(np.rint(columns), 0, colour.shape[1] - 1).astype(np.intp)
    return courses(colour, columns, band.normal, free_of(band, bare))


def _common_border(seen: Image, width_mm: FloatArray) -> float | None:
    """Where the steps of most courses (s, k, 3) agree best, if they do."""
    step = steps_outward(seen, round(WINDOW_MM / STEP_MM))
    table = step[:, (width_mm >= TABLE_MM[0]) & (width_mm <= TABLE_MM[1])].reshape(-1, 3)
    common = agreed(step, table.T @ table / len(table))
    narrow, places = width_mm < NARROW_MM, round(CLEAR_MM / STEP_MM)
    peak = (width_mm >= FROM_MM) & (width_mm <= TO_MM)
    peak &= (common >= np.roll(common, 1)) & (common >= np.roll(common, -1))
    peak &= common > np.where(narrow, LEAST_NARROW, LEAST_STEP)
    peak &= np.roll(common, -places) < SLOPE * common
    peak &= narrow | (np.roll(common, places) < SLOPE * common)
    if not peak.any():
        return None
    return float(width_mm[int(np.where(peak, common, -np.inf).argmax())])
