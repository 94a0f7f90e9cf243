"""The one gate for outlines: rings come in, an oriented, checked, frozen outline comes out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely import is_valid_reason
from shapely.geometry import LinearRing, Polygon

from model.errors import OutlineError

Array = NDArray[np.float64]

MIN_AREA_MM2 = 1.0  # a smaller ring is a speck of the tracing, not part of a racquet
SAME_POINT_MM = 1e-9  # closer neighbours are one point written twice
PLAIN_MM = 0.01  # fewer points make moving inwards fast; the shape stays the same to this


@dataclass(frozen=True, eq=False)
class Outline:
    """A racquet's outer ring and its openings, in the racquet frame, mm.

    Rings are (n, 2), read-only, counter-clockwise, the first point not repeated; the outer
    ring is simple and crosses the long axis x = 0, the openings lie inside it and apart.
    Made by :func:`outline_from_rings`.
    """

    outer_mm: Array
    openings_mm: tuple[Array, ...]

    @property
    def length_mm(self) -> float:
        """Overall length along the handle."""
        return float(np.ptp(self.outer_mm[:, 1]))

    @property
    def width_mm(self) -> float:
        """Largest width across the handle's direction."""
        return float(np.ptp(self.outer_mm[:, 0]))

    @cached_property
    def polygon(self) -> Polygon:
        """The outer ring with its openings as holes."""
        return Polygon(self.outer_mm, list(self.openings_mm))

    @cached_property
    def insets(self) -> dict[float, Polygon]:
        """The outlines moved inwards that were asked for so far, by depth in mm."""
        return {}

    @cached_property
    def filled(self) -> Polygon:
        """The outer ring without its openings."""
        return Polygon(self.outer_mm)

    @cached_property
    def plain(self) -> Polygon:
        """The same through fewer points."""
        return self.filled.simplify(PLAIN_MM)


def outline_from_rings(outer_mm: ArrayLike, openings_mm: Sequence[ArrayLike] = ()) -> Outline:
    """Check and orient rings of (x, y) in mm. Raises OutlineError in one sentence."""
    outer = _ring(outer_mm, "the outline")
    openings = tuple(_ring(ring, f"opening {i + 1}") for i, ring in enumerate(openings_mm))
    outline = Outline(outer, openings)
    if not outline.polygon.is_valid:
        raise OutlineError(
            "the openings must lie inside the outline and apart from each other, but "
            f"{_plain(is_valid_reason(outline.polygon))}: correct the openings"
        )
    if not (outer[:, 0].min() < 0 < outer[:, 0].max()):
        raise OutlineError("the outline does not cross its long axis (x = 0): move the axis into the racquet")
    return outline


def _ring(points: ArrayLike, what: str) -> Array:
    try:
        ring = np.array(points, dtype=np.float64)
    except (TypeError, ValueError):
        raise OutlineError(f"{what} must be a list of [x, y] numbers in mm") from None
    if ring.ndim != 2 or ring.shape[1:] != (2,):
        raise OutlineError(
            f"{what} must be a list of [x, y] points in mm, not an array of shape {ring.shape}"
        )
    if not np.isfinite(ring).all():
        raise OutlineError(f"{what} has a coordinate that is not a finite number: trace it again")
    if len(ring):
        step = np.hypot(*(ring - np.roll(ring, 1, axis=0)).T)
        ring = ring[step > SAME_POINT_MM]
    if len(ring) < 3:
        raise OutlineError(f"{what} has fewer than 3 different points: trace it again")
    polygon = Polygon(ring)
    if not polygon.is_valid:
        raise OutlineError(
            f"{what} crosses or touches itself ({_plain(is_valid_reason(polygon))}): correct it there"
        )
    if polygon.area < MIN_AREA_MM2:
        raise OutlineError(f"{what} encloses only {polygon.area:.3g} mm²: trace it again")
    if not LinearRing(ring).is_ccw:
        ring = ring[::-1].copy()
    ring.flags.writeable = False
    return ring


def _plain(reason: str) -> str:
    """Shapely's reason with the spot, as part of a sentence: ``self-intersection at [1.5 2]``."""
    words, _, spot = reason.partition("[")
    return (
        f"{words.strip().lower()} at x, y = {spot.rstrip(']').replace(' ', ', ')} mm"
        if spot
        else words.lower()
    )
