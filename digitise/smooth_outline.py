"""The traced rings as smooth curves with as few points as the noise of the edge justifies.

How far edge points stray from the line is told by the racquet's two sides: half their difference is known,
root mean square, and an edge point's own error is the square root of two of it. A faint edge strays farther.
The curve may leave the traced line by so much that the edge points' mean square distance from it grows by no
more than what chance makes of that mean itself: of n independent points by the share sqrt(2 / n).
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree

from digitise.contour import RIPPLE_ROWS, Contour
from digitise.doubt import Doubt
from digitise.ring_runs import run_rows
from digitise.tone import FloatArray
from model.errors import OutlineError
from model.outline import Outline
from model.smooth import Smooth
from model.spline import Curve
from model.spline_fit import fit_curve

CLEAR, FAINTER = 0.9, 5.0
"""Edge strength from which on points stray least, and by how many times as much more per strength below it:
on 18 photos twice at 0.7, three times at 0.5, four times at 0.3."""
DOUBTED = 2.0
"""How many times as far points stray in doubtful stretches, at least."""
LINE_SDS_MM = (0.03, 0.05)
"""Least and most sd of a line. With more the rounded corners of a butt, whose edge is faint, would be cut."""

FAR_OUT_MM, END_SD_MM = 0.3, 0.02
"""Places that length and width hang on lie this near to the ends and sides: the curve keeps close there."""


def smoothed(
    outline: Outline, contour: Contour, doubts: tuple[Doubt, ...], sides_apart_mm: float
) -> tuple[Outline, Smooth | None]:
    """The curves of an outline's rings, and the rings of the curves.

    ``sides_apart_mm`` is half the two sides' difference, root mean square. The outline as it was and no
    curves where these cross themselves or each other as the rings do not.
    """
    edge_sd_mm, stray = edge_noise(contour, doubts, sides_apart_mm)
    share = (2 * RIPPLE_ROWS / len(contour.ring_mm)) ** 0.25
    line_sd = np.clip(share * edge_sd_mm * stray, *LINE_SDS_MM)
    line_sd[_far_out(contour.ring_mm)] = END_SD_MM
    nearest = cKDTree(contour.ring_mm).query(outline.outer_mm)[1]
    try:
        outer = fit_curve(outline.outer_mm, line_sd[nearest])
        smooth = Smooth(outer, _fitted_once(outline.openings_mm, float(np.median(line_sd))), edge_sd_mm)
        return smooth.outline(), smooth
    except OutlineError:
        return outline, None


def edge_noise(
    contour: Contour, doubts: tuple[Doubt, ...], sides_apart_mm: float
) -> tuple[float, FloatArray]:
    """The sd of a clear edge point about the line, mm, and how many times as far each (n,) strays."""
    stray = 1 + FAINTER * np.clip(CLEAR - contour.strength, 0, None)
    for doubt in doubts:
        where = run_rows(doubt.first, doubt.last, len(stray))
        stray[where] = np.maximum(stray[where], DOUBTED)
    typical = float(np.sqrt(np.mean(stray**2)))
    return max(math.sqrt(2) * sides_apart_mm / typical, LINE_SDS_MM[0]), stray


def _far_out(ring_mm: FloatArray) -> npt.NDArray[np.bool_]:
    """Where (n,) a ring lies within FAR_OUT_MM of a line that touches it at an end or at a side."""
    low, high = ring_mm.min(axis=0), ring_mm.max(axis=0)
    return np.asarray(((ring_mm < low + FAR_OUT_MM) | (ring_mm > high - FAR_OUT_MM)).any(axis=1))


def _fitted_once(rings_mm: tuple[FloatArray, ...], sd_mm: float) -> tuple[Curve, ...]:
    """The curve of each ring (n, 2), worked out once for rings that are the same but for their place."""
    known: dict[bytes, Curve] = {}
    found = []
    for ring in rings_mm:
        middle = ring.mean(axis=0)
        shape = np.round(ring - middle, 6)
        key = (shape + 0.0).tobytes()
        if key not in known:
            known[key] = fit_curve(shape, sd_mm)
        found.append(known[key].moved(middle))
    return tuple(found)
