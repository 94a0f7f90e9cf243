"""What pieces are stuck on: the edge, the face's places and thicknesses, the openings."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from model.edge import Edge, cut_open, edge_of
from model.errors import StripError
from model.face import Landmarks, face_centre_mm, string_bed
from model.outline import Outline

Array = NDArray[np.float64]

BUTT_END_MM = 12.0  # the butt cap's depth: tape is not stuck round the butt's corner
BRIDGE_MM, BED_SHARE = 20.0, 0.5
"""How far from the face's lower end, which is told by a hoop's width, the middle of its bridge may lie; and
what share of all openings' area a string bed has at least."""


@dataclass(frozen=True, eq=False)
class Site:
    """A racquet as tape sees it, mm in the racquet frame.

    ``face_bottom_mm`` is the face's lower end (the throat top where there is one),
    ``lowest_mm`` the butt cap's upper side. ``handle_top_sd_mm`` and ``throat_top_sd_mm`` say how exactly
    these are known; the latter is 0 where there is no throat top.
    """

    outline: Outline
    edge: Edge
    centre_mm: tuple[float, float]
    face_bottom_mm: float
    handle_top_mm: float
    lowest_mm: float
    face_thickness_mm: float
    handle_thickness_mm: float
    handle_top_sd_mm: float = 0.0
    throat_top_sd_mm: float = 0.0

    def with_handle_top(self, handle_top_mm: float) -> Site:
        """The same racquet with its handle top elsewhere, and the clock's centre half-way from there."""
        below = self.face_bottom_mm <= self.handle_top_mm
        bottom_mm = handle_top_mm if below else max(self.face_bottom_mm, handle_top_mm)
        return replace(self, handle_top_mm=handle_top_mm).with_face_bottom(bottom_mm)

    def with_face_bottom(self, face_bottom_mm: float) -> Site:
        """The same racquet with its face's lower end elsewhere, the clock's centre half-way from there."""
        centre_mm = face_centre_mm(float(self.edge.tip_mm[1]), Landmarks(face_bottom_mm))
        return replace(self, face_bottom_mm=face_bottom_mm, centre_mm=centre_mm)

    @cached_property
    def handle_tops_mm(self) -> tuple[float, float]:
        """Distances along the edge from the tip to the handle top, (left, right), both positive."""
        a, b = self.edge.points_mm[:-1, 1], self.edge.points_mm[1:, 1]
        level = self.handle_top_mm
        down = np.flatnonzero((a >= level) & (b < level))
        up = np.flatnonzero((a < level) & (b >= level))
        if not (len(down) and len(up)):
            raise StripError("the edge does not reach the handle top: correct the landmark")
        right = self._at_level(int(down[-1]), level)
        return self.edge.perimeter_mm - self._at_level(int(up[0]), level), right

    def _at_level(self, i: int, level: float) -> float:
        y0, y1 = self.edge.points_mm[i, 1], self.edge.points_mm[i + 1, 1]
        s0, s1 = self.edge.along_mm[i], self.edge.along_mm[i + 1]
        return float(s0 + (level - y0) / (y1 - y0) * (s1 - s0))

    @cached_property
    def throat_mm(self) -> float:
        """Where on the long axis tape across the throat has hold: in the middle of the bridge between a
        frame's open throat and its string bed, else at the face's lower end."""
        rings = self.outline.openings_mm
        if not rings:
            return self.face_bottom_mm
        which, areas = string_bed(self.outline), [Polygon(ring).area for ring in rings]
        if areas[which] < BED_SHARE * sum(areas):
            return self.face_bottom_mm
        bed = _on_axis(rings[which])
        spans = sorted(span for span in map(_on_axis, rings) if span is not None)
        for (_, low_mm), upper in pairwise(spans):
            middle_mm = (low_mm + upper[0]) / 2
            if upper == bed and low_mm < upper[0] and abs(middle_mm - self.face_bottom_mm) < BRIDGE_MM:
                return middle_mm
        return self.face_bottom_mm

    @cached_property
    def opening_edges(self) -> tuple[Edge, ...]:
        """Each opening's rim, clockwise, cut open straight above its middle."""
        rings = enumerate(self.outline.openings_mm)
        return tuple(cut_open(ring, self.opening_middle_mm(i)[0]) for i, ring in rings)

    def opening_middle_mm(self, index: int) -> tuple[float, float]:
        """Where an opening's clock positions start: the middle of its bounds, inside the ring or not."""
        ring = self.outline.openings_mm[index]
        low, high = ring.min(axis=0), ring.max(axis=0)
        return float(low[0] + high[0]) / 2, float(low[1] + high[1]) / 2


def site_of(
    outline: Outline, landmarks: Landmarks, face_thickness_mm: float, handle_thickness_mm: float = 30.0
) -> Site:
    """The places for tape on a racquet. ``landmarks`` with the throat top where there is one."""
    edge = edge_of(outline)
    return Site(
        outline=outline,
        edge=edge,
        centre_mm=face_centre_mm(float(edge.tip_mm[1]), landmarks),
        face_bottom_mm=landmarks.face_bottom_mm,
        handle_top_mm=landmarks.handle_top_mm,
        lowest_mm=float(outline.outer_mm[:, 1].min()) + BUTT_END_MM,
        face_thickness_mm=face_thickness_mm,
        handle_thickness_mm=handle_thickness_mm,
        handle_top_sd_mm=landmarks.handle_top_sd_mm,
        throat_top_sd_mm=0.0 if landmarks.throat_top_mm is None else landmarks.throat_top_sd_mm,
    )


def throat_ends(edge: Edge, y_mm: float) -> tuple[float, float]:
    """x of the outline's two sides nearest the long axis at a height; infinite where there is none."""
    a, b = edge.points_mm[:-1], edge.points_mm[1:]
    crossing = (a[:, 1] - y_mm) * (b[:, 1] - y_mm) <= 0
    a, b = a[crossing], b[crossing]
    rise = b[:, 1] - a[:, 1]
    share = np.divide(y_mm - a[:, 1], rise, out=np.zeros_like(rise), where=rise != 0)
    x = a[:, 0] + share * (b[:, 0] - a[:, 0])
    return float(x[x < 0].max(initial=-math.inf)), float(x[x > 0].min(initial=math.inf))


def _on_axis(ring: Array) -> tuple[float, float] | None:
    """From where to where on the long axis an opening (n, 2) reaches; None for one beside it."""
    after = np.roll(ring, -1, axis=0)
    crossed = (ring[:, 0] < 0) != (after[:, 0] < 0)
    if not crossed.any():
        return None
    a, b = ring[crossed], after[crossed]
    y = a[:, 1] + a[:, 0] / (a[:, 0] - b[:, 0]) * (b[:, 1] - a[:, 1])
    return float(y.min()), float(y.max())
