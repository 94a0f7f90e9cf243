"""The symmetric outline as a half width for each place along the axis: the whole shape in one search.

From butt to tip a racquet's outline is the same distance to the left and to the right of its axis. The
best such shape under the mask and the edges is found exactly, by dynamic programming from the butt to
the tip. What clings to one side only, a shadow or a stray thing, is outvoted by the other side.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from digitise.axis import Axis, ComplexImage
from digitise.flat import FlatView
from digitise.remap import remap_linear
from digitise.table_model import Image, Mask
from digitise.tone import FloatArray

MAX_HALF_WIDTH_MM = 170
REGION_WEIGHT, EDGE_WEIGHT = 1.0, 6.0
"""Worth of a millimetre of mask on the right side of the outline, and of a strong edge under it."""
STEP_COST, MAX_STEP_MM, JUMP_COST = 0.5, 6, 8.0
"""Cost of a millimetre of change in half width along a millimetre of axis, and of any larger jump."""
FAINT_EDGE = 0.25
"""Edge strength that speaks neither for nor against: a table's texture reaches it everywhere."""
LEAST_HALF_WIDTH_MM = 2.5
"""Narrower than this is nothing: shafts are 7 mm wide at least."""
LEFT_OUT_COST = 0.02
"""Cost of a square millimetre left out on both sides, in full edges per mm of axis: a grip of 120 mm by
34 mm left out outweighs what clearer edges on the rest can add."""
HEAD_SHARE = 0.7
"""Half widths over this share of the largest are the head's."""
SPARE_MM = 25
"""How far beyond the mask's ends the shape may reach."""


@dataclass(frozen=True, eq=False)
class SymmetricShape:
    """``half_width_mm[i]`` at ``y_mm[i]`` (1 mm apart) along ``axis``, 0 beyond the ends; ``score`` sums up
    how strong the weaker of the two edges is, left and right, less what the shape leaves unexplained."""

    axis: Axis
    y_mm: FloatArray
    half_width_mm: FloatArray
    score: float

    @property
    def length_mm(self) -> float:
        return float(self.y_mm[-1] - self.y_mm[0])

    def ring_mm(self) -> FloatArray:
        """The outline as a counter-clockwise ring (n, 2) in the axis's frame."""
        right = np.column_stack([self.half_width_mm, self.y_mm])
        return np.vstack([right, right[::-1] * np.array([-1.0, 1.0])])


def symmetric_shape(
    view: FlatView, edges: ComplexImage, votes: Image, odd: Mask, axis: Axis
) -> SymmetricShape:
    """The best half widths about ``axis``; the result's axis starts at the butt end, narrow end first.

    ``votes`` (rows, cols), 1 racquet to -1 table, on the grid of ``view``; where 0 the edges decide.
    ``odd`` (rows, cols) is all that is unlike the table: what of it the shape leaves out on both sides
    alike speaks against the shape.
    """
    rows, cols = np.nonzero(odd | (votes > 0))
    y_all = axis.to_racquet(view.to_world(np.column_stack([cols, rows])))[:, 1]
    y_mm = np.arange(np.floor(y_all.min()) - SPARE_MM, np.ceil(y_all.max()) + SPARE_MM + 1)
    x_mm = np.arange(-MAX_HALF_WIDTH_MM, MAX_HALF_WIDTH_MM + 1.0)
    vote = _sampled(view, votes, axis, x_mm, y_mm)
    edge = _sampled(view, np.abs(edges).astype(np.float32), axis, x_mm, y_mm)
    middle = MAX_HALF_WIDTH_MM
    both_votes = vote[:, middle:] + vote[:, middle::-1]
    both_edges = edge[:, middle:] + edge[:, middle::-1]
    both_votes[:, 0] = 0
    gain = REGION_WEIGHT * np.cumsum(both_votes, axis=1) + EDGE_WEIGHT * (both_edges - 2 * FAINT_EDGE)
    gain[:, 0] = 0.0
    widths = _best_path(gain)
    weaker_edge = np.minimum(edge[:, middle:], edge[:, middle::-1])
    seen = weaker_edge[np.arange(len(widths)), widths] - FAINT_EDGE
    score = float(seen[widths > LEAST_HALF_WIDTH_MM].sum())
    oddness = np.maximum(_sampled(view, odd.astype(np.float32), axis, x_mm, y_mm), 0)
    odd_on_both = np.minimum(oddness[:, middle:], oddness[:, middle::-1])
    left_out = float(odd_on_both[np.arange(MAX_HALF_WIDTH_MM + 1) > widths[:, None]].sum())
    return _trimmed(axis, y_mm, widths.astype(float), score - LEFT_OUT_COST * left_out)


