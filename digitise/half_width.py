"""The symmetric outline as a half width for each place along the axis: the whole shape in one search.

From butt to tip a racquet's outline is the same distance to the left and to the right of its axis. The
best such shape under the mask and the edges is found exactly, by dynamic programming from the butt to
the tip. What clings to one side only, a shadow or a stray thing, is outvoted by the other side.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from scipy.ndimage import binary_closing, grey_closing, grey_opening, maximum_filter1d

from digitise.axis import Axis
from digitise.best_line import best_lines
from digitise.flat import FlatView, outer_cells
from digitise.row_median import column_median
from digitise.running import running
from digitise.table_model import Mask
from digitise.tone import FloatArray, Image

MAX_HALF_WIDTH_MM = 170
EDGE_WEIGHT, LONE_EDGE = 10.0, 0.05
"""Worth of a strong edge on both sides, and what a side without any counts."""
UNSURE_WEIGHT, SURE_MM, SURE_ROWS = 2.5, 4.0, 11
"""Cost of a place along the axis where nothing inside is surely other than table in shadow, how many mm of
what is make it sure, and how many places along the axis it reaches."""
UNLIKE_PAIR, ALIKE_COLOUR, ALIKE_DEPTH = 0.4, 0.5, 2
"""What two edges count of which one has the rim inside it and the other a shadow: the share left, the
difference of log colour at which half of the rest is lost, and how many places inside it is looked at."""
MASK_WEIGHT, MASK_EDGE = 1.0, 6.0
"""Worth of a millimetre of mask on the right side of the outline, and of a strong edge under it."""
LEFT_OUT_COST = 0.02
"""Cost of a square millimetre left out on both sides, in full edges per mm of axis: a grip of 120 mm by
34 mm left out outweighs what clearer edges on the rest can add."""
UNSEEN_EDGE = 0.3
"""What an edge counts on the side that the card hides, of the one seen on the other."""
INNER_WEIGHT = 1.0
"""What each place inside the shape with edges alike on both sides adds to its score."""
OUT_WEIGHT, IN_WEIGHT, IN_SCALE_MM = 1.0, 4.0, 6.0
"""Cost of a millimetre of what is surely not table left out on both sides, and of bare table taken in."""
STRAY_EDGE, STRAY_WEIGHT, STRAY_ROWS, STRAY_GAP = 0.2, 24.0, 7, 3
"""Edges alike on both sides outside a shape speak against it: from which strength, at what cost, the median
of how many places along the axis, and from how many places outside on."""
STEP_MM = 2.0
"""Distance of the places along the axis, and of the half widths tried: the flat view's own cells."""
STEP_COST, MAX_STEP_MM, JUMP_COST = 0.5, 6, 8.0
"""Cost of a millimetre of change in half width along a millimetre of axis, and of any larger jump."""
FAINT_EDGE = 0.25
"""Edge strength that speaks neither for nor against: a table's texture reaches it everywhere."""
LEAST_HALF_WIDTH_MM = 2.5
"""Narrower than this is nothing: shafts are 7 mm wide at least."""
SPIKE_ROWS = 13
"""Spikes and notches of the half width up to this many places long are none of a racquet's."""
GAP_ROWS = 20
"""Gaps along the axis up to this many places long are bridged: a shaft may have the table's colour."""
FOOT_TO_MM, HANDLE_TO_MM, WIDEST_FLARE = 40.0, 110.0, 1.6
"""Where along the handle its half width is told, and how many times as wide a butt cap may be."""
HEAD_SHARE = 0.75
"""Half widths over this share of the largest are the head's."""
SPARE_MM = 25
"""How far beyond the mask's ends the shape may reach."""
GRIP_OFF_MM = 4.0
"""How far the edge may lie from a handle's sure width."""


