"""The outer edge as a curve: distances along it from the tip, and clock positions on it.

Distances ``s`` run along the outer ring from the tip (where the ring crosses the long axis
furthest from the butt), positive on the right as seen (clockwise), negative on the left.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.errors import OutlineError
from model.outline import Outline

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Edge:
    """The outer ring cut open at the tip: ``points_mm`` (n, 2) clockwise, the tip first and last.

    ``along_mm`` (n,) is the arc length from the tip to each point, clockwise.
    """

    points_mm: Array
    along_mm: Array

    @property
    def tip_mm(self) -> Array:
        """The tip (2,)."""
        return np.asarray(self.points_mm[0])

    @property
    def perimeter_mm(self) -> float:
        """The whole way round."""
        return float(self.along_mm[-1])

    def point(self, s_mm: float) -> Array:
        """The point (2,) at a distance from the tip."""
        s = s_mm % self.perimeter_mm
        return np.array([np.interp(s, self.along_mm, self.points_mm[:, k]) for k in (0, 1)])

    def tangent(self, s_mm: float) -> Array:
        """Unit vector (2,) along the edge, in the direction of growing s (clockwise)."""
        s = s_mm % self.perimeter_mm
        i = min(int(np.searchsorted(self.along_mm, s, side="right")), len(self.along_mm) - 1)
        step = self.points_mm[i] - self.points_mm[i - 1]
        return np.asarray(step / np.hypot(*step))

    def normal(self, s_mm: float) -> Array:
        """Outward unit normal (2,): left of the clockwise direction."""
        tx, ty = self.tangent(s_mm)
        return np.array([-ty, tx])

    def stretch(self, start_mm: float, end_mm: float) -> Array:
        """The polyline (n, 2) of the edge between two distances, start < end, less than once round."""
        if not 0 < end_mm - start_mm < self.perimeter_mm:
            raise OutlineError(f"a stretch from {start_mm:.0f} to {end_mm:.0f} mm does not fit on the edge")
        twice = np.concatenate([self.along_mm[:-1], self.along_mm + self.perimeter_mm])
        points = np.concatenate([self.points_mm[:-1], self.points_mm])
        start = start_mm % self.perimeter_mm
        end = start + (end_mm - start_mm)
        inside = points[(twice > start) & (twice < end)]
        return np.vstack([self.point(start), inside, self.point(end)])


def edge_of(outline: Outline) -> Edge:
    """The edge of an outline, cut open at the tip."""
    return cut_open(outline.outer_mm, 0.0)


def cut_open(ring: Array, x_mm: float) -> Edge:
    """A counter-clockwise ring (n, 2) as a clockwise Edge, cut open at its highest point at ``x_mm``."""
    points = ring[::-1]
    after = np.roll(points, -1, axis=0)
    crossing = np.flatnonzero((points[:, 0] < x_mm) & (after[:, 0] >= x_mm))
    share = (x_mm - points[crossing, 0]) / (after[crossing, 0] - points[crossing, 0])
    heights = points[crossing, 1] + share * (after[crossing, 1] - points[crossing, 1])
    best = int(np.argmax(heights))
    top = np.array([[x_mm, heights[best]]])
    cut = np.vstack([top, np.roll(points, -(int(crossing[best]) + 1), axis=0), top])
    cut = cut[np.concatenate([[True], np.hypot(*np.diff(cut, axis=0).T) > 1e-9])]
    cut[-1] = top
    return Edge(cut, np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(cut, axis=0).T))]))


@dataclass(frozen=True)
class ClockHit:
    """Where a clock ray leaves the face: on the edge at ``s_mm``, or across the throat (None)."""

    point_mm: tuple[float, float]
    s_mm: float | None


def clock_hit(edge: Edge, centre_mm: tuple[float, float], face_bottom_mm: float, hours: float) -> ClockHit:
    """Follow the ray from the face's centre at 30° an hour, clockwise as seen, 12 towards the tip.

    The face ends at its lower end: a ray that reaches that line first leaves by the throat.
    Raises OutlineError when the centre does not lie inside the outline.
    """
    angle = math.radians(30.0 * hours)
    direction = np.array([math.sin(angle), math.cos(angle)])
    a = edge.points_mm[:-1] - np.array(centre_mm)
    step = np.diff(edge.points_mm, axis=0)
    across = step[:, 0] * direction[1] - step[:, 1] * direction[0]
    safe = np.where(across == 0, np.nan, across)
    share = (a[:, 1] * direction[0] - a[:, 0] * direction[1]) / safe
    reach = (step[:, 0] * a[:, 1] - step[:, 1] * a[:, 0]) / safe
    slack = 1e-9  # lets a ray through a corner touch one of its two sides
    hits = np.flatnonzero((share >= -slack) & (share <= 1 + slack) & (reach > 0))
    if len(hits) == 0:
        raise OutlineError("the face's centre lies outside the outline: correct the handle top landmark")
    first = hits[np.argmin(reach[hits])]
    down = face_bottom_mm - centre_mm[1]
    if direction[1] < 0 and down / direction[1] < reach[first]:
        return ClockHit((centre_mm[0] + down / direction[1] * direction[0], face_bottom_mm), None)
    point = np.array(centre_mm) + reach[first] * direction
    s = float(edge.along_mm[first] + np.clip(share[first], 0, 1) * np.hypot(*step[first]))
    return ClockHit(
        (float(point[0]), float(point[1])), s if s <= edge.perimeter_mm / 2 else s - edge.perimeter_mm
    )
