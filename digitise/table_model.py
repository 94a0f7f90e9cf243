"""What the bare table looks like, and how unlike it each place is.

The table is lit unevenly and has a texture, but its look changes slowly; a racquet does not. Colour is
taken as the logarithm of light, split into brightness and two colour ratios: a change of lighting then
adds a constant, and a shadow moves brightness a lot and the ratios little.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from digitise.flat import FlatView
from digitise.tone import FloatArray

Image = npt.NDArray[np.floating[Any]]
Mask = npt.NDArray[np.bool_]

LIGHT_FLOOR = 0.008
"""Added to light before the logarithm: a sensor's noise and flare, below which colour means nothing."""
SPREAD_FLOOR = np.array([0.03, 0.015, 0.015], np.float32)
"""Least spread believed of a table's brightness and colour ratios: compression and rounding alone."""
SHADOW_WEIGHT = 0.35
"""Darker than the table counts this much of lighter: shadows make any table darker."""
SHADOW_TINT = 0.3
"""Share of a shadow's darkening by which its colour ratios may differ: it is lit by other light."""
SHADOW_DEPTH = 1.8
"""Log of light by which a shadow may be darker than the open table; deeper ones are rare on a table."""
SURE = 3.0
"""Distance in multiples of the table's spread at which a place is surely not table, lit or in shadow."""
REACH_MM = 60.0
"""Distance over which the table's look is averaged: more than half the width of a racquet's head."""


@dataclass(frozen=True, eq=False)
class TableModel:
    """``colour`` (rows, cols, 3): log colour the bare table has or would have; ``spread`` (3,) its texture's.

    ``unlike`` (rows, cols, 3) is the difference from it in multiples of that spread, signed; ``oddness``
    (rows, cols) its length with shadows played down, 0 where not ``usable`` (no photo, or the card).
    ``foreign`` (rows, cols) 0 to 1 says how surely a place is not table in any shadow; ``bare`` (rows, cols)
    0 to 1 how surely it is table in the open.
    """

    colour: Image
    spread: FloatArray
    unlike: Image
    oddness: Image
    foreign: Image
    bare: Image
    usable: Mask


def log_colour(light: Image) -> Image:
    """Brightness and two colour ratios, all logarithms, (..., 3), of linear RGB (..., 3)."""
    logs = np.log(light + LIGHT_FLOOR)
    red, green, blue = logs[..., 0], logs[..., 1], logs[..., 2]
    return np.stack([logs.mean(axis=-1), red - green, blue - (red + green) / 2], axis=-1)


def model_table(view: FlatView, covered: Mask) -> TableModel:
    """Learn the table from what is most common and smooth in ``view``; ``covered`` (the card) is left out."""
    usable = view.inside & ~covered
    colour = log_colour(view.light)
    # A median over 10 mm takes out print lines, grain and strings, and keeps a shaft of 8 mm.
    channels = [cv2.medianBlur(np.ascontiguousarray(colour[..., k]), 5) for k in range(3)]
    calm: Image = np.asarray(np.dstack(channels), np.float32)
    table = _polynomial_table(calm, usable)
    for _ in range(4):
        rest = calm - table
        middle = np.maximum([_robust_spread(rest[..., k][usable]) for k in range(3)], SPREAD_FLOOR / 2)
        distance2 = np.sum((rest / middle) ** 2, axis=2)
        trust = np.where(usable, 1 / (1 + distance2 / 9) ** 2, 0).astype(np.float32)
        table = _weighted_blur(calm, trust, REACH_MM / view.cell_mm)
    rest = calm - table
    spread = _texture_spread(rest, usable)
    unlike = (rest / spread).astype(np.float32)
    oddness = np.where(usable, _oddness(unlike), 0).astype(np.float32)
    foreign, bare = (np.where(usable, part, 0).astype(np.float32) for part in foreign_and_bare(rest, spread))
    return TableModel(table, spread, unlike, oddness, foreign, bare, usable)