@dataclass(frozen=True, eq=False)
class SymmetricShape:
    """``half_width_mm[i]`` at ``y_mm[i]`` (STEP_MM apart) along ``axis``, 0 beyond the ends; ``score``
    sums up how strong the edges are that both sides share, less what the shape leaves unexplained. Where
    two straight edges of a handle bear it out, its half width is ``grip_mm`` up to ``grip_to_mm``, and its
    edge lies at most ``grip_off_mm`` farther in.
    ``rim_mm`` is the width of a faint rim outside a strong border; ``shade`` (3,) is by how much the table's
    log colour differs in a shadow that was seen past an end."""

    axis: Axis
    y_mm: FloatArray
    half_width_mm: FloatArray
    score: float
    grip_mm: float = 0.0
    grip_to_mm: float = 0.0
    grip_off_mm: float = GRIP_OFF_MM
    rim_mm: float = 0.0
    shade: FloatArray | None = None

    @property
    def length_mm(self) -> float:
        return float(self.y_mm[-1] - self.y_mm[0])

    def ring_mm(self) -> FloatArray:
        """The outline as a counter-clockwise ring (n, 2) in the axis's frame."""
        right = np.column_stack([self.half_width_mm, self.y_mm])
        return np.vstack([right, right[::-1] * np.array([-1.0, 1.0])])

    def ring_from_butt_mm(self) -> FloatArray:
        """The same with the ends' places on the axis, begun at the butt's."""
        ring = self.ring_mm()
        butt, tip = (np.array([[0.0, float(self.y_mm[end])]]) for end in (0, -1))
        return np.vstack([butt, ring[: len(self.y_mm)], tip, ring[len(self.y_mm) :]])


@dataclass(frozen=True, eq=False)
class Sight:
    """What speaks for a shape, all (rows, cols) on one grid, 0 to 1.

    ``edges``; ``foreign``, surely not table; ``bare``, surely table in the open, and not enclosed by anything
    odd; ``odd``, all that is unlike the table, its shadows too; ``usable``, neither card nor outside the
    photo.
    ``colour`` (rows, cols, 3) is the logarithm of light and its two ratios.
    """

    edges: Image
    foreign: Image
    bare: Image
    odd: Image
    usable: Image
    colour: Image


def symmetric_shape(view: FlatView, sight: Sight, axes: list[Axis]) -> SymmetricShape:
    """The best shape about any of ``axes``; its own axis starts at the butt end, narrow end first."""
    spans = _spans(view, sight.odd > 0, axes)
    planes = [sight.edges, sight.foreign, sight.bare, sight.odd, sight.usable]
    right, left = (np.maximum(side, 0) for side in _on_sides(view, _stacked(planes), axes, spans))
    alike = _alike(*_on_sides(view, sight.colour, axes, spans))
    # Where one side cannot be seen, under the card, the other stands for both.
    seen = right[4] >= 0.5, left[4] >= 0.5
    edges = [
        np.where(here, side[0], UNSEEN_EDGE * other[0])
        for here, side, other in zip(seen, (right, left), (left, right), strict=True)
    ]
    weaker = np.minimum(*edges)
    pair = _pair(*edges) * (UNLIKE_PAIR + (1 - UNLIKE_PAIR) * alike)
    gain = _gain(pair, weaker, right, left) * STEP_MM
    widths = best_lines(gain, STEP_COST * STEP_MM, MAX_STEP_MM, JUMP_COST)
    tried = []
    for k, (axis, span) in enumerate(zip(axes, spans, strict=True)):
        here = widths[k, : len(span)]
        steps = np.abs(np.diff(here))
        paid = np.minimum(STEP_COST * STEP_MM * steps, JUMP_COST).sum()
        inside = np.arange(weaker.shape[2]) <= here[:, None] + 1
        alike_inside = float(np.maximum(weaker[k, : len(span)] - STRAY_EDGE, 0)[inside].sum())
        score = float(gain[k, np.arange(len(span)), here].sum() - paid) + INNER_WEIGHT * alike_inside
        tried.append(SymmetricShape(axis, span, np.asarray(here * STEP_MM, float), score))
    return _best_trimmed(tried)


def masked_shape(view: FlatView, edges: Image, votes: list[Image], axes: list[Axis]) -> SymmetricShape:
    """The best shape about any of ``axes`` where any of the ``votes`` says what is racquet.

    ``votes`` (rows, cols) are 1 racquet to -1 table, 0 where the ``edges`` (rows, cols) decide.
    """
    spans = _spans(view, np.max(votes, axis=0) > -1, axes)
    right, left = _on_sides(view, _stacked([edges, *votes]), axes, spans)
    both = (right + left).swapaxes(0, 1)
    inside = both[:, 1:]
    inside[..., 0] = 0
    gain = MASK_WEIGHT * STEP_MM * running(np.add, inside) + MASK_EDGE * (both[:, :1] - 2 * FAINT_EDGE)
    gain[..., 0] = 0.0
    gain = gain.reshape(-1, *gain.shape[2:])
    widths = best_lines(gain * STEP_MM, STEP_COST * STEP_MM, MAX_STEP_MM, JUMP_COST)
    weaker = np.minimum(right[0], left[0])
    anything = np.maximum(np.minimum(right[1], left[1]), 0)
    tried = []
    for k, line in enumerate(widths):
        each = k // len(votes)
        span = spans[each]
        here = line[: len(span)]
        clear = (weaker[each, np.arange(len(span)), here] - FAINT_EDGE)[here * STEP_MM > LEAST_HALF_WIDTH_MM]
        beyond = np.arange(weaker.shape[2]) > here[:, None]
        left_out = STEP_MM**2 * float(anything[each, : len(span)][beyond].sum())
        score = STEP_MM * float(clear.sum()) - LEFT_OUT_COST * left_out
        tried.append(SymmetricShape(axes[each], span, np.asarray(here * STEP_MM, float), score))
    return _best_trimmed(tried)


