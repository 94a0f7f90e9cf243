"""Masks of hoops: what a hoop encloses is most of the racquet, though here and there it may not show.

Where a piece of a hoop has the table's colour, or a breath decides whether it does, the mask is open there
and encloses nothing. Narrow gaps are closed. With wider ones what lies within is still told: in nearly all
directions the hoop is seen from it.
"""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from digitise.flat import outer_cells
from digitise.running import running
from digitise.table_model import Mask

GAP_CELLS, MUCH_MORE = 9, 1.5
"""How wide a gap is closed, and how many times as much a hoop must enclose, closed or bridged."""
TURNS, LEAST_HITS = 4, 14
"""In 4 directions for each of so many turns the hoop is looked for, and from a place within it is seen in so
many of the 16 at least: where two pieces are missing, the middle sees it in 14."""
SPARSE = 0.5
"""Of less than this share of its convex hull a mask may be an open hoop."""
TURNED_SHARE = 0.3
"""From which share on a cell of a turned mask is mask: less than half, so that thin hoops stay whole."""


def hoop_closed(mask: Mask) -> Mask:
    """The mask (rows, cols) with its holes filled, and with what a hoop encloses that is open in places."""
    whole = filled(mask)
    least = MUCH_MORE * np.count_nonzero(whole)
    padded = np.pad(whole, GAP_CELLS).astype(np.uint8)  # a closing must not be cut short at the border
    closed = cv2.morphologyEx(padded, cv2.MORPH_CLOSE, disc(GAP_CELLS)) > 0
    inner = (slice(GAP_CELLS, -GAP_CELLS),) * 2
    enclosed = filled(closed)[inner]
    if np.count_nonzero(enclosed) > least:
        return enclosed
    bridged = hoop_bridged(whole)
    return bridged if np.count_nonzero(bridged) > least else whole


def hoop_bridged(mask: Mask) -> Mask:
    """The mask (rows, cols) with the convex hull of the largest part from which it is seen in nearly all
    directions: a head bends outward all round. All holes are filled; the mask itself if there is no such
    part."""
    points = outer_cells(mask)
    if len(points) < 3 or np.count_nonzero(mask) > SPARSE * cv2.contourArea(cv2.convexHull(points)):
        return mask
    left, top, width, height = cv2.boundingRect(points)
    window = (slice(top, top + height), slice(left, left + width))
    within = largest_part((_hits(mask[window]) >= LEAST_HITS) & ~mask[window])
    if not within.any():
        return mask
    head = np.zeros((height, width), np.uint8)
    cv2.fillConvexPoly(head, cv2.convexHull(outer_cells(within)), 1)
    bridged = mask.copy()
    bridged[window] |= head > 0
    return filled(bridged)


def _hits(mask: Mask) -> npt.NDArray[np.uint8]:
    """In how many directions, of 4 TURNS, the mask is seen from each of its cells (rows, cols)."""
    height, width = mask.shape
    size = int(np.ceil(np.hypot(height, width))) + 4
    hits = np.zeros(mask.shape, np.uint8)
    for turn in range(TURNS):
        there = cv2.getRotationMatrix2D(((width - 1) / 2, (height - 1) / 2), 90.0 * turn / TURNS, 1.0)
        there[:, 2] += (size - width) / 2, (size - height) / 2
        turned = cv2.warpAffine(mask.astype(np.float32), there, (size, size)) > TURNED_SHARE
        back = cv2.WARP_INVERSE_MAP | cv2.INTER_NEAREST
        hits += np.asarray(cv2.warpAffine(_hits_along(turned), there, (width, height), flags=back), np.uint8)
    return hits


def _hits_along(mask: Mask) -> npt.NDArray[np.uint8]:
    """In how many of the 4 directions along rows and columns the mask is seen from each cell."""
    seen = mask.astype(np.float32)
    right, left, down, up = (running(np.maximum, way, end) for way in (seen, seen.T) for end in (False, True))
    return np.asarray(right + left + (down + up).T, np.uint8)


def largest_part(mask: Mask) -> Mask:
    """The largest connected part of a mask; the mask itself if it is empty."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8))
    if count < 2:
        return mask
    return np.asarray(labels == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA])))


def filled(mask: Mask) -> Mask:
    """The mask with its holes filled."""
    outside = np.pad(mask, 1).astype(np.uint8)
    cv2.floodFill(outside, None, (0, 0), 2)
    return np.asarray(outside[1:-1, 1:-1] != 2)


def disc(size: int) -> npt.NDArray[np.uint8]:
    """A disc so many cells wide, to open or close masks with."""
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size)), np.uint8)
