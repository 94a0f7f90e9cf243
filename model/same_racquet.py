"""Whether two racquet files are of one racquet, whose readings would count twice."""

from __future__ import annotations

import math

from shapely import hausdorff_distance
from shapely.geometry import LinearRing

from model.racquet_file import RacquetFile
from model.recalibrate import traced_of

ROUNDING_MM = 0.02
"""Files hold rings to 0.0001 mm, and undoing a tape measure's stretch leaves a few of these; two racquets of
a model, or two photos of one, never come as near."""
SAME_PLACE_MM = 50.0
"""Butts nearer than this on the table of one photo are the same: two racquets can't lie on each other."""


def is_same_racquet(one: RacquetFile, other: RacquetFile) -> bool:
    """Whether both are of one racquet: the same outline as traced with the same photo or readings, or the
    same place in the same photo, whatever was put right by hand since."""
    same_photo = one.photo is not None and other.photo is not None and one.photo.sha256 == other.photo.sha256
    if same_photo and _same_place(one, other):
        return True
    return (same_photo or one.readings == other.readings) and same_rings(one, other)


def _same_place(one: RacquetFile, other: RacquetFile) -> bool:
    if one.pose is None or other.pose is None:
        return False
    return math.dist(one.pose.origin_mm, other.pose.origin_mm) < SAME_PLACE_MM


def same_rings(one: RacquetFile, other: RacquetFile) -> bool:
    """Whether the outlines, before any tape measure, differ by no more than rounding."""
    first, second = (traced_of(file)[0] for file in (one, other))
    if len(first.openings_mm) != len(second.openings_mm):
        return False
    pairs = zip((first.outer_mm, *first.openings_mm), (second.outer_mm, *second.openings_mm), strict=True)
    return all(hausdorff_distance(LinearRing(a), LinearRing(b)) < ROUNDING_MM for a, b in pairs)
