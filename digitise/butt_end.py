"""The end of a butt cap is straight: what a search along the outline makes of it is put right."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from digitise.band import ACROSS_MM, Band, even_ring
from digitise.edge import EDGE_WORTH, Evidence
from digitise.tone import FloatArray

BUTT_UNEVEN_MM, BUTT_DEPTH_MM = 1.0, 14.0
"""How far the butt's end may stray from a straight line, and how deep a rough shape's butt reaches."""
HORN_SHARE = 0.5
"""Share of the butt's width, in its middle, that says where it ends."""


def flat_butt(band: Band, offset_mm: FloatArray, evidence: Evidence) -> FloatArray:
    """Offsets (n,) with the butt's end straightened to where, across its whole width, the evidence is best.

    Butt caps end straight; a shadow's border seldom runs square to the axis just there. Where light falls
    on a cap's rounded end there is often a stronger step inside than at the table: what lies outside counts.
    """
    end = _butt_end(band.base_mm) & (band.normal[:, 1] < -0.9)
    if end.sum() < 8:
        return offset_mm
    base_y, slope = band.base_mm[end, 1], band.normal[end, 1]
    rows = np.flatnonzero(end)
    gain = EDGE_WORTH * evidence.strength + evidence.outside
    places_mm = np.median(base_y) - band.offset_mm
    gains = []
    for place_mm in places_mm:
        at = np.rint(((place_mm - base_y) / slope - band.offset_mm[0]) / ACROSS_MM).astype(int)
        gains.append(gain[rows, np.clip(at, 0, gain.shape[1] - 1)].mean())
    best_mm = float(places_mm[int(np.argmax(gains))])
    y_mm = base_y + offset_mm[end] * slope
    mended = offset_mm.copy()
    mended[end] = np.where(
        np.abs(y_mm - best_mm) > BUTT_UNEVEN_MM, (best_mm - base_y) / slope, offset_mm[end]
    )
    return mended


def _butt_end(ring_mm: FloatArray) -> npt.NDArray[np.bool_]:
    """Points (n,) of the butt's end, without its corners."""
    low = ring_mm[:, 1] < ring_mm[:, 1].min() + BUTT_DEPTH_MM
    half = float(np.abs(ring_mm[low, 0]).max())
    return np.asarray(low & (np.abs(ring_mm[:, 0]) < 0.8 * half))


def straight_butt(ring_mm: FloatArray) -> FloatArray:
    """The ring, begun at the butt's middle, with that end cut straight across from corner to corner.

    So no spur of the rough shape, where a shadow lies under the butt, stands in the way of the search.
    """
    sides = ring_mm[~_butt_end(ring_mm)]
    middle = np.array([[0.0, (sides[0, 1] + sides[-1, 1]) / 2]])
    return even_ring(np.vstack([middle, sides]), 1.0)


def without_horns(ring_mm: FloatArray) -> FloatArray:
    """The ring (n, 2) with what sticks out below the butt's middle at its corners cut off level with it: no
    butt cap is hollow at its end, but the search can't turn as sharply as its corners do."""
    end = ring_mm[:, 1] < ring_mm[:, 1].min() + BUTT_DEPTH_MM
    half_mm = float(np.abs(ring_mm[end, 0]).max())
    middle = end & (np.abs(ring_mm[:, 0]) < HORN_SHARE * half_mm)
    if not middle.any():
        return ring_mm
    level_mm = float(np.median(ring_mm[middle, 1]))
    return np.column_stack([ring_mm[:, 0], np.maximum(ring_mm[:, 1], level_mm)])