def foreign_and_bare(rest: Image, spread: FloatArray) -> tuple[Image, Image]:
    """How surely places are not table in any shadow, and how surely they are table in the open.

    ``rest`` (..., 3) is their log colour less the table's, ``spread`` (3,) that of the table's texture.
    """
    darker = np.maximum(-rest[..., 0], 0)
    brighter = np.maximum(rest[..., 0], 0)
    tint2 = (SHADOW_TINT * darker) ** 2
    ratios2 = rest[..., 1] ** 2 / (spread[1] ** 2 + tint2) + rest[..., 2] ** 2 / (spread[2] ** 2 + tint2)
    too_dark = np.maximum(darker - SHADOW_DEPTH, 0) / 0.3
    in_shadow2 = (brighter / spread[0]) ** 2 + ratios2 + too_dark**2
    in_open2 = np.sum((rest / spread) ** 2, axis=2)
    foreign = 1 - np.exp(-0.5 * (np.maximum(np.sqrt(in_shadow2) - SURE / 2, 0) / (SURE / 2)) ** 2)
    return foreign, np.exp(-0.5 * in_open2 / (SURE / 1.5) ** 2)


def _oddness(unlike: Image) -> Image:
    brightness = np.where(unlike[..., 0] < 0, SHADOW_WEIGHT * unlike[..., 0], unlike[..., 0])
    return np.asarray(np.sqrt(brightness**2 + unlike[..., 1] ** 2 + unlike[..., 2] ** 2))


def _robust_spread(values: Image) -> float:
    return 1.4826 * float(np.median(np.abs(values)))


def _texture_spread(rest: Image, usable: Mask) -> FloatArray:
    """Spread of the table's own texture, (3,), judged near the frame's edge where mostly table lies.

    A grid of lines has long tails: its 90th percentile counts if it says more than the middle does.
    """
    depth = cv2.distanceTransform(np.pad(usable.astype(np.uint8), 1), cv2.DIST_L2, 3)[1:-1, 1:-1]
    outer = usable & (depth > 3) & (depth < 0.35 * depth.max())
    spreads = []
    for k in range(3):
        middle = _robust_spread(rest[..., k][usable])
        tail = float(np.quantile(np.abs(rest[..., k][outer]), 0.9)) / 1.645 if outer.any() else middle
        spreads.append(max(middle, min(tail, 3 * middle)))
    return np.maximum(spreads, SPREAD_FLOOR)


def _polynomial_table(calm: Image, usable: Mask) -> Image:
    """First guess: a quadratic in the plane, fitted robustly and mostly to the frame's outer parts."""
    rows, cols = usable.shape
    v, u = np.mgrid[-1 : 1 : rows * 1j, -1 : 1 : cols * 1j]
    basis = np.stack([np.ones_like(u), u, v, u * u, u * v, v * v], axis=-1)
    sample = np.zeros_like(usable)
    sample[::4, ::4] = True
    sample &= usable
    terms = basis[sample]
    prior = 0.05 + np.maximum(np.abs(terms[:, 1]), np.abs(terms[:, 2])) ** 2
    table = np.empty_like(calm)
    for k in range(3):
        values = calm[..., k][sample]
        weight = prior
        for _ in range(20):
            root = np.sqrt(weight)
            coefficients = np.linalg.lstsq(terms * root[:, None], values * root, rcond=None)[0]
            rest = values - terms @ coefficients
            scale = 1.5 * (_robust_spread(rest) + 1e-3)
            weight = prior / (1 + (rest / scale) ** 2) ** 2
        table[..., k] = basis @ coefficients
    return table


def _weighted_blur(values: Image, weight: Image, sigma_cells: float) -> Image:
    """Average of ``values`` (rows, cols, 3) near each cell by ``weight``; made at a quarter of the size.

    Where hardly anything near by is trusted, a wider average fills in.
    """
    rows, cols = weight.shape
    small = (max(cols // 4, 1), max(rows // 4, 1))
    weight_small = _resized(weight, small, cv2.INTER_AREA)
    product_small = _resized(values * weight[..., None], small, cv2.INTER_AREA)
    total = np.zeros_like(product_small)
    norm = np.full_like(weight_small, 1e-6)
    for share, sigma in ((1.0, sigma_cells / 4), (0.02, 3 * sigma_cells / 4)):
        total += share * _blurred(product_small, sigma)
        norm += share * _blurred(weight_small, sigma)
    return _resized(total / norm[..., None], (cols, rows), cv2.INTER_LINEAR)


def _resized(image: Image, size: tuple[int, int], interpolation: int) -> npt.NDArray[np.float32]:
    return np.asarray(cv2.resize(image, size, interpolation=interpolation), np.float32)


def _blurred(image: Image, sigma: float) -> npt.NDArray[np.float32]:
    blurred = cv2.GaussianBlur(image, (0, 0), sigma, borderType=cv2.BORDER_CONSTANT)
    return np.asarray(blurred, np.float32)
