"""Colour: sRGB numbers to linear light and back (IEC 61966-2-1)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Colour = tuple[float, float, float]


def to_linear(srgb: NDArray[np.float64]) -> NDArray[np.float64]:
    """Linear light 0 .. 1 of stored values 0 .. 1."""
    low = srgb / 12.92
    return np.where(srgb <= 0.04045, low, ((np.maximum(srgb, 0.04045) + 0.055) / 1.055) ** 2.4)


def to_srgb(linear: NDArray[np.float64]) -> NDArray[np.float64]:
    """Stored values 0 .. 1 of linear light, clipped at white."""
    light = np.clip(linear, 0.0, 1.0)
    high = 1.055 * np.maximum(light, 0.0031308) ** (1 / 2.4) - 0.055
    return np.where(light <= 0.0031308, 12.92 * light, high)


def albedo(srgb_hex: str) -> Colour:
    """Linear reflectance of a colour written as "#rrggbb"."""
    values = np.array([int(srgb_hex[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    red, green, blue = to_linear(values)
    return (float(red), float(green), float(blue))


def stored_bytes(linear: NDArray[np.float32]) -> NDArray[np.uint8]:
    """8-bit sRGB picture of linear light, through a table of 65536 steps."""
    table = np.round(255 * to_srgb(np.arange(65536) / 65535)).astype(np.uint8)
    scaled = np.empty(linear.shape, np.uint16)
    for row in range(0, len(linear), 64):  # strips stay in the processor's cache
        scaled[row : row + 64] = np.clip(linear[row : row + 64], 0.0, 1.0) * np.float32(65535) + np.float32(
            0.5
        )
    return table[scaled]
