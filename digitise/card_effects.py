"""What moves a card's seen side away from the edge of its top face, and by how much it may.

The card is 0.76 mm thick: on the sides towards the point below the camera its wall is seen, up to a pixel
wide, and may be as bright as its face. Its foot throws a narrow shadow on the table, which a dark card's
edge merges with. A face that is nearly white is clipped by the camera, so half-way up the stored step lies
outside half-way up the light. A tint's step lies where unlike light on its two sides puts it, and no shadow
moves it. Shares are rough means over photos of cards of known place.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from digitise.card_sides import CardSide
from digitise.tone import FloatArray

_FLOOR_PX = 0.05  # tone curve, sharpening
_WALL, _WALL_SD = 0.45, 0.35  # of the wall's seen width
_DARK_STEP = 0.1  # a card not at least this much lighter than the table may merge with its shadow
_SHADOW_MM, _SHADOW_SD_MM = 0.03, 0.08
_WIDENED, _WIDENED_SD_DARK, _WIDENED_SD = 0.2, 0.4, 0.2  # of a side's blur beyond the sharpest side's
_CLIPPED_FROM, _CLIPPED_FULLY = 0.90, 0.97  # light of the brightest colour
_CLIPPED_BEYOND = 0.2  # light lost above the clipped face
_CLIPPED_SD = 0.5  # of the shift that makes
_TINT_SD = 0.3  # of the shift that unlike light makes of a tint's step
TINT_TOGETHER_SD_MM = 0.12
"""How far a tint's steps may lie outside all edges of a card alike, one sd: how deep the table's shade is and
how wide is not known."""
_TURN_SHARE = 0.5  # of what a shadow or wall may shift a side, how much it may turn it


@dataclass(frozen=True)
class SideEffect:
    """How far outward a side is expected to be seen, the sd of that, and of what turns it at its ends."""

    outward_px: float
    sd_px: float
    turn_sd_px: float


@dataclass(frozen=True, eq=False)
class Outward:
    """``offset_px`` (4,) of the measured sides outside the true ones, its ``covariance_px2`` (4, 4), and
    ``turn_sd_px`` (4,), by how much the ends of a side may be turned."""

    offset_px: FloatArray
    covariance_px2: FloatArray
    turn_sd_px: FloatArray


def side_effects(
    sides: tuple[CardSide, ...], wall_px: FloatArray, px_per_mm: float
) -> tuple[SideEffect, ...]:
    """The effect on each side; ``wall_px`` (4,) is how wide its wall is seen, 0 where hidden."""
    sharpest = min(side.sigma_px for side in sides)
    return tuple(
        _effect(side, float(wall), sharpest, px_per_mm) for side, wall in zip(sides, wall_px, strict=True)
    )


def _effect(side: CardSide, wall_px: float, sharpest_px: float, px_per_mm: float) -> SideEffect:
    widened = math.sqrt(max(side.sigma_px**2 - sharpest_px**2, 0.0))
    clipped = clipped_px(side)
    outward = _WALL * wall_px + clipped
    parts = [_WALL_SD * wall_px, _CLIPPED_SD * clipped]
    if side.tint_blur_px:
        outward += side.tint_outward_px
        parts += [_TINT_SD * side.tint_outward_px, _WIDENED_SD * widened]
    elif side.step_light < _DARK_STEP:
        outward += _SHADOW_MM * px_per_mm + _WIDENED * widened
        parts += [_SHADOW_SD_MM * px_per_mm, _WIDENED_SD_DARK * widened]
    else:
        parts.append(_WIDENED_SD * widened)
    sd = math.hypot(*parts)
    return SideEffect(outward, math.hypot(sd, _FLOOR_PX), _TURN_SHARE * sd)


def clipped_px(side: CardSide) -> float:
    """How far outward half-way up a clipped step lies of half-way up the light, for a Gaussian blur."""
    share = (side.highest_light - _CLIPPED_FROM) / (_CLIPPED_FULLY - _CLIPPED_FROM)
    lost = min(max(share, 0.0), 1.0) * _CLIPPED_BEYOND
    if lost == 0.0 or side.step_light <= 0.0:
        return 0.0
    from statistics import NormalDist  # loads much, and few cards are clipped

    return -NormalDist().inv_cdf(0.5 * side.step_light / (side.step_light + lost)) * side.sigma_px