def _best_trimmed(tried: list[SymmetricShape]) -> SymmetricShape:
    """The best of which anything is left once it is trimmed; an empty one if there is none."""
    for shape in sorted(tried, key=lambda shape: -shape.score):
        trimmed = _trimmed(shape.axis, shape.y_mm, shape.half_width_mm, shape.score)
        if trimmed.length_mm > 0:
            break
    return trimmed


def _pair(first: Image, second: Image) -> Image:
    """Strength of two edges as one: a strong one stands for a faint one only in part."""
    return np.asarray(np.sqrt((first + LONE_EDGE) * (second + LONE_EDGE)) - LONE_EDGE)


def _alike(right: Image, left: Image) -> Image:
    """How alike (axes, rows, half widths), 0 to 1, the two sides look just inside each half width, by their
    colours (3, axes, rows, half widths)."""
    step = right - left
    step *= step
    apart = np.sqrt(step[0] + step[1] + step[2])
    inside = np.concatenate(
        [np.repeat(apart[..., :1], ALIKE_DEPTH, axis=2), apart[..., :-ALIKE_DEPTH]], axis=2
    )
    return np.asarray(1 / (1 + (inside / ALIKE_COLOUR) ** 2), np.float32)


def _gain(pair: Image, weaker: Image, right: Image, left: Image) -> Image:
    """Worth (axes, rows, half widths) of a half width at each place along each axis, by how strong edges are
    as a ``pair``, the ``weaker`` of both, and what else both sides show (planes, axes, ...)."""
    foreign = (right[1] + left[1]) / 2
    foreign_on_both = np.minimum(right[1], left[1])
    bare = (right[2] + left[2]) / 2
    left_out = STEP_MM * (_beyond(foreign_on_both) + 0.25 * _beyond(foreign))
    # Bare table inside: a rim or a face of the table's colour costs less than in proportion.
    taken_in = STEP_MM * (running(np.add, bare) - bare)
    edges = np.maximum(np.stack([column_median(each, STRAY_ROWS) for each in weaker]) - STRAY_EDGE, 0)
    stray = running(np.maximum, edges, from_end=True)
    stray = np.concatenate([stray[..., STRAY_GAP:], np.zeros_like(stray[..., :STRAY_GAP])], axis=2)
    seen_mm = STEP_MM * running(np.add, foreign)
    sure = maximum_filter1d(1 - np.exp(-seen_mm / SURE_MM), SURE_ROWS, axis=1)
    gain = (
        EDGE_WEIGHT * (pair - FAINT_EDGE)
        - UNSURE_WEIGHT * (1 - sure)
        - OUT_WEIGHT * left_out
        - IN_WEIGHT * np.log1p(taken_in / IN_SCALE_MM)
        - STRAY_WEIGHT * stray
    )
    nothing = -OUT_WEIGHT * left_out[..., 0] - STRAY_WEIGHT * stray[..., 0]
    gain[..., 0] = nothing
    return np.asarray(gain, np.float32)


def _beyond(values: Image) -> Image:
    """Sum of ``values`` (..., k) at all places after each."""
    return np.asarray(running(np.add, values, from_end=True) - values)


def _spans(view: FlatView, mask: Mask, axes: list[Axis]) -> list[FloatArray]:
    """Places along each axis, STEP_MM apart, past both ends of what may be the racquet, under ``mask``."""
    corners = view.to_world(np.asarray(outer_cells(mask), float))
    along = [axis.to_racquet(corners)[:, 1] for axis in axes]
    return [np.arange(np.floor(y.min()) - SPARE_MM, np.ceil(y.max()) + SPARE_MM + 1, STEP_MM) for y in along]


def _stacked(planes: list[Image]) -> Image:
    """Planes (rows, cols) as one picture (rows, cols, planes).

    Of other than 1, 3 or 4 planes all versions of OpenCV interpolate alike, to 1/32 of a cell.
    """
    return np.asarray(cv2.merge(planes), np.float32)


