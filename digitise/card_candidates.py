"""Rough quadrilaterals that may be a card, made from straight edges and ranked by how well edges bear them.

Two ways lead to one: two edges that meet like a card's corner, each as long as a side, and two parallel
edges as far apart as a card is wide or long. Every one is then looked at along all four sides.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import cv2
import numpy as np
import numpy.typing as npt

from digitise.card_segments import SmallPicture, lengths
from digitise.card_shape import CardShape
from digitise.near_pairs import near_pairs
from digitise.remap import values_nearest
from digitise.tone import FloatArray

_RATIO_SLACK = 1.28  # foreshortening at some 38 degrees of tilt
_SQUARE_SLACK = math.sin(math.radians(20.0))
_PARALLEL_SLACK = math.sin(math.radians(8.0))
_SAMPLES = 12  # places looked at along each side
_CHUNK = 4_000  # quadrilaterals looked at in one go, for memory's sake
_MOST_OPPOSITES = 700  # longest segments tried as opposite sides: wood grain has thousands
_WEAK_SLOPE = 2.0  # levels per pixel at which an edge counts half
_WEAK_STEP = 5.0  # the same for the step from one side of the edge to the other, in levels
_STEP_REACH_PX = 3.0
_FAR_REACH = 0.03  # of the long side
_FEWEST_RANKED = 150  # one card alone may bring forty variants of itself
_ELSEWHERE = 0.5  # of the long side: middles further apart are two places
_TWIN = 0.025  # of the long side: closer quadrilaterals are one; a stripe may lie 5 % from an edge
_WAYS_ROUND = np.array([[(k + way * i) % 4 for i in range(4)] for k in range(4) for way in (1, -1)])


@dataclass(frozen=True, eq=False)
class Candidates:
    """``corners_px`` (n, 4, 2) in the small picture, 0 to 1 a long side; ``support`` (n,) 0 to 1."""

    corners_px: FloatArray
    support: FloatArray


def candidates(
    picture: SmallPicture, lines: FloatArray, shape: CardShape, long_range_px: tuple[float, float], keep: int
) -> Candidates:
    """The ``keep`` best supported quadrilaterals whose long side is within the range, without near twins.

    Variants of one place do not crowd out others: the best of each further place comes on top, so that
    there are ``keep`` places where the picture has as many.
    """
    quads = np.concatenate(
        [
            _from_corners(lines, shape, long_range_px),
            _from_opposites(lines, shape, long_range_px),
        ]
    )
    quads, support = _ranked(quads, views(picture), max(15 * keep, _FEWEST_RANKED))
    chosen = _without_twins(quads, keep)
    return Candidates(quads[chosen], support[chosen])


def _from_corners(lines: FloatArray, shape: CardShape, long_range_px: tuple[float, float]) -> FloatArray:
    """Quadrilaterals (n, 4, 2) from pairs of segments that end where they cross, nearly at right angles."""
    count = len(lines)
    if count < 2:
        return np.zeros((0, 4, 2))
    round_share = shape.corner_radius_mm / shape.long_mm
    ends = np.concatenate([lines[:, :2], lines[:, 2:]])
    far_ends = np.concatenate([lines[:, 2:], lines[:, :2]])
    reach = 3.0 + 2.5 * round_share * long_range_px[1]
    pairs = near_pairs(ends, reach)
    if len(pairs) == 0:
        return np.zeros((0, 4, 2))
    pairs = np.concatenate([pairs, pairs[:, ::-1]])
    a, b = pairs[:, 0], pairs[:, 1]
    u, v = far_ends[a] - ends[a], far_ends[b] - ends[b]
    long_px, short_px = np.hypot(*u.T), np.hypot(*v.T)
    square = np.abs(np.sum(u * v, axis=1)) < _SQUARE_SLACK * long_px * short_px
    ratio = long_px / short_px
    fits = square & (ratio > shape.ratio / _RATIO_SLACK * 0.95) & (ratio < shape.ratio * _RATIO_SLACK * 1.1)
    fits &= (long_px > 0.85 * long_range_px[0]) & (long_px < long_range_px[1])
    a, b, u, v = a[fits], b[fits], u[fits], v[fits]
    long_px = long_px[fits]
    cross = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    gap = ends[b] - ends[a]
    along_u = (gap[:, 0] * v[:, 1] - gap[:, 1] * v[:, 0]) / cross
    corner = ends[a] + along_u[:, None] * u
    slack = 3.0 + 1.6 * round_share * long_px
    near = (np.hypot(*(corner - ends[a]).T) < slack) & (np.hypot(*(corner - ends[b]).T) < slack)
    corner, u, v = corner[near], u[near], v[near]
    far_u, far_v = far_ends[a[near]], far_ends[b[near]]
    rounding = (round_share * long_px[near])[:, None]
    long_side = far_u - corner + rounding * u / np.hypot(*u.T)[:, None]
    short_side = far_v - corner + rounding * v / np.hypot(*v.T)[:, None]
    return np.stack(
        [corner, corner + long_side, corner + long_side + short_side, corner + short_side], axis=1
    )


def _from_opposites(lines: FloatArray, shape: CardShape, long_range_px: tuple[float, float]) -> FloatArray:
    """Quadrilaterals from pairs of nearly parallel segments, side by side, as far apart as they are long."""
    out = [np.zeros((0, 4, 2))]
    lines = lines[np.argsort(-lengths(lines))[:_MOST_OPPOSITES]]
    span = lengths(lines)
    straight = 1 - 2 * shape.corner_radius_mm / shape.long_mm
    straight_short = 1 - 2 * shape.corner_radius_mm / shape.short_mm
    for is_long, share, over in ((True, straight, shape.ratio), (False, straight_short, 1 / shape.ratio)):
        low = (long_range_px[0] if is_long else long_range_px[0] / shape.ratio) * share * 0.6
        high = (long_range_px[1] if is_long else long_range_px[1] / shape.ratio) * 1.05
        few = lines[(span > low) & (span < high)]
        if len(few) < 2:
            continue
        out.append(_opposite_pairs(few, share, over, is_long, shape))
    return np.concatenate(out)


def _opposite_pairs(
    lines: FloatArray, share: float, over: float, is_long: bool, shape: CardShape
) -> FloatArray:
    """Pairs of ``lines`` as the two long (or short) sides; ``over`` is their length over their distance."""
    middle = (lines[:, :2] + lines[:, 2:]) / 2
    span = lengths(lines)
    direction = (lines[:, 2:] - lines[:, :2]) / span[:, None]
    normal = np.column_stack([-direction[:, 1], direction[:, 0]])
    # Row i holds what partners j there are for line i; only shorter or equal ones, so no pair comes twice.
    along, apart = (axis @ middle.T for axis in (direction, normal))
    along -= np.diag(along)[:, None].copy()
    apart -= np.diag(apart)[:, None].copy()
    fits = np.abs(normal @ direction.T) < _PARALLEL_SLACK
    fits &= (span <= span[:, None]) & (span > 0.55 * span[:, None])
    fits &= np.abs(along) < 0.3 * span[:, None]
    ratio = (np.maximum(span, 1e-9) / share)[:, None] / np.maximum(np.abs(apart), 1e-9)
    fits &= (ratio > over / _RATIO_SLACK) & (ratio < over * _RATIO_SLACK)
    np.fill_diagonal(fits, False)
    a, b = np.nonzero(fits)
    apart = apart[a, b]
    grow = (1 / share - 1) / 2
    p = middle[a] - direction[a] * (span[a] * (0.5 + grow))[:, None]
    q = middle[a] + direction[a] * (span[a] * (0.5 + grow))[:, None]
    facing = direction[b] * np.sign(np.sum(direction[a] * direction[b], axis=1))[:, None]
    # the partner is drawn as long as the first, straight across from it, for its own ends may be cut short
    r = q + _across(q, normal[a], apart, middle[b], facing)
    s = p + _across(p, normal[a], apart, middle[b], facing)
    quads = np.stack([p, q, r, s], axis=1)
    return quads if is_long else np.roll(quads, -1, axis=1)


def _across(
    start: FloatArray, normal: FloatArray, apart: FloatArray, on_line: FloatArray, direction: FloatArray
) -> FloatArray:
    """From ``start`` along ``normal`` to the line through ``on_line``, (n, 2)."""
    gap = on_line - start
    cross = normal[:, 0] * direction[:, 1] - normal[:, 1] * direction[:, 0]
    reach = (gap[:, 0] * direction[:, 1] - gap[:, 1] * direction[:, 0]) / np.where(cross == 0, 1, cross)
    return np.where(cross[:, None] == 0, apart[:, None] * normal, reach[:, None] * normal)


@dataclass(frozen=True, eq=False)
class Views:
    """What sides are looked at in: ``gradient`` (h, w, 2) in levels per pixel, ``smooth`` Lab (h, w, 3)."""

    gradient: npt.NDArray[np.float32]
    smooth: npt.NDArray[np.float32]


def views(picture: SmallPicture) -> Views:
    """Gradient of the channel that changes most, and the picture itself without its finest grain."""
    smooth = cv2.GaussianBlur(picture.lab, (0, 0), 0.8).astype(np.float32)
    across = cv2.split(cv2.Sobel(smooth, cv2.CV_32F, 1, 0, ksize=3, scale=1 / 8))
    down = cv2.split(cv2.Sobel(smooth, cv2.CV_32F, 0, 1, ksize=3, scale=1 / 8))
    x, y, most = across[0], down[0], across[0] ** 2 + down[0] ** 2
    for other_x, other_y in zip(across[1:], down[1:], strict=True):
        power = other_x**2 + other_y**2
        more = (power > most).view(np.uint8)
        for best, other in ((x, other_x), (y, other_y), (most, power)):
            cv2.copyTo(other, more, best)  # numpy takes thirty times as long where there is much grain
    return Views(np.asarray(cv2.merge([x, y]), np.float32), smooth)


def _ranked(quads: FloatArray, seen: Views, few: int) -> tuple[FloatArray, FloatArray]:
    """The ``few`` best supported quadrilaterals and their support, best first; a quick look sorts."""
    past = np.concatenate([-np.linspace(0.05, 0.2, 4), 1 + np.linspace(0.05, 0.2, 4)])
    beyond = _over(quads, lambda some: _strength(some, past, seen).mean(axis=(1, 2)))
    for samples, left in ((4, 10 * few), (_SAMPLES, few)):
        support = _over(quads, partial(_on_sides, samples=samples, seen=seen)) - 0.3 * beyond
        best = np.argsort(-support)[:left]
        quads, support, beyond = quads[best], support[best], beyond[best]
    return quads, support


def _over(quads: FloatArray, what: Callable[[FloatArray], FloatArray]) -> FloatArray:
    """``what`` (n,) of all quadrilaterals, some at a time."""
    parts = [what(quads[i : i + _CHUNK]) for i in range(0, len(quads), _CHUNK)]
    return np.concatenate(parts) if parts else np.zeros(0)


def _on_sides(quads: FloatArray, samples: int, seen: Views) -> FloatArray:
    """How well the four sides are borne by steps that end where the sides end, (n,), at most 1.

    A side counts by the mean of its places, and the weakest side counts as much as the mean of all. Edges
    that run on past the corners count against it, for then it is a grid, boards or tiles.
    """
    on_side = _strength(quads, np.linspace(0.08, 0.92, samples), seen).mean(axis=2)
    return np.asarray(0.5 * on_side.mean(axis=1) + 0.5 * on_side.min(axis=1))


def _strength(quads: FloatArray, shares: FloatArray, seen: Views) -> FloatArray:
    """``edge_strength`` along the quadrilaterals' own sides."""
    side = np.roll(quads, -1, axis=1) - quads
    length = np.maximum(np.linalg.norm(side, axis=2, keepdims=True), 1e-9)
    normal = np.stack([side[..., 1], -side[..., 0]], axis=-1) / length
    return edge_strength(quads, side, normal, shares, seen)


