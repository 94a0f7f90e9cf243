"""Where a card's four sides lie, to a small part of a pixel, from a start within a pixel or two.

Profiles across each side give the edge's shift in linear light; the line through the shifts is fitted
robustly; the corners are where the lines meet, because the card's own corners are round.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from digitise.card_light import LightWindow
from digitise.card_lines import SideLine, closed, median, outlines, robust_line
from digitise.card_profiles import ALONG_PX, Shifts, Strip, blur_of, edge_shifts, strip
from digitise.card_shape import CardShape
from digitise.card_tint import step_outward_px
from digitise.tone import FloatArray, to_stored

if TYPE_CHECKING:
    from digitise.card_pose import CameraEstimate

_CORNER_CLEAR_MM = 1.2  # kept clear beside the round of a corner
_MIN_PROFILES = 12
_PASSES = 6
_LAST_PASSES, _ROUGH_PROFILES = 4, 150  # until this one, so many profiles a side will do
_BLUR_PASSES = (1, 2, 3)  # after these the blur is taken anew
LEAST_SIGMA_PX = 0.5
"""No photo is sharper than this."""
_MOST_SIGMA = 0.08  # of the side's length
_UNEVEN = 4.0  # profiles count at most this many times the median one
_BLOCKS = 12
_PROFILE_REACH = 6.0
_UNIT_BLUR = 0.9  # blur in units of the profile's samples, at most
_RAGGED = 0.5  # scatter of edge points over blur
_FULLY_USED = 0.7  # share of a side's profiles that must agree for full marks
_NO_EDGE = 0.08  # cards that are hard to see have 0.25 and more, from the first pass on
_BESIDE = 2.0  # where card and table are looked at for their light, in sds of the blur
_SD_FLOOR_PX = 0.02  # what no averaging removes: sampling and tone curve


@dataclass(frozen=True, eq=False)
class SideProfile:
    """What is seen across a side on the whole: the median along it.

    ``across`` (m,) are places outward of the side's line, in units of ``unit_px``; ``values`` (m, 3) are
    stored brightness and the two colour differences of a JPEG.
    """

    across: FloatArray
    unit_px: float
    values: FloatArray


@dataclass(frozen=True, eq=False)
class CardSide:
    """One straight side, from ``start_px`` to ``end_px`` (its sharp corners), ``outward`` its unit normal.

    ``points_px`` (n, 2) are the edge points that the line kept, ``used_share`` how many of all profiles
    those are, ``residual_rms_px`` their scatter. ``offset_sd_px`` is the line's standard deviation at the
    side's middle, ``turn_sd_px`` what its turning adds at the ends; the two are independent.
    ``sigma_px`` is the blur seen on this side, ``step_light`` card minus table in light, ``noise_light``
    that of one profile, ``highest_light`` the light of the card's brightest colour (1: clipped).
    ``profile`` is what lies across the side, where its light was read; where its tint was, that was blurred
    by ``tint_blur_px``, part of ``sigma_px``, and its step lies ``tint_outward_px`` outside the edge.
    """

    points_px: FloatArray
    start_px: FloatArray
    end_px: FloatArray
    outward: FloatArray
    offset_sd_px: float
    turn_sd_px: float
    residual_rms_px: float
    used_share: float
    sigma_px: float
    step_light: float
    noise_light: float
    highest_light: float
    profile: SideProfile | None = None
    tint_blur_px: float = 0.0
    tint_outward_px: float = 0.0


@dataclass(frozen=True, eq=False)
class FoundCard:
    """A card in a picture.

    ``corners_px`` (4, 2) are its sharp corners (the straight sides prolonged), 0 to 1 a long side, counter-
    clockwise as seen in the picture; ``corner_cov_px2`` (8, 8) their covariance, x0, y0, x1, ...
    ``sides`` i runs from corner i to i + 1. ``edge_sigma_px`` is the blur of its edges.
    ``confidence`` is 0 to 1; ``runners_up`` holds other places that also looked like a card, likeliest first.
    ``pose`` is the camera by which it was judged, by its own sides and the lens it was sought with.
    """

    corners_px: FloatArray
    corner_cov_px2: FloatArray
    sides: tuple[CardSide, ...]
    edge_sigma_px: float
    confidence: float
    runners_up: tuple[FoundCard, ...] = ()
    pose: CameraEstimate | None = None


@dataclass(frozen=True, eq=False)
class _Fit:
    """What the last pass over a side left behind: the moved line, and the profiles about it."""

    line: SideLine
    read: Strip
    shifts: Shifts
    residual_px: FloatArray
    weight: FloatArray


def straightness(used_shares: Iterable[float], ragged: Iterable[float]) -> float:
    """0 to 1: how much of the sides is edge, and how well that lies in a line.

    ``used_shares`` are those of the profiles that agree, ``ragged`` the scatter of their points over blur.
    """
    full = min(1.0, min(used_shares) / _FULLY_USED)
    return full**2 * math.exp(-0.5 * (max(ragged) / _RAGGED) ** 2)


def measured_sides(
    window: LightWindow, corners_px: FloatArray, shape: CardShape, rough_px: float
) -> tuple[CardSide, ...] | None:
    """The four sides near a rough quadrilateral, in its own order, or None where no edge is found.

    ``corners_px`` (4, 2): 0 to 1 is a long side; ``rough_px`` is how far off it may be. Passes start with
    a step as blurred as the start is rough, so that the edge is caught, and end with the edge's own blur:
    of each two opposite sides the smaller, because a shadow or the card's wall only ever widens an edge.
    """
    lines: list[SideLine] | None = outlines(corners_px)
    sigma = [max(1.0, rough_px)] * 4
    own = list(sigma)
    fits: list[_Fit] = []
    for turn in range(_PASSES):
        if lines is None:
            return None
        px_per_mm = sum(line.length for line in lines) / (2 * (shape.long_mm + shape.short_mm))
        clear = (shape.corner_radius_mm + _CORNER_CLEAR_MM) * px_per_mm
        fits = []
        for line, blur in zip(lines, sigma, strict=True):
            along_px = ALONG_PX if turn >= _LAST_PASSES else max(ALONG_PX, line.length / _ROUGH_PROFILES)
            fit = _pass(window, line, clear, blur, along_px)
            if fit is None:
                return None
            fits.append(fit)
        if turn < _LAST_PASSES and _straightness(fits, sigma) < _NO_EDGE:
            return None
        lines = closed([fit.line for fit in fits])
        if turn in _BLUR_PASSES:
            own = [blur_of(f.shifts, f.read.across_px, s) for f, s in zip(fits, sigma, strict=True)]
            sigma = [
                min(max(LEAST_SIGMA_PX, min(own[i], own[(i + 2) % 4])), _MOST_SIGMA * fits[i].line.length)
                for i in range(4)
            ]
    if lines is None:
        return None
    unit_px = max(1.0, min(own) / _UNIT_BLUR)
    return tuple(
        _finished(window, fit, line, blur, unit_px) for fit, line, blur in zip(fits, lines, own, strict=True)
    )


def _straightness(fits: list[_Fit], sigma_px: list[float]) -> float:
    """``straightness`` of sides that are still being measured."""
    return straightness(
        [float((fit.weight > 0).mean()) for fit in fits],
        [_scatter_px(fit) / sigma for fit, sigma in zip(fits, sigma_px, strict=True)],
    )


def _scatter_px(fit: _Fit) -> float:
    """Root mean square of the points that the line kept about it, by their weights."""
    return math.sqrt(float(fit.weight @ fit.residual_px**2) / float(fit.weight.sum()))


def _pass(
    window: LightWindow, line: SideLine, clear_px: float, sigma_px: float, along_px: float
) -> _Fit | None:
    """Read the side once, every ``along_px``, with the given blur and move the line to where its edge is."""
    if not line.length - 2 * clear_px > _MIN_PROFILES * ALONG_PX:
        return None
    read = strip(window, line, clear_px, sigma_px, along_px)
    shifts = edge_shifts(read, sigma_px)
    known = shifts.precision > 0
    if not known.any():
        return None
    base = np.minimum(shifts.precision, _UNEVEN * float(median(shifts.precision[known])))
    level, slope, weight = robust_line(read.along_px, shifts.shift_px, base)
    if weight.sum() <= 0:
        return None
    half = line.length / 2
    residual = shifts.shift_px - level - slope * (read.along_px - read.along_px.mean())
    moved = line.shifted(level - slope * half, level + slope * half)
    return _Fit(moved, read, shifts, residual, weight)


def _line_sd(fit: _Fit) -> tuple[float, float]:
    """Sd of the line's level and of its turning at the ends, from block means: neighbours hang together."""
    used = np.flatnonzero(fit.weight > 0)
    blocks = [b for b in np.array_split(used, _BLOCKS) if len(b)]
    means = np.array([np.average(fit.residual_px[b], weights=fit.weight[b]) for b in blocks])
    middles = np.array([fit.read.along_px[b].mean() for b in blocks])
    variance = float(np.sum(means**2)) / max(1, len(blocks) - 2)
    spread = float(np.sum((middles - middles.mean()) ** 2))
    turn = variance / spread * (fit.line.length / 2) ** 2 if spread > 0 else 1.0
    return math.sqrt(variance / len(blocks) + _SD_FLOOR_PX**2), math.sqrt(turn + _SD_FLOOR_PX**2)


