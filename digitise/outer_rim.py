"""A rim of the table's colour all round a face that stands out: its faint border outside the strong one.

The rough search looks for such rims too, on its coarse grid; here the photo's own pixels are asked. At no
single place does the border stand out, but it runs smoothly round the head, on both sides alike.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter, maximum_filter1d

from digitise.band import ACROSS_MM, ALONG_MM, Band
from digitise.best_line import best_closed_line
from digitise.border_odds import border_odds, of_both
from digitise.table_model import Mask, log_colour
from digitise.tone import FloatArray

REACH_MM = (4.0, 30.0)
NARROWEST_MM, WIDEST_MM, TABLE_MM = 4.0, 22.0, 18.0
"""Widths of rims as they are seen; and from how far outside on it is mostly table."""
BLUR_ALONG_MM, BLUR_MM = 1.5, 0.4
SLACK = 5
"""Places across, ACROSS_MM apart, within which the two sides may find the border."""
STEP_COST, MAX_STEPS = 4.0, 2
"""Cost of a place's step across from one place along to the next, and the most steps."""
HEAD_SHARE, BLEND_MM = 0.22, 15.0
"""Share of the largest half width from which on it is head, and over what length the rim begins."""
LEAST_ODDS = -1.4
"""Mean log odds that the second border has at least; where there is none the best line has less than -1.7."""
RULED_OUT = -30.0


@dataclass(frozen=True, eq=False)
class OuterRim:
    """The ring (n, 2) round a faint rim, which is ``width_mm`` wide."""

    ring_mm: FloatArray
    width_mm: float


def find_outer_rim(band: Band) -> OuterRim | None:
    """The rim that runs outside the symmetric ring of ``band``; None if none does.

    ``band`` reaches from REACH_MM[0] inside to REACH_MM[1] outside; its point i mirrors point -i.
    """
    blur = (BLUR_ALONG_MM / ALONG_MM, BLUR_MM / ACROSS_MM, 0)
    colour = gaussian_filter(log_colour(band.light).astype(float), blur, mode=("wrap", "nearest", "nearest"))
    odds = border_odds(colour, 1, ACROSS_MM, band.offset_mm > TABLE_MM)
    odds = maximum_filter1d(odds, SLACK, axis=1)
    both = of_both(odds, np.roll(odds[::-1], 1, axis=0))
    head = _head(band.base_mm)
    rim = (band.offset_mm >= NARROWEST_MM) & (band.offset_mm <= WIDEST_MM)
    gain = np.where(rim, np.where(head[:, None], both, 0.0), RULED_OUT)
    line = best_closed_line(gain, STEP_COST, MAX_STEPS)
    if float(both[np.arange(len(line)), line][head].mean()) < LEAST_ODDS:
        return None
    begun = np.clip((band.base_mm[:, 1] - band.base_mm[head, 1].min()) / BLEND_MM + 1, 0, 1)
    offset_mm = band.offset_mm[line]
    return OuterRim(band.points_mm(begun * offset_mm), float(np.median(offset_mm[head])))


def _head(ring_mm: FloatArray) -> Mask:
    """Which points (n,) lie beyond the place where the head begins."""
    half_mm = np.abs(ring_mm[:, 0])
    wide = half_mm > HEAD_SHARE * half_mm.max()
    return np.asarray(ring_mm[:, 1] > ring_mm[wide, 1].min())
