"""A rim is as wide along the shoulders as everywhere else: what fell to its inner border is moved out.

Round most of a head the outline runs along the rim's outer border, and the face begins at one distance inside
it. Where the face begins nearer, over some length and on both sides, the search took the strong inner border
there for the outline, because the outer one hardly differs from the table. A lens looks at the far side of a
thick face from above: its rim looks narrower there, by how much it is rounded.
"""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter1d, label, median_filter

from digitise.band import ACROSS_MM, ALONG_MM, Band, mirrored
from digitise.band_filters import COLOUR_WEIGHT, colour_distance
from digitise.outer_rim import LEAST_ODDS, OuterRim, head_of, odds_on_both, smoothed
from digitise.table_model import Mask
from digitise.tone import FloatArray, Image

REACH_MM = (24.0, 26.0)
NARROWEST_MM, EVEN_MM, EVEN_SHARE = 4.0, 1.0, 0.5
"""Widths of rims as they are seen, how even they are, and over what share of the head at least."""
CLEAR_ODDS, APART = 1.0, 0.3
"""Log odds of a clear inner border, and by how much (log) face and rim differ in colour at least."""
STRIP_MM, FACE_MM = 3.0, 1.0
"""Depth of the strips whose colours are compared, and how deep the face's colour must reach."""
MISSING_MM, LEAST_MM = 1.5, 8.0
"""What is missing of a rim's width, and over what length, for it to be mended."""
NEAR_MM, BLEND_MM = 2.0, 3.0
"""How far from its place a border may lie, and over what length a part begins."""


def find_even_rim(band: Band, bare: Mask, narrower_mm: FloatArray, rounded_mm: float) -> OuterRim | None:
    """The outline with its rim made even; None if no rim is seen, or nothing of it is missing.

    ``band`` lies along a symmetric ring and reaches from REACH_MM[0] inside to REACH_MM[1] outside; its
    point i mirrors point -i. ``bare`` (n, k): where neither card nor the photo's edge is. ``narrower_mm``
    (n,): by how much the rim looks narrower than it is. What lies within ``rounded_mm`` of the outline is on
    the face's rounded edge: a border there is one of light and shade.
    """
    _, colour = smoothed(band)
    both = odds_on_both(colour, band.offset_mm, bare)
    width_mm, usual = _usual_width(band, both, narrower_mm, max(NARROWEST_MM, rounded_mm))
    if not usual.any():
        return None
    depth_mm = _face_depth(colour[usual], colour, band.offset_mm, width_mm - narrower_mm[usual])
    if depth_mm is None:
        return None
    missing_mm = _missing(both, band.offset_mm, width_mm, depth_mm + narrower_mm)
    if not missing_mm.any():
        return None
    return OuterRim(band.points_mm(gaussian_filter1d(missing_mm, BLEND_MM / ALONG_MM, mode="wrap")), width_mm)


def _usual_width(
    band: Band, both: FloatArray, narrower_mm: FloatArray, narrowest_mm: float
) -> tuple[float, Mask]:
    """The rim's width over most of the head, and the rows (n,) that show it: none if it is not even."""
    inside = band.offset_mm <= -NARROWEST_MM / 2
    odds, offset_mm = both[:, inside], band.offset_mm[inside]
    # Strong borders are equally likely over some places: the middle of these counts.
    width_mm = -(offset_mm[odds.argmax(axis=1)] + offset_mm[::-1][odds[:, ::-1].argmax(axis=1)]) / 2
    width_mm = width_mm + narrower_mm
    head = head_of(band.base_mm)
    clear = head & (odds.max(axis=1) > CLEAR_ODDS)
    tried_mm = np.arange(narrowest_mm, REACH_MM[0] - STRIP_MM, ACROSS_MM)
    alike = clear[:, None] & (np.abs(width_mm[:, None] - tried_mm) <= EVEN_MM)
    usual = alike[:, int(alike.sum(axis=0).argmax())]
    if usual.sum() < EVEN_SHARE * head.sum():
        return 0.0, np.zeros(len(head), bool)
    return float(np.median(width_mm[usual])), usual


def _face_depth(
    usual: Image, colour: Image, offset_mm: FloatArray, width_mm: FloatArray
) -> FloatArray | None:
    """How far inside the outline the face's colour begins (n,) in ``colour`` (n, k, 3), nan where not.

    None if the rim's colour is the same, or what lies outside looks like the face: then it may be table seen
    through strings. ``usual`` (m, k, 3) are the places that show a rim, ``width_mm`` (m,) as it looks there.
    """

    def strip(low_mm: FloatArray, high_mm: FloatArray) -> FloatArray:
        part = (offset_mm >= low_mm[:, None]) & (offset_mm <= high_mm[:, None])
        means = np.einsum("nkc,nk->nc", usual, part) / np.maximum(part.sum(axis=1), 1)[:, None]
        return np.asarray(np.median(means, axis=0))

    edge_mm = np.zeros_like(width_mm)
    rim = strip(-width_mm + 1, edge_mm - 1)
    face = strip(-width_mm - STRIP_MM, -width_mm - 1)
    outside = strip(edge_mm + 1, edge_mm + STRIP_MM)
    if _apart(face, rim) < APART or _apart(outside, face) < _apart(outside, rim):
        return None
    to_rim, to_face = (colour_distance(colour, look) for look in (rim, face))
    inside = offset_mm <= 0
    inward = (to_face < to_rim)[:, inside][:, ::-1]
    deep = round(FACE_MM / ACROSS_MM)
    lasting: Mask = np.all(np.lib.stride_tricks.sliding_window_view(inward, deep, axis=1), axis=-1)
    return np.where(np.any(lasting, axis=1), lasting.argmax(axis=1) * ACROSS_MM, np.nan)


def _apart(one: FloatArray, other: FloatArray) -> float:
    return float(np.linalg.norm((one - other) * COLOUR_WEIGHT))


def _missing(both: FloatArray, offset_mm: FloatArray, width_mm: float, depth_mm: FloatArray) -> FloatArray:
    """By how much (n,) the outline is moved out: by what is missing of the rim's width, where both sides show
    that and a border may lie there."""
    lacking = width_mm - (depth_mm + mirrored(depth_mm)) / 2
    seen = np.abs(depth_mm - mirrored(depth_mm)) < MISSING_MM
    lacking = median_filter(np.where(seen, lacking, 0.0), 5, mode="wrap")
    parts, count = label(lacking > MISSING_MM)
    kept = np.zeros(len(lacking))
    for part in (np.flatnonzero(parts == k) for k in range(1, count + 1)):
        if len(part) * ALONG_MM < LEAST_MM:
            continue
        at = np.abs(offset_mm[None, :] - lacking[part, None]) <= NEAR_MM
        if float(np.where(at, both[part], -np.inf).max(axis=1).mean()) > LEAST_ODDS:
            kept[part] = lacking[part]
    return kept