def _profile(window: LightWindow, fit: _Fit, feet: FloatArray, unit_px: float) -> SideProfile:
    """The median profile at the given feet (n, 2) of the line."""
    across = np.asarray(np.arange(-_PROFILE_REACH, _PROFILE_REACH + 0.25, 0.5))
    places = feet[:, None] + (unit_px * across)[None, :, None] * fit.line.outward
    seen = window.read(places)
    brightness = to_stored(seen[..., 0])
    # red and blue above brightness, scaled to the colour differences of ITU-T T.871
    values = np.stack([brightness, seen[..., 2] / 1.772, seen[..., 1] / 1.402], axis=-1)
    return SideProfile(across, unit_px, median(values))


def _finished(
    window: LightWindow, fit: _Fit, line: SideLine, own_sigma_px: float, unit_px: float
) -> CardSide:
    """The side as measured; ``line`` is the fit's with its ends moved to the corners."""
    used = fit.weight > 0
    # residuals are about the moved line, so a point is its foot there plus its residual
    feet = fit.line.start + fit.read.along_px[used, None] * fit.line.direction
    offset_sd, turn_sd = _line_sd(fit)
    on_card = feet - (2.5 * own_sigma_px) * line.outward
    return CardSide(
        points_px=feet + fit.residual_px[used, None] * fit.line.outward,
        start_px=line.start,
        end_px=line.end,
        outward=line.outward,
        offset_sd_px=offset_sd,
        turn_sd_px=turn_sd,
        residual_rms_px=_scatter_px(fit),
        used_share=float(used.mean()),
        sigma_px=own_sigma_px,
        step_light=float(median(fit.shifts.step)),
        noise_light=fit.shifts.noise,
        highest_light=float(median(window.read_highest(on_card[None])[0])),
        profile=None if window.tint_blur_px else _profile(window, fit, feet, unit_px),
        tint_blur_px=window.tint_blur_px,
        tint_outward_px=_tint_outward_px(window, feet, own_sigma_px * line.outward)
        if window.tint_blur_px
        else 0.0,
    )


def _tint_outward_px(window: LightWindow, feet: FloatArray, sigma: FloatArray) -> float:
    """``step_outward_px`` at the feet (n, 2) of a side; ``sigma`` (2,) is outward and as long as its blur."""
    card, table = (median(window.read_rgb((feet + away * sigma)[None])[0]) for away in (-_BESIDE, _BESIDE))
    return step_outward_px(card, table, float(np.hypot(*sigma)))
