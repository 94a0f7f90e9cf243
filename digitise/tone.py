"""Between stored picture values and light: the sRGB curve (IEC 61966-2-1), both ways.

Blur by the lens and the pixel adds up light, before the camera's tone curve. An edge found half-way
between the stored values of a bright card and a dark table is therefore off by 0.3 to 0.9 px; half-way
in light it is not. Every sub-pixel measurement in this package is made on the values from here.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Image = npt.NDArray[np.floating[Any]]

LIGHT_FLOOR = 0.008
"""Added to light before the logarithm: a sensor's noise and flare, below which colour means nothing."""

_KNEE_STORED = 0.04045
_KNEE_LIGHT = 0.0031308


def to_linear(stored: FloatArray) -> FloatArray:
    """Light (0 to 1) of stored sRGB values scaled 0 to 1, any shape.

    >>> float(to_linear(np.array([0.5])).round(4)[0])
    0.214
    """
    return np.where(stored <= _KNEE_STORED, stored / 12.92, ((stored + 0.055) / 1.055) ** 2.4)


def to_stored(light: FloatArray) -> FloatArray:
    """Stored sRGB values (0 to 1) of light; light outside 0 to 1 is clipped, as a camera clips it."""
    clipped = np.clip(light, 0.0, 1.0)
    return np.where(clipped <= _KNEE_LIGHT, clipped * 12.92, 1.055 * clipped ** (1 / 2.4) - 0.055)


def stored_slope(light: FloatArray) -> FloatArray:
    """Slope of ``to_stored``; 0 where that clips.

    >>> stored_slope(np.array([0.0, 1.0, 1.5])).round(3).tolist()
    [12.92, 0.44, 0.0]
    """
    steep = 1.055 / 2.4 * np.maximum(light, _KNEE_LIGHT) ** (1 / 2.4 - 1)
    slope = np.where(light <= _KNEE_LIGHT, 12.92, steep)
    return np.where((light < 0.0) | (light > 1.0), 0.0, slope)


LIGHT_OF_BYTE: npt.NDArray[np.float32] = to_linear(np.arange(256) / 255.0).astype(np.float32)
"""Light of each of the 256 stored byte values, shape (256,)."""


def light_of(pixels_rgb: npt.NDArray[np.uint8]) -> npt.NDArray[np.float32]:
    """Light (0 to 1, float32) of an 8-bit sRGB picture or part of one, same shape."""
    return LIGHT_OF_BYTE[pixels_rgb]


def log_colour(light: Image) -> Image:
    """Brightness and two colour ratios, all logarithms, (..., 3), of linear RGB (..., 3)."""
    if not light.size:
        return light.copy()
    logs = light + LIGHT_FLOOR
    np.log(logs, out=logs)
    # channel by channel, each in one piece: numpy takes three times as long where they alternate
    red, green, blue = cv2.split(logs.reshape(-1, 1, 3))
    both = red + green
    colour = cv2.merge([(both + blue) / 3, red - green, blue - both / 2])
    return np.asarray(colour, logs.dtype).reshape(light.shape)


def light_of_colour(colour: Image) -> Image:
    """Linear RGB (..., 3) of which ``log_colour`` makes ``colour`` (..., 3), none of it below 0."""
    brightness, red_green, blue_rest = np.moveaxis(colour, -1, 0)
    both = 2 * brightness - 2 * blue_rest / 3
    red = (both + red_green) / 2
    light = np.exp(np.stack([red, both - red, blue_rest + both / 2], axis=-1)) - LIGHT_FLOOR
    return np.asarray(np.maximum(light, 0), colour.dtype)
