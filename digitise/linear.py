"""A photo's light at points between its pixels: turned from the stored values once, where it is asked for."""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from digitise.remap import remap_linear
from digitise.tone import LIGHT_OF_BYTE, Image

_TILE = 64  # pixels each way that are turned to light at once
_FEW, _IN_A_ROW = 512, 16_384  # points; remap takes at most 32767
_LIGHT16 = np.round(LIGHT_OF_BYTE * 65535).astype(np.uint16)


class LinearPhoto:
    """The light of an upright 8-bit photo (h, w, 3)."""

    def __init__(self, pixels_rgb: npt.NDArray[np.uint8]) -> None:
        self._stored = pixels_rgb
        # Never filled as a whole: the system gives memory only where something is written.
        self._light = np.empty(pixels_rgb.shape, np.uint16)
        self._known = np.zeros([-(-size // _TILE) for size in pixels_rgb.shape[:2]], bool)

    def at(self, points_px: Image) -> Image:
        """Linear RGB (n, 3), float32, at points (n, 2); between pixels it is interpolated in light.

        Outside the photo its border goes on.
        """
        light = np.empty((len(points_px), 3), np.float32)
        for first in range(0, len(points_px), _IN_A_ROW):
            where = points_px[first : first + _IN_A_ROW].astype(np.float32, copy=False)
            self._fill(where)
            light[first : first + _IN_A_ROW] = remap_linear(self._light, where[None])[0]
        light *= np.float32(1 / 65535)
        return light

    def _fill(self, where: npt.NDArray[np.float32]) -> None:
        """Turn to light what is not yet of the tiles about places (n, 2); neighbours lie together."""
        starts = np.arange(0, len(where), _FEW)
        along = np.ascontiguousarray(where.T)  # numpy is slow where every second number is left out
        most = np.array(self._stored.shape[1::-1])[:, None] - 1
        low, high = (
            (ends.reduceat(along, starts, axis=1) + beyond).clip(0, most).astype(int) // _TILE + beyond
            for ends, beyond in ((np.fmin, 0), (np.fmax, 1))
        )
        # How many tiles above and to the left of each corner of tiles are not known.
        unknown = cv2.integral((~self._known).astype(np.uint8))
        (left, top), (right, bottom) = low, high
        some = unknown[bottom, right] - unknown[top, right] - unknown[bottom, left] + unknown[top, left] > 0
        wanted = np.zeros_like(self._known)
        for k in np.flatnonzero(some):
            wanted[top[k] : bottom[k], left[k] : right[k]] = True
        for row, col in np.argwhere(wanted & ~self._known).tolist():
            tile = np.s_[row * _TILE : (row + 1) * _TILE, col * _TILE : (col + 1) * _TILE]
            cv2.LUT(self._stored[tile], _LIGHT16, self._light[tile])  # no copy on the way
        self._known |= wanted
