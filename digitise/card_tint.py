"""A card by its tint alone, on a table whose light tells nothing of where it ends.

From a dark card's edge outward the table that it shades brightens over millimetres, without a step, and the
lines of a printed mat break off at it. Its tint, the ratios of red and blue to green, is the same in shade
and in light, and steps within a pixel. Lines are taken off first: they have a tint of their own.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
import numpy.typing as npt

from digitise.card_light import LightWindow, part_about
from digitise.card_segments import SHORTEST_EDGE_PX, SKETCH_PX, Sketch, SmallPicture, made_small, segments
from digitise.tone import LIGHT_OF_BYTE, FloatArray

_LINE, _BLUR = 1 / 450, 1 / 2500
"""Widest line that is taken off, and the blur against a dark card's noise, of the photo's longer side: 9 and
1.6 pixels of 4032, some 2 and 0.4 mm on the card."""
_SKETCH_BLUR_PX = 0.6
_LEAST_LIGHT = 0.004  # below this the noise of a stored value is as large as its light
_LEAST_STEP = 0.05  # of a ratio's logarithm, between the two sides of an edge
_LEVELS = 130.0  # of a sketch, for a ratio of e
_IN_SHADE = 0.65  # of the light farther off: what the table has of it within a card's thickness of the card
_AS_COLOUR = 0.3  # makes a ratio's logarithm as large as a difference of stored colours, which windows hold
_ACROSS = np.linspace(-4.0, 4.0, 161)
_CARD_SHARE = np.array([math.erfc(place / math.sqrt(2)) / 2 for place in _ACROSS.tolist()])


def without_light_lines(pixels_rgb: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    """The picture (h, w, 3) without what is narrower than a mat's lines and lighter than what lies beside it.

    Straight edges, and outward corners of what is darker, stay where they are (a morphological opening).
    """
    width = round(max(pixels_rgb.shape) * _LINE) | 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (width, width))
    return np.asarray(cv2.morphologyEx(pixels_rgb, cv2.MORPH_OPEN, disc), np.uint8)


def tint_of(pixels_rgb: npt.NDArray[np.uint8], blur_px: float) -> npt.NDArray[np.float32]:
    """Logarithms (h, w, 2) of red and of blue over green, in light blurred by a Gaussian of ``blur_px``."""
    light = cv2.GaussianBlur(cv2.LUT(pixels_rgb, LIGHT_OF_BYTE), (0, 0), blur_px)
    red, green, blue = cv2.split(np.log(light + np.float32(_LEAST_LIGHT)))
    return np.asarray(cv2.merge([red - green, blue - green]), np.float32)


def tint_sketch(unlined_rgb: npt.NDArray[np.uint8]) -> Sketch:
    """The tint of the picture ``without_light_lines`` at reduced size, about its median, with its lines."""
    tint = tint_of(made_small(unlined_rgb, SKETCH_PX), _SKETCH_BLUR_PX)
    levels = 128.0 + _LEVELS * (tint - np.median(tint.reshape(-1, 2), axis=0))
    even = np.full(levels.shape[:2], 128.0)
    picture = SmallPicture(
        np.clip(np.dstack([even, levels]), 0, 255).astype(np.uint8), unlined_rgb.shape[1] / levels.shape[1]
    )
    return Sketch(picture, segments(picture, SHORTEST_EDGE_PX))


def tint_window(
    unlined_rgb: npt.NDArray[np.uint8], corners_px: FloatArray, margin_px: float
) -> LightWindow | None:
    """As ``light_window`` of the picture ``without_light_lines``, its colour the tint and no light in it."""
    part = part_about(unlined_rgb, corners_px, margin_px)
    if part is None:
        return None
    blur_px = max(unlined_rgb.shape) * _BLUR
    tint = np.float32(_AS_COLOUR) * tint_of(part.pixels_rgb, blur_px)
    values = np.dstack([np.zeros(tint.shape[:2], np.float32), tint])
    return LightWindow(values, part.pixels_rgb, part.left_px, part.top_px, blur_px)


def step_outward_px(card_rgb: FloatArray, table_rgb: FloatArray, sigma_px: float) -> float:
    """How far outside an edge blurred by ``sigma_px`` its tint is half-way, from the light (3,) beside it.

    Blur mixes light, and of a mixture's tint the lighter part decides more: its tint reaches into the darker.
    """
    across_px = sigma_px * _ACROSS
    share = _CARD_SHARE[:, None]
    mixed = np.log(share * card_rgb + (1 - share) * _IN_SHADE * table_rgb + _LEAST_LIGHT)
    tint = mixed[:, [0, 2]] - mixed[:, 1:2]
    step = tint[0] - tint[-1]
    power = float(step @ step)
    if power < _LEAST_STEP**2:  # no step, and nowhere half-way
        return 0.0
    half = (tint - tint[-1]) @ step / power
    return float(np.interp(-0.5, -half, across_px))
