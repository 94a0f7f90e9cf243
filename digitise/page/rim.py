"""Between the outline and its rim as the camera sees it, both ways.

The way there is known: at each point of the outline the rim is seen a little outside it, by its thickness
and the line of sight. The way back is taken from the same pairs: a point of the seen line lies as far from
the outline as the nearest one whose outline is known. So what was not touched comes back exactly, also
round the butt, where a single point's normal would say little.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.spatial import cKDTree
from shapely.geometry import Polygon

from digitise.band import even_ring, ring_normals, smooth_ring
from digitise.page.sheet import Sheet, counter_clockwise, signed_area_mm2
from digitise.resting import rim_shift_mm, seen_rim_shift_mm
from digitise.tone import FloatArray

LOOPS_MM2 = 8.0
"""What tiny loops at tight corners may enclose together; more is a crossing that the person must mend."""
_ROUNDS = 3
STEP_MM = 0.25
"""How far pairs of the outline and its sight are apart: in the tight corners of a butt the sight turns within
a millimetre, and what was not touched would come back beside where it was."""


@dataclass(frozen=True, eq=False)
class Rim:
    """Points ``seen_mm`` (n, 2) of a closed seen line, and ``outline_mm`` (n, 2) whose rim is seen there."""

    seen_mm: FloatArray
    outline_mm: FloatArray

    @cached_property
    def _tree(self) -> cKDTree:
        return cKDTree(self.seen_mm)

    def outline_of(self, seen_mm: FloatArray) -> FloatArray:
        """The outline (m, 2) of a seen ring, counter-clockwise, without the loops of tight corners."""
        shift, _ = self._nearest(seen_mm)
        return without_small_loops(seen_mm - shift)

    def shift_of_seen(self, seen_mm: FloatArray) -> FloatArray:
        """How far (m, 2) the rim is seen from the outline, at points (m, 2) of the seen line."""
        return self._nearest(seen_mm)[0]

    def shift_of_outline(self, outline_mm: FloatArray) -> FloatArray:
        """The same at points (m, 2) of the outline."""
        _, near = cKDTree(self.outline_mm).query(outline_mm)
        return np.asarray((self.seen_mm - self.outline_mm)[near])

    def nearest_to(self, points_mm: FloatArray) -> FloatArray:
        """The places (m, 2) of the seen line nearest to points (m, 2)."""
        at, _, _ = self._feet(points_mm)
        return at

    def distance_of_outline(self, points_mm: FloatArray) -> FloatArray:
        """Distance (m,) of points from the nearest known point of the outline."""
        return np.asarray(cKDTree(self.outline_mm).query(points_mm)[0], float)

    def _nearest(self, points_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Shift (m, 2) from outline to seen at the nearest place of the line, and the distance (m,) to it."""
        _, shift, best = self._feet(points_mm)
        return shift, best

    def _feet(self, points_mm: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """The nearest places (m, 2), the shift (m, 2) there, and the distances (m,)."""
        _, near = self._tree.query(points_mm)
        n = len(self.seen_mm)
        best, shift = np.full(len(points_mm), np.inf), np.zeros((len(points_mm), 2))
        at = np.zeros((len(points_mm), 2))
        apart = self.seen_mm - self.outline_mm
        for first in (near, (near - 1) % n):
            then = (first + 1) % n
            start, step = self.seen_mm[first], self.seen_mm[then] - self.seen_mm[first]
            share = np.sum((points_mm - start) * step, axis=1) / np.maximum(np.sum(step**2, axis=1), 1e-18)
            share = np.clip(share, 0, 1)[:, None]
            foot = start + share * step
            away = np.hypot(*(points_mm - foot).T)
            closer = away < best
            best = np.where(closer, away, best)
            own = apart[first] + share * (apart[then] - apart[first])
            shift = np.where(closer[:, None], own, shift)
            at = np.where(closer[:, None], foot, at)
        return at, shift, best


def rim_of(sheet: Sheet, outline_mm: FloatArray) -> Rim:
    """Where the rim of an outline (n, 2) in the sheet's own frame is seen."""
    ring = even_ring(counter_clockwise(outline_mm), STEP_MM)
    normal = ring_normals(ring)
    shift = rim_shift_mm(sheet.estimate.camera, sheet.resting, sheet.body, ring, normal)
    return Rim(ring + shift[:, None] * normal, ring)


def rim_from_seen(sheet: Sheet, seen_mm: FloatArray) -> Rim:
    """The rim of a line drawn from scratch: its outline is guessed, seen, and put right a few times."""
    seen = even_ring(counter_clockwise(seen_mm), STEP_MM)
    normal = ring_normals(smooth_ring(seen, 3.0 / STEP_MM))
    shift = seen_rim_shift_mm(sheet.estimate.camera, sheet.resting, sheet.body, seen, normal)
    rim = rim_of(sheet, without_small_loops(seen - shift[:, None] * normal))
    for _ in range(_ROUNDS):
        rim = rim_of(sheet, rim.outline_of(seen))
    return rim


def through_photo(rim: Rim, old: Sheet, new: Sheet) -> Rim:
    """The same sight on another sheet of the same photo."""
    return Rim(new.from_px(old.to_px(rim.seen_mm)), new.from_px(old.to_px(rim.outline_mm)))


def without_small_loops(ring_mm: FloatArray) -> FloatArray:
    """The ring (n, 2) without loops that hardly enclose anything, such as offsets tie at a corner that a hand
    drew; as it is where larger ones would be lost."""
    polygon = Polygon(ring_mm)
    if polygon.is_valid:
        return ring_mm
    mended = polygon.buffer(0)
    largest = max(getattr(mended, "geoms", [mended]), key=lambda piece: piece.area)
    if largest.is_empty or abs(largest.area - abs(signed_area_mm2(ring_mm))) > LOOPS_MM2:
        return ring_mm  # the gate says what is wrong
    return counter_clockwise(np.asarray(largest.exterior.coords, float)[:-1])
