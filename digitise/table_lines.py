"""Lines of the table that run along an outline for a while: a printed grid's, boards' and tiles' joints.

A racquet's own border follows the outline round its curves. A table's line goes straight on where the outline
turns away from it.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.ndimage import maximum_filter1d
from scipy.spatial import cKDTree

from digitise.band import Band
from digitise.ring_runs import ring_runs, run_rows
from digitise.table_model import Mask
from digitise.tone import FloatArray, Image

FROM_MM, TO_MM = 4.0, 32.0
"""How far beyond a stretch's end a line is looked for."""
LEAST_PLACES, LEAST_SHARE, SEEN = 5, 0.75, 0.5
"""At how many places, 1 mm apart, it must be looked for, the share of them where it must be seen, and the
strength of an edge that is seen."""
TURNED_MM = 1.5
"""By how much the outline must have turned away there, for only then it tells anything."""
ASIDE_MM, SLACK_MM = 1.0, 0.75
"""How far beside a row's normal a place may lie that is looked up on it, and how exactly a line goes on."""


def without_lines(along: Mask, at_mm: FloatArray, strength: Image, band: Band) -> Mask:
    """``along`` (n,), where an edge runs ``at_mm`` (n,) outside the outline, without the stretches in which a
    line of the table does, on either side. ``strength`` (n, k) of edges in ``band``."""
    if along.all() or not along.any():
        return along
    kept = along.copy()
    seen = maximum_filter1d(
        strength, round(2 * SLACK_MM / (band.offset_mm[1] - band.offset_mm[0])) + 1, axis=1
    )
    tree = cKDTree(band.base_mm)
    for first, last in ring_runs(along):
        rows = run_rows(first, last, len(along))
        if _goes_on(rows, at_mm, seen, band, tree):
            kept[rows] = kept[-rows % len(kept)] = False
    return kept


def _goes_on(rows: npt.NDArray[np.int64], at_mm: FloatArray, seen: Image, band: Band, tree: cKDTree) -> bool:
    """Whether the straight line through a stretch is seen beyond either end, where the outline turns away."""
    points = band.base_mm[rows] + at_mm[rows, None] * band.normal[rows]
    if len(points) < FROM_MM:
        return False
    middle = points.mean(axis=0)
    way = np.linalg.svd(points - middle, full_matrices=False)[2][0]
    reach = (points - middle) @ way
    beyond = np.arange(FROM_MM, TO_MM)
    sides = (reach.max() + beyond, reach.min() - beyond)
    usual_mm = float(np.median(at_mm[rows]))
    return any(_is_seen(middle + along[:, None] * way, usual_mm, seen, band, tree) for along in sides)


def _is_seen(places: FloatArray, usual_mm: float, seen: Image, band: Band, tree: cKDTree) -> bool:
    row = tree.query(places)[1]
    from_base = places - band.base_mm[row]
    normal = band.normal[row]
    out_mm = np.sum(from_base * normal, axis=1)
    aside_mm = np.abs(from_base[:, 0] * normal[:, 1] - from_base[:, 1] * normal[:, 0])
    within = (aside_mm < ASIDE_MM) & (out_mm > usual_mm + TURNED_MM) & (out_mm < band.offset_mm[-1] - 1.0)
    if within.sum() < LEAST_PLACES:
        return False
    step_mm = band.offset_mm[1] - band.offset_mm[0]
    columns = np.rint((out_mm[within] - band.offset_mm[0]) / step_mm).astype(int)
    return bool((seen[row[within], columns] > SEEN).mean() >= LEAST_SHARE)
