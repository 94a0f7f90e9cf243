"""Where handle and head join: an outline that turns sharply outward may be rounded there, or a corner.

A search along an outline finds neither from the other: it would have to leave it by as much as a fillet is
deep and come back within a few millimetres. So fillets and a corner are offered, to be compared by the edge
that they lie on where they differ.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from scipy.ndimage import gaussian_filter1d
from scipy.spatial import cKDTree
from shapely import clip_by_rect, unary_union
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from digitise.band import even_ring, mirrored
from digitise.grip import GRIP_TO_MM
from digitise.tone import FloatArray

RADII_MM = (10.0, 18.0, 30.0)
"""The radii of fillets that are tried."""
UP_TO = 0.68
"""Up to which share of its length a racquet's handle meets its head."""
SHALLOW_MM = 1.5
"""What would be filled no deeper than this is as round as it need be."""
DIFFERENT_MM, BESIDE_MM, MORE_EDGE = 0.75, 12.0, 0.05
"""How far from the nearest point of another outline, 1 mm apart, a place differs from it, how far beside such
places outlines are compared, and by how much the edge must be stronger on which one lies to be preferred."""
TIGHT_MM, TIGHT_DEG = 12.0, 30.0
"""A hollow is tight where the outline turns outward by so much within such a length."""
FLANK_ROWS, SMOOTH_ROWS = 8, 1.0
"""Places, 1 mm apart, through which the lines beside a hollow run, and the Gaussian that evens directions."""
ARC_STEPS, FAR_MM, OVERLAP_MM, EVEN_MM = 16, 1000.0, 0.01, 0.02


def joined_otherwise(ring_mm: FloatArray) -> list[FloatArray]:
    """Outlines that differ from the symmetric ring (n, 2), begun at the butt at y = 0, in how handle and head
    join: with a corner where it is narrowly rounded, and with fillets where it has corners."""
    rings = [creased(ring_mm), *(filleted(ring_mm, radius_mm) for radius_mm in RADII_MM)]
    return [ring for ring in rings if ring is not None and _away_from(ring, ring_mm).any()]


def neck_rows(rings_mm: Sequence[FloatArray]) -> list[npt.NDArray[np.intp]]:
    """Numbers of each ring's points by which to compare ways to join handle and head, ``rings_mm`` (n, 2):
    its butt, and on both sides all that is near places where one of them leaves the first."""
    apart = [ring[_away_from(ring, rings_mm[0]), 1] for ring in rings_mm[1:]]
    low, high = min(y.min() for y in apart) - BESIDE_MM, max(y.max() for y in apart) + BESIDE_MM
    rows = []
    for ring in rings_mm:
        near = (ring[:, 1] > low) & (ring[:, 1] < high)
        near &= mirrored(near)
        near[0] = True  # so that point i of them mirrors point -i
        rows.append(np.flatnonzero(near))
    return rows


def on_most_edge(rings_mm: Sequence[FloatArray], edge: Sequence[FloatArray]) -> int:
    """Number of that of several outlines (n, 2) which lies on the strongest ``edge`` (n,) where they differ.

    Each is compared with the best one before it, which stays unless the edge is clearly stronger.
    """
    best = 0
    for other in range(1, len(rings_mm)):
        kept, tried = (
            edge[one][_away_from(rings_mm[one], rings_mm[two])] for one, two in ((best, other), (other, best))
        )
        if len(kept) and len(tried) and tried.mean() > kept.mean() + MORE_EDGE:
            best = other
    return best


def _away_from(ring_mm: FloatArray, other_mm: FloatArray) -> npt.NDArray[np.bool_]:
    """Which points (n,) of a ring, as far along the racquet as another's but for its butt, lie off that."""
    along_mm, others_mm = ring_mm[:, 1], other_mm[1:, 1]
    # what is farther off than that is as far off as can be
    off = cKDTree(other_mm).query(ring_mm, distance_upper_bound=DIFFERENT_MM)[0] > DIFFERENT_MM
    return np.asarray(off & (along_mm >= others_mm.min()) & (along_mm <= others_mm.max()))


