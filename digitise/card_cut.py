"""Tell a card that runs out of the picture from no card at all.

What is left of such a card is one or two round corners and straight sides that stop only at the picture's
border. The quadrilateral is completed from the side that is whole and judged by the part that can be seen.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from digitise.card_candidates import Views, edge_strength, views
from digitise.card_light import light_window
from digitise.card_round import is_card_corner
from digitise.card_segments import SmallPicture
from digitise.card_shape import CardShape
from digitise.near_pairs import near_pairs
from digitise.tone import FloatArray

_AT_BORDER_PX = 6.0
_SQUARE = 0.3  # cosine of the corner's angle at most
_SAMPLES = 16
_LEAST_SAMPLES = 2
_LEAST_SUPPORT = 0.5
_LEAST_SIDES = 2  # with places inside the picture
_GROW = (1.0, 1.025, 1.05, 1.08, 1.12)
_MOST_TRIED = 40


def cut_card(
    pixels_rgb: npt.NDArray[np.uint8],
    picture: SmallPicture,
    lines: FloatArray,
    shape: CardShape,
    long_range_px: tuple[float, float],
) -> float | None:
    """How far a card that runs out of the picture does so, in the photo's pixels; None where none does.

    ``lines`` are the small picture's segments.
    """
    quads = _completed(lines, shape, long_range_px, picture)
    if len(quads) == 0:
        return None
    support = _visible_support(quads, views(picture))
    for index in np.argsort(-support)[:_MOST_TRIED]:
        if support[index] < _LEAST_SUPPORT:
            return None
        corners = picture.to_photo(quads[index])
        if _has_card_corners(pixels_rgb, corners, shape):
            last_px = np.array(pixels_rgb.shape[1::-1], float) - 1
            return float(np.maximum(-corners, corners - last_px).max())
    return None


@dataclass(frozen=True, eq=False)
class _Legs:
    """Pairs of segments that meet at right angles: ``corner`` (n, 2) and both legs as vectors (n, 2).

    Leg ``b`` always leaves the picture; ``a_leaves`` (n,) tells whether leg ``a`` does too.
    """

    corner: FloatArray
    a: FloatArray
    b: FloatArray
    a_leaves: npt.NDArray[np.bool_]


def _legs(lines: FloatArray, picture: SmallPicture, reach_px: float) -> _Legs:
    """Corners whose arms end near their crossing, one of them running to the picture's border."""
    ends = np.concatenate([lines[:, :2], lines[:, 2:]])
    far_ends = np.concatenate([lines[:, 2:], lines[:, :2]])
    pairs = near_pairs(ends, reach_px)
    pairs = np.concatenate([pairs, pairs[:, ::-1]])
    leaves = _at_border(far_ends, np.array(picture.lab.shape[1::-1], float))
    first, second = pairs[leaves[pairs[:, 1]]].T
    u, v = far_ends[first] - ends[first], far_ends[second] - ends[second]
    square = np.abs(np.sum(u * v, axis=1)) < _SQUARE * np.hypot(*u.T) * np.hypot(*v.T)
    first, second, u, v = first[square], second[square], u[square], v[square]
    cross = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    gap = ends[second] - ends[first]
    corner = ends[first] + ((gap[:, 0] * v[:, 1] - gap[:, 1] * v[:, 0]) / cross)[:, None] * u
    near = (np.hypot(*(corner - ends[first]).T) < reach_px) & (
        np.hypot(*(corner - ends[second]).T) < reach_px
    )
    a, b = (far_ends[first] - corner)[near], (far_ends[second] - corner)[near]
    return _Legs(corner[near], a, b, leaves[first[near]])


def _completed(
    lines: FloatArray, shape: CardShape, long_range_px: tuple[float, float], picture: SmallPicture
) -> FloatArray:
    """Quadrilaterals (n, 4, 2), 0 to 1 long, with corners outside, from what can be seen of two sides.

    A leg that ends inside is a whole side but for the round at its end, of which the segment may have taken
    any part; where both leave, the card is a little larger than what is seen of it.
    """
    legs = _legs(lines, picture, 3.0 + 0.1 * long_range_px[1])
    size = np.array(picture.lab.shape[1::-1], float)
    a_px, b_px = np.hypot(*legs.a.T), np.hypot(*legs.b.T)
    quads = [np.zeros((0, 4, 2))]
    for a_is_long in (True, False):
        a_per_long, b_per_long = (1.0, 1 / shape.ratio) if a_is_long else (1 / shape.ratio, 1.0)
        for grow in _GROW:
            seen_long = np.maximum(a_px / a_per_long, b_px / b_per_long)
            long_px = np.where(legs.a_leaves, seen_long, a_px / a_per_long) * grow
            fits = (long_px > long_range_px[0]) & (long_px < long_range_px[1])
            fits &= b_px < 1.1 * long_px * b_per_long
            along = (legs.a / a_px[:, None] * (long_px * a_per_long)[:, None])[fits]
            away = (legs.b / b_px[:, None] * (long_px * b_per_long)[:, None])[fits]
            corner = legs.corner[fits]
            quad = np.stack([corner, corner + along, corner + along + away, corner + away], axis=1)
            quads.append(quad if a_is_long else np.roll(quad, -1, axis=1))
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
    return np.where(counts.sum(axis=1) >= _LEAST_SIDES, 0.5 * weakest + 0.5 * average - 0.3 * beyond, 0.0)


def _has_card_corners(pixels_rgb: npt.NDArray[np.uint8], corners_px: FloatArray, shape: CardShape) -> bool:
    """Whether the corners inside the picture, one at least, are as round as the card's."""
    px_per_mm = float(np.linalg.norm(corners_px[1] - corners_px[0])) / shape.long_mm
    size = np.array(pixels_rgb.shape[1::-1], float)
    margin = shape.corner_radius_mm * px_per_mm
    visible = ~_outside(corners_px + margin, size + margin) & ~_outside(corners_px - margin, size - margin)
    window = light_window(pixels_rgb, corners_px, 6.0 * px_per_mm)
    if window is None or not visible.any():
        return False
    return all(
        is_card_corner(window, corners_px, int(index), shape, px_per_mm) for index in np.flatnonzero(visible)
    )
