"""What the bare table looks like, and how unlike it each place is.

The table is lit unevenly and has a texture, but its look changes slowly; a racquet does not. Colour is
taken as the logarithm of light, split into brightness and two colour ratios: a change of lighting then
adds a constant, and a shadow moves brightness a lot and the ratios little.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
import numpy.typing as npt

from digitise.flat import FlatView
from digitise.quantile import median_of
from digitise.tone import FloatArray, Image

Mask = npt.NDArray[np.bool_]

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

CLIPPED = 0.93
"""Light of a channel, of the most that a photo can store, from which on it may have been more."""

SETTLED = 1e-4
"""Change of the table's log colour from which on its first guess is no more improved."""
EVERY = 2
"""Only one in so many cells each way is looked at while the table is learnt."""


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

    def made_bare(self, cells: Mask) -> TableModel:
        """The same with ``cells`` (rows, cols) taken for table in the open, where they are usable."""
        return replace(
            self,
            unlike=np.where(cells[..., None], 0, self.unlike).astype(np.float32),
            oddness=np.where(cells, 0, self.oddness).astype(np.float32),
            foreign=np.where(cells, 0, self.foreign).astype(np.float32),
            bare=np.where(cells & self.usable, 1, self.bare).astype(np.float32),
        )


def model_table(view: FlatView, covered: Mask) -> TableModel:
    """Learn the table from what is most common and smooth in ``view``; ``covered`` (the card) is left out."""
    usable = view.inside & ~covered
    colour = view.colour
    # A median over 10 mm takes out print lines, grain and strings, and keeps a shaft of 8 mm.
    calm: Image = np.dstack([cv2.medianBlur(plane, 5) for plane in _planes(colour)])
    few = np.ascontiguousarray(calm[::EVERY, ::EVERY])  # the table's look changes over many cells
    seen = usable[::EVERY, ::EVERY]
    table_few = _polynomial_table(few, seen)
    for _ in range(4):
        rest = _planes(few - table_few)
        middle = np.maximum([_robust_spread(plane[seen]) for plane in rest], SPREAD_FLOOR / 2)
        distance2 = sum((plane / size) ** 2 for plane, size in zip(rest, middle, strict=True))
        trust = np.where(seen, 1 / (1 + np.asarray(distance2) / 9) ** 2, 0).astype(np.float32)
        coarse = _weighted_blur(few, trust, REACH_MM / view.cell_mm / EVERY)
        table_few = _resized(coarse, (seen.shape[1], seen.shape[0]), cv2.INTER_LINEAR)
    table = _resized(coarse, (usable.shape[1], usable.shape[0]), cv2.INTER_LINEAR)
    rest_all = as_if_unclipped(calm - table, view.light)
    spread = _texture_spread(_planes(rest_all), usable)
    unlike = (rest_all / spread.astype(np.float32)).astype(np.float32)
    oddness = np.where(usable, _oddness(unlike), 0).astype(np.float32)
    foreign, bare = (np.where(usable, part, 0) for part in foreign_and_bare(rest_all, spread))
    return TableModel(table, spread, unlike, oddness, foreign, bare, usable)


def as_if_unclipped(rest: Image, light: Image) -> Image:
    """``rest`` (rows, cols, 3), log colour less the table's, with no tint that is due to overexposure alone.

    A channel of ``light`` (rows, cols, 3) that is at its limit may have been any amount lighter. It is given
    what the others say of the table under more light, if that is more than what is stored.
    """
    any_clipped = cv2.inRange(np.asarray(light, np.float32), (-np.inf,) * 3, (CLIPPED,) * 3) == 0
    brightness, first, second = (plane[any_clipped] for plane in _planes(rest))
    both = brightness - second / 3
    channels = np.column_stack([both + first / 2, both - first / 2, brightness + second * 2 / 3])
    limit = light[any_clipped] > CLIPPED
    known = _most(np.where(limit, -np.inf, channels))
    most = np.where(np.isfinite(known), known, _most(channels))
    channels = np.where(limit, np.maximum(channels, most[:, None]), channels)
    mended = np.array(rest)
    red, green, blue = channels.T
    mended[any_clipped] = np.column_stack([channels.mean(axis=1), red - green, blue - (red + green) / 2])
    return mended


def _most(channels: Image) -> Image:
    """The largest (n,) of three channels (n, 3); numpy's way along a short axis takes ten times as long."""
    return np.asarray(np.maximum(np.maximum(channels[:, 0], channels[:, 1]), channels[:, 2]))


def _planes(image: Image) -> list[Image]:
    """The channels of (rows, cols, 3), each on its own: what follows is several times faster on these."""
    return [np.asarray(plane, np.float32) for plane in cv2.split(np.asarray(image, np.float32))]