def edge_strength(
    quads: FloatArray, side: FloatArray, normal: FloatArray, shares: FloatArray, seen: Views
) -> FloatArray:
    """Strength 0 to 1 of the edge at shares of each side, (n, 4, shares): slope, and step across it."""
    places = (quads[:, :, None] + shares[:, None] * side[:, :, None]).astype(np.float32)
    across = normal[:, :, None].astype(np.float32)
    slope = np.zeros(places.shape[:3], np.float32)
    for offset in (-1.2, 0.0, 1.2):
        gradient = _look(seen.gradient, places + np.float32(offset) * across)
        here = gradient[..., 0] * across[..., 0] + gradient[..., 1] * across[..., 1]
        np.maximum(slope, np.abs(here), out=slope)
    step2 = np.full(places.shape[:3], np.inf, np.float32)
    long_px = np.linalg.norm(side[:, :1], axis=2, keepdims=True)[..., None].astype(np.float32)
    # near the edge, and further off, where both sides of a line drawn on the table look alike again
    for reach_px in (_STEP_REACH_PX, np.maximum(_STEP_REACH_PX, np.float32(_FAR_REACH) * long_px)):
        reach = reach_px * across
        apart = _look(seen.smooth, places + reach) - _look(seen.smooth, places - reach)
        np.minimum(step2, np.einsum("...c,...c->...", apart, apart), out=step2)
    step = np.sqrt(step2)
    return np.asarray(np.minimum(slope / (slope + _WEAK_SLOPE), step / (step + _WEAK_STEP)), float)