def _sampled(view: FlatView, image: Image, axis: Axis, x_mm: FloatArray, y_mm: FloatArray) -> Image:
    """``image`` of the view's grid along the axis: rows are ``y_mm``, columns ``x_mm``; -1 outside."""
    grid_x, grid_y = np.meshgrid(x_mm, y_mm)
    points = axis.to_world(np.column_stack([grid_x.ravel(), grid_y.ravel()]))
    grid = view.to_grid(points).astype(np.float32).reshape(*grid_x.shape, 2)
    return remap_linear(image, grid, beyond=-1.0)


def _best_path(gain: Image) -> npt.NDArray[np.int32]:
    """Column of each row, (n,), that gains most in all, steps between rows paid for."""
    rows, cols = gain.shape
    steps = np.arange(-MAX_STEP_MM, MAX_STEP_MM + 1)
    came_from = np.empty((rows, cols), np.int32)
    total = gain[0].copy()
    here = np.arange(cols)
    for row in range(1, rows):
        padded = np.pad(total, MAX_STEP_MM, constant_values=-np.inf)
        options = np.stack(
            [padded[MAX_STEP_MM + s : MAX_STEP_MM + s + cols] - STEP_COST * abs(s) for s in steps]
        )
        choice = np.argmax(options, axis=0)
        best = options[choice, here]
        source = here + steps[choice]
        peak = int(np.argmax(total))
        jump = total[peak] - JUMP_COST
        came_from[row] = np.where(jump > best, peak, source)
        total = np.maximum(best, jump) + gain[row]
    path = np.empty(rows, np.int32)
    path[-1] = int(np.argmax(total))
    for row in range(rows - 1, 0, -1):
        path[row - 1] = came_from[row, path[row]]
    return path


def _trimmed(axis: Axis, y_mm: FloatArray, widths: FloatArray, score: float) -> SymmetricShape:
    """Keep the longest run of positive width and let y start at its narrow end."""
    wide = np.flatnonzero(np.diff(np.concatenate([[0], widths > LEAST_HALF_WIDTH_MM, [0]]).astype(int)))
    starts, ends = wide[::2], wide[1::2]
    if len(starts) == 0:
        return SymmetricShape(axis, y_mm[:1], widths[:1] * 0, 0.0)
    longest = int(np.argmax(ends - starts))
    y_mm, widths = y_mm[starts[longest] : ends[longest]], widths[starts[longest] : ends[longest]]
    third = max(len(widths) // 3, 1)
    if widths[:third].sum() > widths[-third:].sum():
        axis, y_mm, widths = Axis(axis.origin_mm, -axis.up), -y_mm[::-1], widths[::-1]
    origin = axis.moved(0.0, 0.0, float(y_mm[0]))
    y_mm = y_mm - y_mm[0]
    return SymmetricShape(origin, y_mm, _convex_head(y_mm, widths), score)


def _convex_head(y_mm: FloatArray, half_mm: FloatArray) -> FloatArray:
    """Half widths with the notches of the head filled: past the neck no racquet is hollow at its side.

    A notch is where a part of the rim has the table's colour.
    """
    head = np.flatnonzero(half_mm > HEAD_SHARE * half_mm.max())
    first, last = int(head[0]), int(head[-1]) + 1
    hull: list[int] = []
    for i in range(first, last):
        while len(hull) > 1 and _turn(y_mm, half_mm, hull[-2], hull[-1], i) >= 0:
            hull.pop()
        hull.append(i)
    full = half_mm.copy()
    full[first:last] = np.interp(y_mm[first:last], y_mm[hull], half_mm[hull])
    return full


def _turn(x: FloatArray, y: FloatArray, a: int, b: int, c: int) -> float:
    return float((x[b] - x[a]) * (y[c] - y[a]) - (y[b] - y[a]) * (x[c] - x[a]))
