"""Exact area coverage of polygons on a pixel grid: anti-aliasing without a bias in position.

Every edge is cut where it crosses a pixel border; each piece adds its signed area to its own
pixel and the rest of its height to all pixels on its right (a running sum along the row does
that). Ready-made fills round vertices or thicken the border by up to half a pixel, which a
judge of 0.1 px edges cannot have.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.render.camera import Points

Image = NDArray[np.float32]


@dataclass(frozen=True)
class Window:
    """A rectangle of whole pixels: columns x .. x + width - 1, rows y .. y + height - 1."""

    x: int
    y: int
    width: int
    height: int

    def meet(self, other: Window) -> Window:
        """The common part; width or height is 0 where there is none."""
        x, y = max(self.x, other.x), max(self.y, other.y)
        right = min(self.x + self.width, other.x + other.width)
        bottom = min(self.y + self.height, other.y + other.height)
        return Window(x, y, max(right - x, 0), max(bottom - y, 0))

    def rows_cols(self, within: Window) -> tuple[slice, slice]:
        """Slices of this window in an array that covers ``within``."""
        y, x = self.y - within.y, self.x - within.x
        return slice(y, y + self.height), slice(x, x + self.width)


def window_of(rings_px: Sequence[Points], margin_px: int = 1) -> Window:
    """The smallest window that holds the rings and a margin."""
    everything = np.concatenate(rings_px)
    low = np.floor(everything.min(axis=0)).astype(int) - margin_px
    high = np.ceil(everything.max(axis=0)).astype(int) + margin_px
    return Window(int(low[0]), int(low[1]), int(high[0] - low[0]) + 1, int(high[1] - low[1]) + 1)


def coverage(rings_px: Sequence[Points], window: Window) -> Image:
    """Share of each pixel inside the rings, (height, width) in 0 .. 1.

    Rings are (n, 2) pixel coordinates, first point not repeated; holes wind the other way.
    """
    corner = np.array([window.x - 0.5, window.y - 0.5])
    first, second = _pieces([ring - corner for ring in rings_px])
    middle = (first + second) / 2
    row = np.floor(middle[:, 1]).astype(np.int64)
    fall = second[:, 1] - first[:, 1]
    keep = (row >= 0) & (row < window.height) & (fall != 0)
    row, fall = row[keep], fall[keep]
    x = np.clip(middle[keep, 0], 0.0, window.width)
    column = np.floor(x).astype(np.int64)
    part = x - column
    stride = window.width + 2
    cells = np.concatenate([row * stride + column, row * stride + column + 1])
    shares = np.concatenate([fall * (1 - part), fall * part])
    total = np.bincount(cells, shares, minlength=stride * window.height)
    sums = np.cumsum(total.reshape(window.height, stride).astype(np.float32), axis=1)
    return np.minimum(np.abs(sums[:, : window.width]), np.float32(1.0))


def _pieces(rings: Sequence[Points]) -> tuple[Points, Points]:
    """Start and end (n, 2) of all ring edges, cut at every whole x and whole y."""
    start = np.concatenate(rings)
    end = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
    step = end - start
    edges = [np.arange(len(start)), np.arange(len(start))]
    shares = [np.zeros(len(start)), np.ones(len(start))]
    for axis in (0, 1):
        low = np.floor(np.minimum(start[:, axis], end[:, axis])).astype(np.int64) + 1
        high = np.ceil(np.maximum(start[:, axis], end[:, axis])).astype(np.int64) - 1
        count = np.maximum(high - low + 1, 0)
        edge = np.repeat(np.arange(len(start)), count)
        place = np.arange(int(count.sum())) - np.repeat(np.cumsum(count) - count, count)
        edges.append(edge)
        shares.append((low[edge] + place - start[edge, axis]) / step[edge, axis])
    edge, share = np.concatenate(edges), np.concatenate(shares)
    order = np.lexsort((share, edge))
    edge, share = edge[order], share[order]
    points = start[edge] + step[edge] * share[:, None]
    same = edge[1:] == edge[:-1]
    return points[:-1][same], points[1:][same]
