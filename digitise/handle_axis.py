"""The axis told by the handle alone, where that of the whole outline runs between a racquet and its shadow.

A racquet and its shadow beside it mirror each other, too, about a line of their own. A head hides that; but
a handle does not lie on that line, and its two edges are the only straight, parallel and sharp ones there.
"""

from __future__ import annotations

import numpy as np
from scipy.ndimage import maximum_filter1d

from digitise.axis import Axis, ComplexImage
from digitise.flat import FlatView
from digitise.half_width import STEP_MM, SymmetricShape
from digitise.handle_search import HALF_WIDTHS_MM, edges_along
from digitise.tone import FloatArray, Image

TURNS = np.deg2rad(np.arange(-2.0, 2.01, 0.25))
SHIFTS_MM = np.arange(-14, 15)
MORE_TURNS = np.deg2rad([-1.2, -0.8, -0.4, 0.0, 0.4, 0.8, 1.2])
"""How much a handle's axis may be turned and, half-way along the grip, moved from the one found;
and how the axes offered differ from the one that suits the handle best."""
FROM_MM, TO_MM = 10.0, 110.0
"""Where along a handle its sides are looked at: beyond a rounded butt, and as far as the shortest grip."""
OFF_MM = 2.5
"""A handle nearer to the axis than this is on it."""
CLEARER, LEAST = 1.05, 0.2
"""How many times clearer its sides must be than any on the axis, and how clear at least, on average."""


def axes_by_handle(view: FlatView, edges: ComplexImage, shape: SymmetricShape) -> list[Axis]:
    """Axes through the handle at the narrow end of ``shape``, if one with clearer sides lies beside the
    shape's own axis; none if not. A handle is short to tell where its head is, so they differ in that.

    ``edges`` is ``edge_field`` on the grid of ``view``.
    """
    y_mm = np.arange(FROM_MM, TO_MM, STEP_MM) + float(shape.y_mm[0])
    pivot_mm = float(y_mm.mean())
    reach = int(SHIFTS_MM[-1] + HALF_WIDTHS_MM[-1])
    turned = [turned_about(shape.axis, float(turn), pivot_mm) for turn in TURNS]
    clear = np.stack([_clearness(edges_along(view, edges, axis, y_mm, reach)[0]) for axis in turned])
    turn, shift = np.unravel_index(int(clear.argmax()), clear.shape)
    own = float(clear[:, np.abs(SHIFTS_MM) < OFF_MM].max())
    if clear.max() < max(LEAST, CLEARER * own):
        return []
    through = turned_about(shape.axis, float(TURNS[turn]), pivot_mm, float(SHIFTS_MM[shift]))
    return [turned_about(through, float(more), pivot_mm) for more in MORE_TURNS]


def turned_about(axis: Axis, turn_rad: float, pivot_mm: float, right_mm: float = 0.0) -> Axis:
    """The axis turned counter-clockwise about its place ``pivot_mm`` along it, moved to the right there."""
    turned = axis.moved(0.0, right_mm, pivot_mm).moved(turn_rad, 0.0, 0.0)
    return turned.moved(0.0, 0.0, -pivot_mm)


def _clearness(along: Image) -> FloatArray:
    """How clear (shifts,) the sides of the likeliest handle are that lies so far to the right of the axis.

    ``along`` (rows, columns) is the strength of edges along it, 1 mm apart about it.
    """
    near = maximum_filter1d(along, 3, axis=1)
    middle = along.shape[1] // 2 + SHIFTS_MM[:, None]
    half = HALF_WIDTHS_MM.astype(int)
    pair = np.sqrt(near[:, middle + half] * near[:, middle - half])
    return np.asarray(pair.mean(axis=0).max(axis=1), float)
