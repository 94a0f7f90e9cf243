"""Straight edges of a picture at reduced size: line segments in brightness and in both colour directions."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from digitise.lab import lab_of
from digitise.near_pairs import hanging_together, near_pairs
from digitise.remap import shrunk
from digitise.tone import FloatArray

_JOIN_ANGLE_DEG = 2.5
_JOIN_APART_PX = 1.5
_JOIN_GAP_PX = 14.0
_AROUND_PX = 81


@dataclass(frozen=True, eq=False)
class SmallPicture:
    """A reduced picture: ``lab`` (h, w, 3) uint8, and how many of the photo's pixels make one of its own."""

    lab: npt.NDArray[np.uint8]
    factor: float

    def to_photo(self, points_px: FloatArray) -> FloatArray:
        """Pixels of the photo for pixels of this picture; pixel centres are at whole numbers in both."""
        return (points_px + 0.5) * self.factor - 0.5


SKETCH_PX, SHORTEST_EDGE_PX = 700, 12.0
"""Longer side of the picture that is looked at first, and the shortest edges that count in it."""


@dataclass(frozen=True, eq=False)
class Sketch:
    """A reduced picture with its ``lines`` (n, 4), see ``segments``."""

    picture: SmallPicture
    lines: FloatArray


def sketched(
    pixels_rgb: npt.NDArray[np.uint8],
    long_px: int = SKETCH_PX,
    gain: float = 1.0,
    half_rgb: npt.NDArray[np.uint8] | None = None,
) -> Sketch:
    """The picture (h, w, 3) with its longer side ``long_px`` and differences raised by ``gain``; ``half_rgb``
    is the picture ``halved``, if it is known."""
    picture = reduced(pixels_rgb, long_px, half_rgb)
    if gain != 1:
        picture = strengthened(picture, gain)
    return Sketch(picture, segments(picture, SHORTEST_EDGE_PX))


def reduced(
    pixels_rgb: npt.NDArray[np.uint8], long_px: int, half_rgb: npt.NDArray[np.uint8] | None = None
) -> SmallPicture:
    """The picture averaged down so that its longer side is ``long_px`` (never enlarged), in CIE Lab."""
    small = made_small(pixels_rgb, long_px, half_rgb)
    return SmallPicture(lab_of(small), pixels_rgb.shape[1] / small.shape[1])


def made_small(
    pixels_rgb: npt.NDArray[np.uint8], long_px: int, half_rgb: npt.NDArray[np.uint8] | None = None
) -> npt.NDArray[np.uint8]:
    """The picture averaged down so that its longer side is ``long_px``, never enlarged."""
    height, width = pixels_rgb.shape[:2]
    factor = max(1.0, max(height, width) / long_px)
    size = (max(1, round(width / factor)), max(1, round(height / factor)))
    return shrunk(pixels_rgb, size, 4.0, half_rgb) if factor > 1 else pixels_rgb


def strengthened(picture: SmallPicture, gain: float) -> SmallPicture:
    """The same picture with differences from its surroundings multiplied, for edges that hardly show."""
    values = picture.lab.astype(np.float32)
    around = cv2.blur(values, (_AROUND_PX, _AROUND_PX))
    raised = np.clip(128.0 + gain * (cv2.GaussianBlur(values, (0, 0), 0.7) - around), 0, 255)
    return SmallPicture(raised.astype(np.uint8), picture.factor)


def segments(picture: SmallPicture, shortest_px: float) -> FloatArray:
    """Line segments (n, 4) as x0, y0, x1, y1 in the small picture's pixels, also joined where in line."""
    with ThreadPoolExecutor(3) as pool:
        every = np.concatenate(list(pool.map(_channel_segments, cv2.split(picture.lab))))
    every = every[lengths(every) >= shortest_px / 2]
    if len(every) == 0:
        return every
    both = np.concatenate([every, _joined(every)])
    return both[lengths(both) >= shortest_px]


def _channel_segments(channel: npt.NDArray[Any]) -> FloatArray:
    """Line segments (n, 4) of one channel."""
    lines = cv2.createLineSegmentDetector(cv2.LSD_REFINE_STD, 0.8).detect(channel)[0]
    # the detector counts from pixels' corners
    return np.zeros((0, 4)) if lines is None else np.asarray(lines, float).reshape(-1, 4) - 0.5


def lengths(lines: FloatArray) -> FloatArray:
    """Lengths (n,) of segments (n, 4)."""
    return np.hypot(lines[:, 2] - lines[:, 0], lines[:, 3] - lines[:, 1])


def _joined(lines: FloatArray) -> FloatArray:
    """Segments made of chains whose ends nearly touch and which lie in one line."""
    count = len(lines)
    ends = np.concatenate([lines[:, :2], lines[:, 2:]])
    pairs = near_pairs(ends, _JOIN_GAP_PX)
    first, second = pairs[:, 0] % count, pairs[:, 1] % count
    keep = first != second
    first, second = first[keep], second[keep]
    direction = lines[:, 2:] - lines[:, :2]
    direction = direction / np.maximum(lengths(lines), 1e-9)[:, None]
    middle = (lines[:, :2] + lines[:, 2:]) / 2
    cross = direction[first, 0] * direction[second, 1] - direction[first, 1] * direction[second, 0]
    between = middle[second] - middle[first]
    apart = np.maximum(
        np.abs(direction[first, 0] * between[:, 1] - direction[first, 1] * between[:, 0]),
        np.abs(direction[second, 0] * between[:, 1] - direction[second, 1] * between[:, 0]),
    )
    in_line = (np.abs(cross) < math.sin(math.radians(_JOIN_ANGLE_DEG))) & (apart < _JOIN_APART_PX)
    first, second = first[in_line], second[in_line]
    label = hanging_together(first, second, count)
    # each chain's members together, the longest first
    order = np.lexsort((-lengths(lines), label))
    sizes = np.bincount(label)
    begins = np.cumsum(sizes) - sizes
    of = np.repeat(order[begins], sizes)
    along = direction[of]
    reach = np.sum((ends.reshape(2, count, 2)[:, order] - middle[of]) * along, axis=2)
    aside = np.sum((middle[order] - middle[of]) * np.column_stack([-along[:, 1], along[:, 0]]), axis=1)
    weight = lengths(lines)[order]
    offset = np.add.reduceat(aside * weight, begins) / np.add.reduceat(weight, begins)
    axis = along[begins]
    base = middle[of[begins]] + offset[:, None] * np.column_stack([-axis[:, 1], axis[:, 0]])
    low, high = np.minimum.reduceat(reach.min(axis=0), begins), np.maximum.reduceat(reach.max(axis=0), begins)
    chains = np.concatenate([base + low[:, None] * axis, base + high[:, None] * axis], axis=1)
    return np.asarray(chains[sizes > 1])
