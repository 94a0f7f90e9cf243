"""A photo's light at points between its pixels: turned from the stored values once, where it is asked for."""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from digitise.remap import remap_apart
from digitise.tone import LIGHT_OF_BYTE, FloatArray, Image

_TILE = 64  # pixels each way that are turned to light at once
_FEW, _IN_A_ROW = 512, 16_384  # points; remap takes at most 32767
_OF_16_BITS = np.float32(1 / 65535)
_LIGHT16 = np.round(LIGHT_OF_BYTE * 65535).astype(np.uint16)


class LinearPhoto:
    """The light of an upright 8-bit photo (h, w, 3).

    Where it will be asked for is within the box of the points ``about_px`` (n, 2), as far as is known. It may
    be asked for anywhere; but memory is cleared by the system before it is given, which takes its time.
    """

    def __init__(self, pixels_rgb: npt.NDArray[np.uint8], about_px: FloatArray | None = None) -> None:
        self._pixels = pixels_rgb
        size = np.array(pixels_rgb.shape[1::-1])
        if about_px is None:
            self._begin(np.zeros(2, int), size)
        else:
            low, high = np.clip(np.array([about_px.min(axis=0), about_px.max(axis=0)]), 0, size - 1).astype(
                int
            )
            self._begin(low, high + 1)

    def _begin(self, first_px: npt.NDArray[np.intp], end_px: npt.NDArray[np.intp]) -> None:
        """Keep light between two corners (x, y) of the photo; none of it is known yet."""
        self._first_px, self._end_px = first_px[:, None], end_px[:, None]
        (left, top), (right, bottom) = first_px, end_px
        self._stored = self._pixels[top:bottom, left:right]
        # Never filled as a whole: the system gives memory only where something is written.
        self._light = np.empty(self._stored.shape, np.uint16)
        self._known = np.zeros([-(-size // _TILE) for size in self._stored.shape[:2]], bool)

    def at(self, points_px: Image) -> Image:
        """Linear RGB (n, 3), float32, at points (n, 2); between pixels it is interpolated in light.

        Outside the photo its border goes on.
        """
        return self.at_apart(np.array(points_px.T, np.float32, order="C"))

    def at_apart(self, places_px: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
        """The same (..., 3) at places (2, ...) whose x and y stand apart, which are used up: numpy and OpenCV
        take twice as long where they alternate."""
        flat = places_px.reshape(2, -1)
        self._fill(flat)
        flat -= self._first_px.astype(np.float32)
        light = np.empty((flat.shape[1], 3), np.float32)
        for part in (slice(first, first + _IN_A_ROW) for first in range(0, len(light), _IN_A_ROW)):
            x, y = flat[:, None, part]
            np.multiply(remap_apart(self._light, x, y)[0], _OF_16_BITS, out=light[part])
        return light.reshape(*places_px.shape[1:], 3)

    def _fill(self, where: npt.NDArray[np.float32]) -> None:
        """Turn to light what is not yet of the tiles about places (2, n); neighbours lie together."""
        starts = np.arange(0, where.shape[1], _FEW)
        most = np.array(self._pixels.shape[1::-1])[:, None] - 1
        low, high = (
            (ends.reduceat(where, starts, axis=1) + beyond).clip(0, most).astype(int)
            for ends, beyond in ((np.fmin, 0), (np.fmax, 1))
        )
        if (low < self._first_px).any() or (high >= self._end_px).any():
            self._begin(np.zeros(2, int), most[:, 0] + 1)
        # How many tiles above and to the left of each corner of tiles are not known.
        unknown = cv2.integral((~self._known).astype(np.uint8))
        (left, top), (right, bottom) = (low - self._first_px) // _TILE, (high - self._first_px) // _TILE + 1
        some = unknown[bottom, right] - unknown[top, right] - unknown[bottom, left] + unknown[top, left] > 0
        wanted = np.zeros_like(self._known)
        for k in np.flatnonzero(some):
            wanted[top[k] : bottom[k], left[k] : right[k]] = True
        for row, col in np.argwhere(wanted & ~self._known).tolist():
            tile = np.s_[row * _TILE : (row + 1) * _TILE, col * _TILE : (col + 1) * _TILE]
            cv2.LUT(self._stored[tile], _LIGHT16, self._light[tile])  # no copy on the way
        self._known |= wanted