def filleted(ring_mm: FloatArray, radius_mm: float) -> FloatArray | None:
    """The symmetric ring (n, 2), begun at the butt at y = 0, with its sharp corners between handle and head
    filled by arcs of ``radius_mm``; None where it has none.
    """
    shape = Polygon(ring_mm)
    if not shape.is_valid:
        return None
    top_mm = UP_TO * float(ring_mm[:, 1].max())
    neck = (-FAR_MM, GRIP_TO_MM, FAR_MM, top_mm)
    # what is farther off than the fillets are wide has no part in them
    about = clip_by_rect(shape, -FAR_MM, GRIP_TO_MM - 2 * radius_mm, FAR_MM, top_mm + 2 * radius_mm)
    about = about.simplify(EVEN_MM)
    rounded = about.buffer(radius_mm, quad_segs=ARC_STEPS).buffer(-radius_mm, quad_segs=ARC_STEPS)
    filled = clip_by_rect(rounded, *neck).difference(clip_by_rect(shape, *neck))
    deep = [part for part in getattr(filled, "geoms", [filled]) if _is_deep(part)]
    if not deep:
        return None
    whole = unary_union([shape, *(part.buffer(OVERLAP_MM) for part in deep)])
    if not isinstance(whole, Polygon):
        return None
    outer = whole.exterior.coords if whole.exterior.is_ccw else whole.exterior.coords[::-1]
    return _from_butt(np.asarray(outer, float)[:-1])


def creased(ring_mm: FloatArray) -> FloatArray | None:
    """The symmetric ring (n, 2), begun at the butt at y = 0, with the tightest hollow between handle and head
    drawn out to the corner in which the straight lines before and behind it meet; None where none is tight.
    """
    right = ring_mm[: len(ring_mm) // 2 + 1]
    along = right[1:] - right[:-1]
    turn = np.degrees(np.unwrap(np.arctan2(along[:, 1], along[:, 0])))
    turn = gaussian_filter1d(turn, SMOOTH_ROWS, mode="nearest")
    span = int(TIGHT_MM)
    hollow = np.full(len(right), -np.inf)
    middle = np.arange(len(turn) - span) + span // 2 + 1
    hollow[middle] = turn[:-span] - turn[span:]
    hollow[(right[:, 1] < GRIP_TO_MM) | (right[:, 1] > UP_TO * right[:, 1].max())] = -np.inf
    at = int(np.argmax(hollow))
    if hollow[at] < TIGHT_DEG:
        return None
    first, last = at - span // 2 - 1, at + span // 2 + 1
    if first < FLANK_ROWS or last + FLANK_ROWS >= len(right):
        return None
    corner = _meeting(right[first - FLANK_ROWS : first + 1], right[last : last + FLANK_ROWS + 1][::-1])
    if corner is None:
        return None
    half = np.vstack([right[: first + 1], corner, right[last:]])
    return even_ring(np.vstack([half, half[1:-1][::-1] * np.array([-1.0, 1.0])]), 1.0)


def _meeting(before: FloatArray, after: FloatArray) -> FloatArray | None:
    """Where the straight lines through two runs of points (n, 2), each towards its end, meet beyond both;
    None where they do not within TIGHT_MM."""
    ways = []
    for run in (before, after):
        way = np.linalg.svd(run - run.mean(axis=0))[2][0]
        ways.append(way * np.sign(way @ (run[-1] - run[0])))
    apart = after.mean(axis=0) - before.mean(axis=0)
    try:
        on = np.linalg.solve(np.column_stack([ways[0], -ways[1]]), apart)
    except np.linalg.LinAlgError:
        return None
    corner = before.mean(axis=0) + on[0] * ways[0]
    beyond = [(corner - run[-1]) @ way for run, way in zip((before, after), ways, strict=True)]
    return corner if min(beyond) > 0 and max(beyond) < TIGHT_MM else None


def _is_deep(part: BaseGeometry) -> bool:
    """Whether a disc of SHALLOW_MM fits into it."""
    radius_mm = SHALLOW_MM / 2
    return part.area > np.pi * radius_mm**2 and not part.buffer(-radius_mm).is_empty


def _from_butt(ring_mm: FloatArray) -> FloatArray:
    """The counter-clockwise ring, evenly spaced, as its right side has it, begun at its butt's middle."""
    right = ring_mm[ring_mm[:, 0] > 0]
    # the one gap in it is from the tip back to the butt
    gap = np.linalg.norm(right - np.roll(right, 1, axis=0), axis=1)
    right = np.roll(right, -int(np.argmax(gap)), axis=0)
    butt, tip = (np.array([[0.0, float(end)]]) for end in (ring_mm[:, 1].min(), ring_mm[:, 1].max()))
    return even_ring(np.vstack([butt, right, tip, right[::-1] * np.array([-1.0, 1.0])]), 1.0)
