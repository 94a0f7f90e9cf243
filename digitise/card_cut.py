"""Tell a card that runs out of the picture from no card at all.

What is left of such a card is one or two round corners and straight sides that stop only at the picture's
border. The quadrilateral is completed from the side that is whole and judged by the part that can be seen.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree

from digitise.card_candidates import Views, edge_strength, views
from digitise.card_light import light_window
from digitise.card_round import corner_rounding_mm
from digitise.card_segments import SmallPicture, lengths
from digitise.card_shape import CardShape
from digitise.tone import FloatArray

_AT_BORDER_PX = 6.0
_SQUARE = 0.3  # cosine of the corner's angle at most
_SAMPLES = 16
_LEAST_SAMPLES = 4
_LEAST_SUPPORT = 0.68
_ROUNDING_MM = (0.7, 2.2)
_MOST_TRIED = 12


def cut_card(
    pixels_rgb: npt.NDArray[np.uint8],
    picture: SmallPicture,
    lines: FloatArray,
    shape: CardShape,
    long_range_px: tuple[float, float],
) -> bool:
    """Whether something like a card runs out of the picture; ``lines`` are the small picture's segments."""
    quads = _completed(lines, shape, long_range_px, picture)
    if len(quads) == 0:
        return False
    support = _visible_support(quads, views(picture))
    for index in np.argsort(-support)[:_MOST_TRIED]:
        if support[index] < _LEAST_SUPPORT:
            return False
        if _is_round(pixels_rgb, picture.to_photo(quads[index]), shape):
            return True
    return False


def _completed(
    lines: FloatArray, shape: CardShape, long_range_px: tuple[float, float], picture: SmallPicture
) -> FloatArray:
    """Quadrilaterals (n, 4, 2), 0 to 1 long, some corner outside: one whole side, its neighbour cut off."""
    count = len(lines)
    if count < 2:
        return np.zeros((0, 4, 2))
    ends = np.concatenate([lines[:, :2], lines[:, 2:]])
    far_ends = np.concatenate([lines[:, 2:], lines[:, :2]])
    pairs = cKDTree(ends).query_pairs(3.0 + 0.1 * long_range_px[1], output_type="ndarray")
    pairs = np.concatenate([pairs, pairs[:, ::-1]])
    whole, cut = pairs[:, 0], pairs[:, 1]
    size = np.array(picture.lab.shape[1::-1], float)
    u, v = far_ends[whole] - ends[whole], far_ends[cut] - ends[cut]
    span = np.concatenate([lengths(lines), lengths(lines)])
    leaves = _at_border(far_ends, size)
    fits = (np.abs(np.sum(u * v, axis=1)) < _SQUARE * span[whole] * span[cut]) & leaves[cut] & ~leaves[whole]
    u, v, start = u[fits], v[fits], ends[whole[fits]]
    meets, cut_span = ends[cut[fits]], span[cut[fits]]
    cross = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    gap = meets - start
    corner = start + ((gap[:, 0] * v[:, 1] - gap[:, 1] * v[:, 0]) / cross)[:, None] * u
    quads = [np.zeros((0, 4, 2))]
    for is_long, ratio in ((True, 1 / shape.ratio), (False, shape.ratio)):
        rounding = shape.corner_radius_mm / (shape.long_mm if is_long else shape.short_mm)
        side = u / (1 - 2 * rounding)
        length = np.linalg.norm(side, axis=1)
        long_px = length if is_long else length * shape.ratio
        slack = 3.0 + 2.5 * shape.corner_radius_mm / shape.long_mm * long_px
        ok = np.hypot(*(corner - start).T) < slack
        ok &= (np.hypot(*(corner - meets).T) < slack) & (cut_span < 1.1 * length * ratio)
        ok &= (long_px > long_range_px[0]) & (long_px < long_range_px[1])
        away = v / np.maximum(cut_span, 1e-9)[:, None] * (length * ratio)[:, None]
        quad = np.stack([corner, corner + side, corner + side + away, corner + away], axis=1)[ok]
        quads.append(quad if is_long else np.roll(quad, -1, axis=1))
    every = np.concatenate(quads)
    return every[_outside(every, size).any(axis=1)]


def _at_border(points_px: FloatArray, size: FloatArray) -> npt.NDArray[np.bool_]:
    return np.asarray(((points_px < _AT_BORDER_PX) | (points_px > size - 1 - _AT_BORDER_PX)).any(axis=-1))


def _outside(points_px: FloatArray, size: FloatArray) -> npt.NDArray[np.bool_]:
    return np.asarray(((points_px < 0) | (points_px > size - 1)).any(axis=-1))


def _visible_support(quads: FloatArray, seen: Views) -> FloatArray:
    """As for whole cards, over the places inside the picture; sides hardly seen do not count, (n,)."""
    size = np.array(seen.smooth.shape[1::-1], float)
    side = np.roll(quads, -1, axis=1) - quads
    length = np.maximum(np.linalg.norm(side, axis=2, keepdims=True), 1e-9)
    normal = np.stack([side[..., 1], -side[..., 0]], axis=-1) / length
    shares = np.linspace(0.06, 0.94, _SAMPLES)
    strength = edge_strength(quads, side, normal, shares, seen)
    places = quads[:, :, None] + shares[:, None] * side[:, :, None]
    visible = ~_outside(places, size)
    count = visible.sum(axis=2)
    counts = count >= _LEAST_SAMPLES
    mean = (strength * visible).sum(axis=2) / np.maximum(count, 1)
    weakest = np.where(counts, mean, 1.0).min(axis=1)
    average = np.where(counts, mean, 0.0).sum(axis=1) / np.maximum(counts.sum(axis=1), 1)
    past = np.concatenate([-np.linspace(0.05, 0.2, 4), 1 + np.linspace(0.05, 0.2, 4)])
    beyond_places = quads[:, :, None] + past[:, None] * side[:, :, None]
    beyond_seen = ~_outside(beyond_places, size)
    beyond = (edge_strength(quads, side, normal, past, seen) * beyond_seen).sum(axis=(1, 2))
    beyond = beyond / np.maximum(beyond_seen.sum(axis=(1, 2)), 1)
    return np.where(counts.sum(axis=1) >= 3, 0.5 * weakest + 0.5 * average - 0.3 * beyond, 0.0)


def _is_round(pixels_rgb: npt.NDArray[np.uint8], corners_px: FloatArray, shape: CardShape) -> bool:
    """Whether the corners inside the picture are as round as the card's."""
    px_per_mm = float(np.linalg.norm(corners_px[1] - corners_px[0])) / shape.long_mm
    size = np.array(pixels_rgb.shape[1::-1], float)
    inside = ~_outside(corners_px, size - 1 - 4.0 * px_per_mm)
    inside &= ~(corners_px < 4.0 * px_per_mm).any(axis=1)
    if inside.sum() < 1:
        return False
    window = light_window(pixels_rgb, corners_px, 6.0 * px_per_mm)
    if window is None:
        return False
    round_mm = corner_rounding_mm(window, corners_px, px_per_mm, inside)
    return _ROUNDING_MM[0] < round_mm < _ROUNDING_MM[1]
