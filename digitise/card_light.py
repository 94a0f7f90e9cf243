"""Part of a picture as light and colour, read between its pixels."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
import numpy.typing as npt

from digitise.tone import LIGHT_OF_BYTE, FloatArray, to_linear

_LUMA = np.array(
    [[0.299, 0.587, 0.114]], np.float32
)  # JPEG's brightness: kept at full resolution in the file

_STORED = np.arange(256, dtype=np.float32) / np.float32(255)
_LEVELS = 8192  # brightness mixes three bytes, so it takes more than 256 values
_LIGHT_OF_LEVEL = to_linear(np.linspace(0.0, 1.0, _LEVELS)).astype(np.float32)


@dataclass(frozen=True, eq=False)
class LightWindow:
    """Part of a picture; ``values`` (h, w, 3) float32: light of the brightness, and red and blue above it.

    The first is linear light, 0 to 1. The other two are differences of stored values, for it is those that
    a JPEG averages to half resolution, and they say nothing about where light was.
    ``pixels_rgb`` (h, w, 3) uint8 is that part as it is stored. Where the values are a tint instead, without
    light (``card_tint``), ``tint_blur_px`` is what they were blurred by.
    """

    values: npt.NDArray[np.float32]
    pixels_rgb: npt.NDArray[np.uint8]
    left_px: int
    top_px: int
    tint_blur_px: float = 0.0

    @cached_property
    def highest(self) -> npt.NDArray[np.float32]:
        """Light (h, w) of the brightest colour: where it nears 1 the camera clipped."""
        red, green, blue = cv2.split(self.pixels_rgb)
        return np.asarray(cv2.LUT(cv2.max(cv2.max(red, green), blue), LIGHT_OF_BYTE), np.float32)

    @cached_property
    def light_rgb(self) -> npt.NDArray[np.float32]:
        """Light (h, w, 3) of each colour."""
        return np.asarray(cv2.LUT(self.pixels_rgb, LIGHT_OF_BYTE), np.float32)

    def read(self, points_px: FloatArray) -> FloatArray:
        """Values at points (..., 2), bilinear, shape (..., 3); the window's border is repeated outside."""
        return self._at(self.values, points_px).reshape(*points_px.shape[:-1], 3)

    def read_highest(self, points_px: FloatArray) -> FloatArray:
        """Light of the brightest colour at points (..., 2), shape (...)."""
        return self._at(self.highest, points_px).reshape(points_px.shape[:-1])

    def read_rgb(self, points_px: FloatArray) -> FloatArray:
        """Light of each colour at points (..., 2), shape (..., 3)."""
        return self._at(self.light_rgb, points_px).reshape(*points_px.shape[:-1], 3)

    def _at(self, values: npt.NDArray[np.float32], points_px: FloatArray) -> FloatArray:
        flat = points_px.reshape(-1, points_px.shape[-2], 2).astype(np.float32)
        x, y = flat[..., 0] - np.float32(self.left_px), flat[..., 1] - np.float32(self.top_px)
        return np.asarray(cv2.remap(values, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE), float)


@dataclass(frozen=True, eq=False)
class Part:
    """Part of a picture, (h, w, 3) uint8, and where its first pixel lies in that."""

    pixels_rgb: npt.NDArray[np.uint8]
    left_px: int
    top_px: int


def part_about(pixels_rgb: npt.NDArray[np.uint8], corners_px: FloatArray, margin_px: float) -> Part | None:
    """The part of the picture round the corners (4, 2); None where that lies outside the picture."""
    height, width = pixels_rgb.shape[:2]
    low = np.floor(corners_px.min(axis=0) - margin_px).astype(int)
    high = np.ceil(corners_px.max(axis=0) + margin_px).astype(int) + 1
    left, top = max(0, int(low[0])), max(0, int(low[1]))
    right, bottom = min(width, int(high[0])), min(height, int(high[1]))
    if right - left < 2 or bottom - top < 2:
        return None
    return Part(pixels_rgb[top:bottom, left:right], left, top)


def light_window(
    pixels_rgb: npt.NDArray[np.uint8], corners_px: FloatArray, margin_px: float
) -> LightWindow | None:
    """The light and colour of the part of the picture round the corners; None where that lies outside it."""
    part = part_about(pixels_rgb, corners_px, margin_px)
    if part is None:
        return None
    stored = cv2.LUT(part.pixels_rgb, _STORED)
    brightness = np.asarray(cv2.transform(stored, _LUMA), np.float32)
    level = (brightness * np.float32(_LEVELS - 1) + np.float32(0.5)).astype(np.uint16)
    red, _, blue = cv2.split(stored)
    values = cv2.merge([_LIGHT_OF_LEVEL.take(level), red - brightness, blue - brightness])
    return LightWindow(np.asarray(values, np.float32), part.pixels_rgb, part.left_px, part.top_px)
