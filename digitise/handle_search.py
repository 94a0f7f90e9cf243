"""A handle that hardly differs from the table: two faint straight edges that go on for a hand's breadth.

Between a dark grip and its own shadow, or a white one and a white table, no single place tells them apart.
But a handle is straight, as wide all along, and lies on the axis of the head: added up over its length, its
two edges stand out from any texture.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import maximum_filter1d

from digitise.axis import Axis, ComplexImage
from digitise.flat import FlatView
from digitise.grip import GRIP_FROM_MM, GRIP_TO_MM, SHORTEST_GRIP_MM, grip_length_mm, has_grip
from digitise.half_width import STEP_MM, SymmetricShape
from digitise.remap import remap_linear
from digitise.tone import FloatArray, Image

HALF_WIDTHS_MM = np.arange(9.0, 26.0, 1.0)
"""Half widths of grips: a child's racquet to the thickest paddle's."""
LONGEST_MM = 260.0
INTO_HEAD_MM = 60.0
"""How far into the shape its missing handle may begin: what ends there may be a throat or a stub of it."""
CHANCE = 1.6
"""How many times as strong as by chance the two edges must be on the whole."""
FLARE_MM, FLARE = 25.0, 1.35
"""Length of a butt cap and how many times as wide as the grip it may be."""
LEAST_SCORE = 4.5
"""Score that two edges of a handle reach; the best of all there is by chance comes to 2."""
SAME_MM, SAME_END_MM = 2.5, 5.0
"""Half widths, and ends, that differ by less are the same: a rough shape is told in steps of 2 mm."""
END_WORTH = 5.0
"""Worth of a full edge across the butt's end, in places along the handle with full edges on both sides."""


@dataclass(frozen=True)
class _Handle:
    """A grip of ``half_mm`` from ``end_mm`` to ``join_mm`` along the axis; how much it stands out."""

    half_mm: float
    end_mm: float
    join_mm: float
    score: float


def with_handle(view: FlatView, edges: ComplexImage, shape: SymmetricShape) -> SymmetricShape:
    """The shape with the handle that its edges show: beyond one of its ends where it has none, or in place
    of its own where that is clearly of another width or ends elsewhere, at a shadow's border or short of a
    butt cap of the table's colour. The shape itself where no handle stands out.

    ``edges`` is ``edge_field`` on the grid of ``view``.
    """
    if not has_grip(shape.y_mm, shape.half_width_mm):
        found = [(end, _handle_below(view, edges, end)) for end in (shape, _turned(shape))]
        best = max(found, key=lambda pair: pair[1].score)
        return _joined(*best) if best[1].score > LEAST_SCORE else shape
    handle = _handle_below(view, edges, shape)
    own_mm = float(np.median(shape.half_width_mm[(shape.y_mm > GRIP_FROM_MM) & (shape.y_mm < GRIP_TO_MM)]))
    if handle.score <= LEAST_SCORE:
        return shape
    if abs(handle.end_mm) <= SAME_END_MM:
        handle = replace(handle, end_mm=0.0)
        if abs(handle.half_mm - own_mm) <= SAME_MM:
            return replace(shape, grip_mm=handle.half_mm, grip_to_mm=handle.join_mm)
    return _joined(shape, handle)


def _turned(shape: SymmetricShape) -> SymmetricShape:
    """The same shape told from its other end."""
    axis = shape.axis.moved(0.0, 0.0, float(shape.y_mm[-1]))
    y_mm = shape.y_mm[-1] - shape.y_mm[::-1]
    return SymmetricShape(Axis(axis.origin_mm, -axis.up), y_mm, shape.half_width_mm[::-1], shape.score)