def _look(values: npt.NDArray[np.float32], places: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """Values (n, 4, k, channels) at the nearest pixels to places (n, 4, k, 2)."""
    return values_nearest(values, places.reshape(-1, 2)).reshape(*places.shape[:-1], values.shape[2])


def _without_twins(quads: FloatArray, keep: int) -> list[int]:
    """Indices of the first ``keep`` quads that differ from all earlier ones by more than a few per cent.

    Besides them the first of each further place, up to ``keep`` places.
    """
    chosen: list[int] = []
    places: list[FloatArray] = []
    for index, quad in enumerate(quads):
        size, middle = float(np.linalg.norm(quad[1] - quad[0])), quad.mean(axis=0)
        elsewhere = all(float(np.linalg.norm(middle - place)) > _ELSEWHERE * size for place in places)
        wanted = len(places) < keep if elsewhere else len(chosen) < keep
        if wanted and not any(_twins(quad, quads[earlier], size) for earlier in chosen):
            chosen.append(index)
            if elsewhere:
                places.append(middle)
    return chosen


def _twins(quad: FloatArray, other: FloatArray, size_px: float) -> bool:
    """Whether two quadrilaterals are the same, whichever corner and way round they start."""
    return bool(np.abs(quad - other[_WAYS_ROUND]).max(axis=(1, 2)).min() < _TWIN * size_px)