def _on_sides(view: FlatView, image: Image, axes: list[Axis], spans: list[FloatArray]) -> tuple[Image, Image]:
    """``image`` (rows, cols, planes) of the view's grid on the right and on the left of each axis, (planes,
    axes, rows, half widths): rows are its span, half widths go to MAX_HALF_WIDTH_MM; -1 outside the image and
    0 after the shorter spans' ends. Each plane lies together, which makes what follows several times faster.
    """
    middle, rows = round(MAX_HALF_WIDTH_MM / STEP_MM), max(len(span) for span in spans)
    right = np.zeros((image.shape[2], len(axes), rows, middle + 1), np.float32)
    left = np.zeros_like(right)
    for k, (axis, span) in enumerate(zip(axes, spans, strict=True)):
        beside, low = -MAX_HALF_WIDTH_MM, float(span[0])
        corners = np.array([[beside, low], [beside + STEP_MM, low], [beside, low + STEP_MM]])
        grid = view.to_grid(axis.to_world(corners))
        to_grid = np.column_stack([(grid[1:] - grid[0]).T, grid[0]])
        flags, size = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, (2 * middle + 1, len(span))
        seen = cv2.warpAffine(image, to_grid, size, flags=flags, borderValue=(-1.0,) * 4)
        for plane, one, other in zip(cv2.split(seen), right, left, strict=True):
            one[k, : len(span)], other[k, : len(span)] = plane[:, middle:], plane[:, middle::-1]
    return right, left


def _trimmed(axis: Axis, y_mm: FloatArray, widths: FloatArray, score: float) -> SymmetricShape:
    """Keep the longest run of positive width and let y start at its narrow end."""
    present = binary_closing(np.pad(widths > LEAST_HALF_WIDTH_MM, GAP_ROWS), np.ones(GAP_ROWS))
    wide = np.flatnonzero(np.diff(np.concatenate([[0], present[GAP_ROWS:-GAP_ROWS], [0]]).astype(int)))
    starts, ends = wide[::2], wide[1::2]
    if len(starts) == 0:
        return SymmetricShape(axis, y_mm[:1], widths[:1] * 0, 0.0)
    longest = int(np.argmax(ends - starts))
    y_mm, widths = y_mm[starts[longest] : ends[longest]], widths[starts[longest] : ends[longest]]
    some = widths > LEAST_HALF_WIDTH_MM
    widths = np.interp(y_mm, y_mm[some], widths[some])
    third = max(len(widths) // 3, 1)
    if widths[:third].sum() > widths[-third:].sum():
        axis, y_mm, widths = Axis(axis.origin_mm, -axis.up), -y_mm[::-1], widths[::-1]
    y_mm, widths = _without_foot(y_mm, _without_spikes(widths))
    origin = axis.moved(0.0, 0.0, float(y_mm[0]))
    y_mm = y_mm - y_mm[0]
    return SymmetricShape(origin, y_mm, _convex_head(y_mm, widths), score)


def _without_foot(y_mm: FloatArray, widths: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The shape less what spreads below its handle wider than any butt cap: lines and shadows that happen
    to be alike on both sides."""
    from_end = y_mm - y_mm[0]
    grip = widths[(from_end > FOOT_TO_MM) & (from_end < HANDLE_TO_MM)]
    if len(grip) == 0:
        return y_mm, widths
    foot = np.flatnonzero((widths > WIDEST_FLARE * np.median(grip)) & (from_end < FOOT_TO_MM))
    first = int(foot[-1]) + 1 if len(foot) else 0
    return y_mm[first:], widths[first:]


def _without_spikes(widths: FloatArray) -> FloatArray:
    opened = np.minimum(grey_opening(widths, SPIKE_ROWS, mode="nearest"), widths)
    padded = np.pad(opened, 2 * SPIKE_ROWS)  # past the ends there is nothing, which a closing must not fill
    return np.asarray(grey_closing(padded, SPIKE_ROWS)[2 * SPIKE_ROWS : -2 * SPIKE_ROWS])


def _convex_head(y_mm: FloatArray, half_mm: FloatArray) -> FloatArray:
    """Half widths with the notches of the head filled: past the neck no racquet is hollow at its side.

    A notch is where a part of the rim has the table's colour.
    """
    narrow = half_mm[: int(np.argmax(half_mm))] < HEAD_SHARE * half_mm.max()
    first, last = len(narrow) - int(np.argmax(narrow[::-1])) if narrow.any() else 0, len(half_mm)
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