def foreign_and_bare(rest: Image, spread: FloatArray) -> tuple[Image, Image]:
    """How surely places are not table in any shadow, and how surely they are table in the open.

    ``rest`` (rows, cols, 3) is their log colour less the table's, ``spread`` (3,) its texture's.
    """
    brightness, first, second = _planes(rest)
    size = spread.astype(np.float32)
    darker = np.maximum(-brightness, 0)
    first2, second2 = first * first, second * second
    tint2 = (SHADOW_TINT * darker) ** 2
    in_shadow2 = (np.maximum(brightness, 0) / size[0]) ** 2
    in_shadow2 += first2 / (size[1] ** 2 + tint2) + second2 / (size[2] ** 2 + tint2)
    in_shadow2 += (np.maximum(darker - SHADOW_DEPTH, 0) / 0.3) ** 2
    in_open2 = (brightness / size[0]) ** 2 + first2 / size[1] ** 2 + second2 / size[2] ** 2
    foreign = 1 - np.exp(-0.5 * (np.maximum(np.sqrt(in_shadow2) - SURE / 2, 0) / (SURE / 2)) ** 2)
    return foreign, np.exp(in_open2 * np.float32(-0.5 / (SURE / 1.5) ** 2))


def _oddness(unlike: Image) -> Image:
    brightness, first, second = _planes(unlike)
    played_down = np.where(brightness < 0, np.float32(SHADOW_WEIGHT) * brightness, brightness)
    return np.asarray(np.sqrt(played_down**2 + first**2 + second**2))


def _robust_spread(values: Image) -> float:
    return 1.4826 * median_of(np.abs(values))


def _texture_spread(rest: list[Image], usable: Mask) -> FloatArray:
    """Spread of the table's own texture, (3,), judged near the frame's edge where mostly table lies.

    A grid of lines has long tails: its 90th percentile counts if it says more than the middle does.
    """
    depth = cv2.distanceTransform(np.pad(usable.astype(np.uint8), 1), cv2.DIST_L2, 3)[1:-1, 1:-1]
    outer = usable & (depth > 3) & (depth < 0.35 * depth.max())
    spreads = []
    for plane in rest:
        middle = _robust_spread(plane[usable])
        tail = float(np.quantile(np.abs(plane[outer]), 0.9)) / 1.645 if outer.any() else middle
        spreads.append(max(middle, min(tail, 3 * middle)))
    return np.maximum(spreads, SPREAD_FLOOR)


def _polynomial_table(calm: Image, usable: Mask) -> Image:
    """First guess: a quadratic in the plane, fitted robustly and mostly to the frame's outer parts."""
    rows, cols = usable.shape
    v, u = np.linspace(-1, 1, rows), np.linspace(-1, 1, cols)
    step = slice(None, None, max(1, 4 // EVERY))
    sample = usable[step, step]
    at_v, at_u = (grid[sample] for grid in np.meshgrid(v[step], u[step], indexing="ij"))
    terms = np.column_stack([np.ones_like(at_u), at_u, at_v, at_u * at_u, at_u * at_v, at_v * at_v])
    prior = 0.05 + np.maximum(np.abs(at_u), np.abs(at_v)) ** 2
    table = np.empty_like(calm)
    ridge = 1e-9 * np.eye(terms.shape[1])  # too few places to tell all terms by
    for k in range(3):
        values = calm[step, step, k][sample].astype(float)
        weight = prior
        of = np.zeros(terms.shape[1])
        for _ in range(20):
            weighted = terms * weight[:, None]
            before, of = of, np.linalg.solve(weighted.T @ terms + ridge, weighted.T @ values)
            if np.abs(of - before).max() < SETTLED:
                break
            rest = values - terms @ of
            scale = 1.5 * (_robust_spread(rest) + 1e-3)
            weight = prior / (1 + (rest / scale) ** 2) ** 2
        across = of[0] + of[1] * u + of[3] * u * u
        table[..., k] = across + v[:, None] * (of[2] + of[4] * u + of[5] * v[:, None])
    return table


def _weighted_blur(values: Image, weight: Image, sigma_cells: float) -> Image:
    """Average of ``values`` (rows, cols, 3) near each cell by ``weight``, at half the size.

    Where hardly anything near by is trusted, a wider average fills in.
    """
    rows, cols = weight.shape
    small = (max(cols // 2, 1), max(rows // 2, 1))
    weight_small = _resized(weight, small, cv2.INTER_AREA)
    product_small = _resized(values * weight[..., None], small, cv2.INTER_AREA)
    total = np.zeros_like(product_small)
    norm = np.full_like(weight_small, 1e-6)
    for share, sigma in ((1.0, sigma_cells / 2), (0.02, 3 * sigma_cells / 2)):
        total += share * _blurred(product_small, sigma)
        norm += share * _blurred(weight_small, sigma)
    return np.asarray(total / norm[..., None], np.float32)


def _resized(image: Image, size: tuple[int, int], interpolation: int) -> npt.NDArray[np.float32]:
    return np.asarray(cv2.resize(image, size, interpolation=interpolation), np.float32)


def _blurred(image: Image, sigma: float) -> npt.NDArray[np.float32]:
    blurred = cv2.GaussianBlur(image, (0, 0), sigma, borderType=cv2.BORDER_CONSTANT)
    return np.asarray(blurred, np.float32)