def _handle_below(view: FlatView, edges: ComplexImage, shape: SymmetricShape) -> _Handle:
    """The handle that best explains faint edges below y = 0 of a shape."""
    grip_mm = grip_length_mm(shape.y_mm, shape.half_width_mm)
    y_mm = np.arange(-LONGEST_MM, max(grip_mm, INTO_HEAD_MM) + INTO_HEAD_MM, STEP_MM)
    reach = int(FLARE * HALF_WIDTHS_MM[-1]) + 2
    along, across = edges_along(view, edges, shape.axis, y_mm, reach)
    middle = along.shape[1] // 2
    near = maximum_filter1d(along, 3, axis=1)  # half widths are tried 1 mm apart, and may be off by as much
    pair = np.sqrt(near[:, middle:] * near[:, middle::-1])
    chance = float(pair[:, int(HALF_WIDTHS_MM[0]) :].mean()) + 1e-3
    straight = maximum_filter1d(across, 3, axis=0)  # a butt's end may be off by a place
    best = _Handle(0.0, 0.0, 0.0, -np.inf)
    for half_mm in HALF_WIDTHS_MM:
        w = int(half_mm)
        grip = pair[:, w]
        cap = pair[:, w : int(FLARE * w) + 1].max(axis=1)
        joins = _joins(shape, y_mm, half_mm)
        run = np.cumsum(grip - CHANCE * chance)
        cap_run = np.cumsum(cap - CHANCE * chance)
        flare = round(FLARE_MM / STEP_MM)
        for join in joins:
            last = join - round(SHORTEST_GRIP_MM / STEP_MM)
            if last <= flare:
                continue
            ends = np.arange(flare, last)
            butt = straight[ends, middle - w : middle + w + 1].mean(axis=1)
            score = cap_run[ends + flare] - cap_run[ends] + run[join] - run[ends + flare] + END_WORTH * butt
            end = int(score.argmax())
            if score[end] > best.score:
                best = _Handle(half_mm, float(y_mm[ends[end]]), float(y_mm[join]), float(score[end]))
    return best


def _joins(shape: SymmetricShape, y_mm: FloatArray, half_mm: float) -> list[int]:
    """Index of the place from which on the shape is wider than such a handle."""
    wider = shape.y_mm[shape.half_width_mm > 1.15 * half_mm]
    join_mm = float(wider[0]) if len(wider) else 0.0
    return [int(np.searchsorted(y_mm, join_mm))] if join_mm < y_mm[-1] else []


def edges_along(
    view: FlatView, edges: ComplexImage, axis: Axis, y_mm: FloatArray, reach: int
) -> tuple[Image, Image]:
    """Strength of edges that run along the axis and across it, each (rows, columns) 1 mm apart, up to
    ``reach`` columns either way of the axis, at places ``y_mm`` (rows,) along it."""
    grid_x, grid_y = np.meshgrid(np.arange(-reach, reach + 1.0), y_mm)
    points = axis.to_world(np.column_stack([grid_x.ravel(), grid_y.ravel()]))
    grid = view.to_grid(points).astype(np.float32).reshape(*grid_x.shape, 2)
    # Only the part of the map that is looked at; what lies outside the map lies outside this part, too.
    first, last = (np.array([end(grid[..., k]) for k in range(2)]) for end in (np.min, np.max))
    low = np.clip(np.floor(first).astype(int) - 1, 0, np.array(edges.shape[::-1]) - 1)
    high = np.maximum(np.ceil(last).astype(int) + 2, low + 1)
    part, grid = edges[low[1] : high[1], low[0] : high[0]], grid - low.astype(np.float32)
    # The field holds the gradient's angle doubled: turned by the axis's own, edges along it are negative.
    turned = part * np.conj(complex(axis.up[0], axis.up[1]) ** 2)
    parts: Image = np.dstack([np.maximum(-turned.real, 0), np.maximum(turned.real, 0)]).astype(np.float32)
    seen = np.maximum(remap_linear(parts, grid, beyond=0.0), 0)
    return seen[..., 0], seen[..., 1]


def _joined(shape: SymmetricShape, handle: _Handle) -> SymmetricShape:
    """The shape with the handle put on, told from the butt's end."""
    y_mm = np.arange(handle.end_mm, float(shape.y_mm[-1]) + STEP_MM / 2, STEP_MM)
    head = np.interp(y_mm, shape.y_mm, shape.half_width_mm, left=0.0)
    half = np.where(y_mm < handle.join_mm, handle.half_mm, np.maximum(head, handle.half_mm))
    axis = shape.axis.moved(0.0, 0.0, handle.end_mm)
    join_mm = handle.join_mm - handle.end_mm
    return SymmetricShape(axis, y_mm - handle.end_mm, half, shape.score, handle.half_mm, join_mm)
