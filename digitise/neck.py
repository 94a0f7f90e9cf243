"""The fillet between handle and head: where an outline turns sharply outward, the racquet's may be rounded.

A search along an outline does not find a fillet from a sharp corner: it would have to leave it by as much as
the fillet is deep and come back within a few millimetres. So fillets are offered, to be compared.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import clip_by_rect, unary_union
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from digitise.band import even_ring
from digitise.grip import GRIP_TO_MM
from digitise.tone import FloatArray

RADII_MM = (10.0, 18.0, 30.0)
"""The radii of fillets that are tried."""
UP_TO = 0.6
"""Up to which share of its length a racquet's handle meets its head."""
SHALLOW_MM = 1.5
"""What would be filled no deeper than this is as round as it need be."""
BESIDE_MM = 5.0
"""How far beyond a fillet's ends outlines with and without it are compared."""
ARC_STEPS, FAR_MM, OVERLAP_MM = 16, 1000.0, 0.01


@dataclass(frozen=True, eq=False)
class Filleted:
    """A symmetric outline ``ring_mm`` (n, 2) that differs only ``low_mm`` to ``high_mm`` along its axis."""

    ring_mm: FloatArray
    low_mm: float
    high_mm: float


def filleted(ring_mm: FloatArray, radius_mm: float) -> Filleted | None:
    """The symmetric ring (n, 2), begun at the butt at y = 0, with its sharp corners between handle and head
    filled by arcs of ``radius_mm``; None where it has none.
    """
    shape = Polygon(ring_mm)
    if not shape.is_valid:
        return None
    neck = (-FAR_MM, GRIP_TO_MM, FAR_MM, UP_TO * float(ring_mm[:, 1].max()))
    rounded = shape.buffer(radius_mm, quad_segs=ARC_STEPS).buffer(-radius_mm, quad_segs=ARC_STEPS)
    filled = clip_by_rect(rounded, *neck).difference(clip_by_rect(shape, *neck))
    deep = [part for part in getattr(filled, "geoms", [filled]) if _is_deep(part)]
    whole = unary_union([shape, *(part.buffer(OVERLAP_MM) for part in deep)])
    if not deep or not isinstance(whole, Polygon):
        return None
    bounds = np.array([part.bounds for part in deep])
    outer = whole.exterior.coords if whole.exterior.is_ccw else whole.exterior.coords[::-1]
    ring = _from_butt(np.asarray(outer, float)[:-1])
    return Filleted(ring, float(bounds[:, 1].min()) - BESIDE_MM, float(bounds[:, 3].max()) + BESIDE_MM)


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
