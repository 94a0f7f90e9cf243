"""A photo's light at points between its pixels: turned from the stored values once, where it is asked for."""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from digitise.remap import remap_linear
from digitise.tone import LIGHT_OF_BYTE, FloatArray, Image

_TILE = 128  # pixels each way that are turned to light at once
_AT_ONCE = 4096  # points; remap takes at most 32767 in a row
_LIGHT16 = np.round(LIGHT_OF_BYTE * 65535).astype(np.uint16)


class LinearPhoto:
    """The light of an upright 8-bit photo (h, w, 3)."""

    def __init__(self, pixels_rgb: npt.NDArray[np.uint8]) -> None:
        self._stored = pixels_rgb
        # Never filled as a whole: the system gives memory only where something is written.
        self._light = np.empty(pixels_rgb.shape, np.uint16)
        self._known = np.zeros([-(-size // _TILE) for size in pixels_rgb.shape[:2]], bool)

    def at(self, points_px: FloatArray) -> Image:
        """Linear RGB (n, 3), float32, at points (n, 2); between pixels it is interpolated in light.

        Outside the photo its border goes on.
        """
        light = np.empty((len(points_px), 3), np.float32)
        # Some points at a time: those lie close together, so that little of the photo is turned to light.
        for first in range(0, len(points_px), _AT_ONCE):
            light[first : first + _AT_ONCE] = self._near(points_px[first : first + _AT_ONCE])
        return light

    def _near(self, points_px: FloatArray) -> Image:
        size = np.array(self._stored.shape[1::-1])
        x, y = points_px[:, 0], points_px[:, 1]  # each on its own: a last axis of two is slow work for numpy
        low = np.clip(np.floor([x.min(), y.min()]).astype(int) - 1, 0, size - 2)
        high = np.clip(np.ceil([x.max(), y.max()]).astype(int) + 2, low + 2, size)
        self._fill(low, high)
        where = (points_px - low).astype(np.float32)
        light = remap_linear(self._light[low[1] : high[1], low[0] : high[0]], where[None])
        return np.asarray(light[0] / np.float32(65535.0), np.float32)

    def _fill(self, low: npt.NDArray[np.int64], high: npt.NDArray[np.int64]) -> None:
        """Turn to light what is not yet of all pixels from ``low`` up to ``high``, (column, row)."""
        first, last = low // _TILE, -(-high // _TILE)
        missing = np.argwhere(~self._known[first[1] : last[1], first[0] : last[0]]) + first[::-1]
        for row, col in missing:
            tile = np.s_[row * _TILE : (row + 1) * _TILE, col * _TILE : (col + 1) * _TILE]
            self._light[tile] = cv2.LUT(self._stored[tile], _LIGHT16)
            self._known[row, col] = True
