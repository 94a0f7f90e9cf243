"""A racquet's outline as smooth curves, and the rings that tell the same shape.

Lengths along curve and ring agree to RING_AGREES_MM all the way round: a chord at most s beside a bend that
turns by w is s w / 3 shorter.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LinearRing

from model.errors import OutlineError
from model.outline import Outline, outline_from_rings
from model.sight_record import CurveRecord, SmoothRecord
from model.spline import Curve, curve_through, dense_ring

Array = NDArray[np.float64]

OUTER_TOLERANCE_MM, OPENING_TOLERANCE_MM = 0.001, 0.005
"""How far a ring's chords may run beside its curve: lengths are measured along the outer one."""
LONGEST_MM = 1.0
"""The longest chord of a ring: what looks for the nearest point of it finds one as near as half of that."""
RING_AGREES_MM = 0.02
STALE_MM = 0.02
"""A curve whose points lie farther than this from the ring beside it is not that ring's."""


@dataclass(frozen=True, eq=False)
class Smooth:
    """Curves of the outer edge and of each opening, in the racquet frame, counter-clockwise.

    ``edge_sd_mm`` is the sd of a clear edge point about them, which says how few points they may have.
    """

    outer: Curve
    openings: tuple[Curve, ...]
    edge_sd_mm: float

    def outline(self) -> Outline:
        """Their rings, through the gate. Raises OutlineError where a curve crosses itself or another."""
        outer = dense_ring(self.outer, OUTER_TOLERANCE_MM, LONGEST_MM)
        return outline_from_rings(
            outer, [dense_ring(curve, OPENING_TOLERANCE_MM, LONGEST_MM) for curve in self.openings]
        )

    def rescaled(self, along: float, across: float) -> Smooth:
        """Stretched along and across the handle about the butt's centre."""
        factors = np.array([across, along])
        outer, *openings = (
            curve_through(curve.points_mm * factors, curve.corners) for curve in (self.outer, *self.openings)
        )
        return Smooth(outer, tuple(openings), self.edge_sd_mm)

    def record(self) -> SmoothRecord:
        """As it stands in the file."""
        return SmoothRecord(
            outer=curve_record(self.outer),
            openings=[curve_record(curve) for curve in self.openings],
            edge_sd_mm=self.edge_sd_mm,
        )


def curve_record(curve: Curve) -> CurveRecord:
    """A curve as it stands in the file."""
    return CurveRecord(points_mm=np.round(curve.points_mm, 5).tolist(), corners=curve.corners.tolist())


def smooth_of(record: SmoothRecord) -> Smooth:
    """Back from the file. Raises OutlineError where points or corners are no curve's."""
    outer, *openings = (
        curve_through(each.points_mm, each.corners) for each in (record.outer, *record.openings)
    )
    return Smooth(outer, tuple(openings), record.edge_sd_mm)


def check_smooth(record: SmoothRecord, outline: Outline) -> None:
    """Raises OutlineError where the curves are not those of the outline's rings."""
    smooth = smooth_of(record)
    rings = (outline.outer_mm, *outline.openings_mm)
    curves = (smooth.outer, *smooth.openings)
    stale = len(rings) != len(curves) or any(
        shapely.distance(LinearRing(ring), shapely.points(curve.points_mm)).max() > STALE_MM
        for ring, curve in zip(rings, curves, strict=True)
    )
    if stale:
        raise OutlineError(
            "its smooth curves are not those of its rings: whoever changes the rings must take "
            "outline.smooth out"
        )
