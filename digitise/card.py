"""Find the reference card in a picture.

Straight edges at reduced size propose quadrilaterals; the best supported are measured at full size and
judged as a card: does a rectangle of the card's true ratio fit all four sides in perspective, do edges run
along whole sides, are the corners round by the right radius? Size in the picture decides nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from digitise.card_candidates import Candidates, candidates
from digitise.card_catch import caught
from digitise.card_cut import cut_card
from digitise.card_light import LightWindow, light_window
from digitise.card_pose import CameraEstimate, fit_pose, focal_prior
from digitise.card_round import corner_rounding_mm
from digitise.card_segments import reduced, segments, strengthened
from digitise.card_shape import ID1, CardShape
from digitise.card_sides import (
    CardSide,
    FoundCard,
    measured_sides,
)
from digitise.refusal import Reason, Refused
from digitise.tone import FloatArray

__all__ = ["FoundCard", "find_card"]

_SEARCH_PX = 1200  # longer side of the picture that is searched
_SHORTEST_EDGE_PX = 12.0
_LONG_SIDE_RANGE = (0.033, 0.25)  # of the longer side of the picture
_LEAST_SUPPORT, _FULL_SUPPORT = 0.25, 0.6
_LEAST_CONFIDENCE = 0.35
_CLEAR_CONFIDENCE = 0.75
_SMALLEST_PX = 70.0
_MOST_BLUR_PX, _MOST_BLUR_SHARE = 2.5, 0.01  # sd of the blur; the share is of the card's length
_SHARP_PX = 1.5
_BLURRED_MM = (1.5, 4.0)  # blur to start from where the card's edges are soft, on the card
_TRIED_BLURRED = 2  # candidates tried as blurred ones
_STEEPEST_DEG = 55.0
_MISFIT_MM, _PULL_SLACK, _ROUNDING_SLACK_MM = 0.35, 1.2, 0.6
_HEIGHTS_MM = (250.0, 1800.0)  # a chip or a tile taken for a card puts the camera elsewhere
_HEIGHT_SLACK = 0.25  # as a logarithm
_RAGGED = 0.5  # scatter of edge points over blur
_SMOOTH = 0.15  # the same, of edges that blur alone has widened
_FULLY_USED = 0.7  # share of a side's profiles that must agree for full marks
_CUT_MESSAGE = (
    "The card is cut off by the edge of the photo: take the photo again with the whole card in the picture "
    "and some table all round it."
)
_NONE_MESSAGE = (
    "No card was found: lay a bank-size card flat on the table beside the racquet, where its colour stands "
    "out and nothing covers its edges, and take the photo again."
)


@dataclass(frozen=True)
class _Effort:
    """One way to search: differences raised by ``gain``, and how many candidates are measured."""

    gain: float
    kept: int


_EFFORTS = (_Effort(1.0, 6), _Effort(4.0, 10))


@dataclass(frozen=True, eq=False)
class _Judged:
    """A measured candidate with what speaks for it."""

    sides: tuple[CardSide, ...]
    corners_px: FloatArray
    pose: CameraEstimate
    confidence: float


def find_card(
    pixels_rgb: npt.NDArray[np.uint8], f35_mm: float | None = None, shape: CardShape = ID1
) -> FoundCard:
    """The card in an upright sRGB picture (h, w, 3) uint8; ``f35_mm`` as in the photo, None if unknown.

    Raises Refused: NO_CARD where nothing measures like a card or it is too small, CARD_CUT where one runs
    out of the picture, BLURRED where its edges are too soft to measure.
    """
    plain = reduced(pixels_rgb, _SEARCH_PX)
    judged: list[_Judged] = []
    cut = False
    for effort in _EFFORTS:
        picture = plain if effort.gain == 1 else strengthened(plain, effort.gain)
        lines = segments(picture, _SHORTEST_EDGE_PX)
        long_px = max(picture.lab.shape[:2])
        span = (_LONG_SIDE_RANGE[0] * long_px, _LONG_SIDE_RANGE[1] * long_px)
        rough = candidates(picture, lines, shape, span, effort.kept)
        rough = Candidates(picture.to_photo(rough.corners_px), rough.support)
        judged = _judged(pixels_rgb, rough, picture.factor, f35_mm, shape)
        if judged and judged[0].confidence >= _LEAST_CONFIDENCE:
            break
        cut = cut or cut_card(pixels_rgb, picture, lines, shape, span)
        if cut:
            break
    if not judged or judged[0].confidence < _LEAST_CONFIDENCE:
        raise Refused(Reason.CARD_CUT, _CUT_MESSAGE) if cut else Refused(Reason.NO_CARD, _NONE_MESSAGE)
    best = judged[0]
    _refuse_unfit(best, shape)
    return FoundCard(
        corners_px=best.pose.corners_px(shape),
        corner_cov_px2=best.pose.corner_covariance(shape),
        sides=best.sides,
        edge_sigma_px=_edge_sigma(best.sides),
        confidence=best.confidence,
        runners_up=tuple(j.pose.corners_px(shape) for j in judged[1:] if j.confidence > _LEAST_CONFIDENCE),
    )


def _refuse_unfit(best: _Judged, shape: CardShape) -> None:
    """Raise Refused where the card is found but too small or too blurred to measure by."""
    long_px = _px_per_mm(best.corners_px, shape) * shape.long_mm
    if long_px < _SMALLEST_PX:
        raise Refused(
            Reason.NO_CARD,
            f"The card is too small in the photo, {long_px:.0f} pixels long where at least "
            f"{_SMALLEST_PX:.0f} are needed: hold the camera closer or use the camera's full resolution.",
        )
    blur_px = _edge_sigma(best.sides)
    if blur_px > max(_MOST_BLUR_PX, _MOST_BLUR_SHARE * long_px):
        raise Refused(
            Reason.BLURRED,
            f"The photo is too blurred to measure: the card's edges are smeared over {2 * blur_px:.0f} "
            f"pixels of its {long_px:.0f} pixels' length; hold the camera still, let it focus and retake it.",
        )


def _judged(
    pixels_rgb: npt.NDArray[np.uint8],
    rough: Candidates,
    factor: float,
    f35_mm: float | None,
    shape: CardShape,
) -> list[_Judged]:
    """The candidates that could be measured, most like a card first, each place once."""
    found: list[_Judged] = []
    for corners, support in zip(rough.corners_px, rough.support, strict=True):
        if support < _LEAST_SUPPORT:
            break
        best = max(found, key=lambda judged: judged.confidence, default=None)
        if best is not None and best.confidence > _CLEAR_CONFIDENCE:
            # only another card elsewhere is still of interest
            apart = float(np.linalg.norm(corners.mean(axis=0) - best.corners_px.mean(axis=0)))
            elsewhere = apart > 0.5 * _px_per_mm(best.corners_px, shape) * shape.long_mm
            if not elsewhere or support < _FULL_SUPPORT:
                continue
        blurs = _BLURRED_MM if len(found) < _TRIED_BLURRED else ()
        judged = _measured(pixels_rgb, _in_order(corners), float(support), factor, f35_mm, shape, blurs)
        if judged is not None:
            found.append(judged)
    found.sort(key=lambda judged: -judged.confidence)
    distinct: list[_Judged] = []
    for judged in found:
        near = 0.01 * _px_per_mm(judged.corners_px, shape) * shape.long_mm
        if all(np.abs(judged.corners_px - other.corners_px).max() > near for other in distinct):
            distinct.append(judged)
    return distinct


def _measured(
    pixels_rgb: npt.NDArray[np.uint8],
    corners_px: FloatArray,
    support: float,
    factor: float,
    f35_mm: float | None,
    shape: CardShape,
    blurs_mm: tuple[float, ...],
) -> _Judged | None:
    """One rough candidate measured at full size, first as a sharp picture, then blurred by ``blurs_mm``."""
    size_px = (pixels_rgb.shape[1], pixels_rgb.shape[0])
    px_per_mm = _px_per_mm(corners_px, shape)
    reach_px = 2.0 * factor + 2.0 * px_per_mm
    window = light_window(pixels_rgb, corners_px, 2.0 * reach_px + 6.0 * px_per_mm)
    near = None if window is None else caught(window, corners_px, shape, reach_px)
    if window is None or near is None:
        return None
    best: _Judged | None = None
    for blur_px in (_SHARP_PX, *(share * px_per_mm for share in blurs_mm)):
        sides = measured_sides(window, near, shape, blur_px)
        if sides is None:
            continue
        measured = np.array([side.start_px for side in sides])
        pose = fit_pose(sides, measured, size_px, focal_prior(f35_mm, *size_px), shape)
        if pose is None:
            continue
        confidence = _confidence(window, sides, measured, pose, support, shape)
        if best is None or confidence > best.confidence:
            best = _Judged(sides, measured, pose, confidence)
        if best.confidence > _LEAST_CONFIDENCE:
            break
    return best


def _in_order(corners_px: FloatArray) -> FloatArray:
    """The same corners counter-clockwise as seen, 0 to 1 a long side that points right."""
    x, y = corners_px.T
    area = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2
    turned = corners_px if area < 0 else corners_px[[1, 0, 3, 2]]
    along = turned[1] - turned[0]
    points_right = along[0] > 0 or (along[0] == 0 and along[1] > 0)
    return turned if points_right else np.roll(turned, -2, axis=0)


def _px_per_mm(corners_px: FloatArray, shape: CardShape) -> float:
    around = float(np.linalg.norm(np.roll(corners_px, -1, axis=0) - corners_px, axis=1).sum())
    return around / (2 * (shape.long_mm + shape.short_mm))


def _edge_sigma(sides: tuple[CardSide, ...]) -> float:
    """Blur of the card: of each two opposite sides the sharper, of both directions the softer.

    Sides whose points scatter are no measure of blur: something drawn on the table has widened them.
    """
    smooth = [side.residual_rms_px < _SMOOTH * side.sigma_px for side in sides]
    pairs = [min(sides[i].sigma_px, sides[i + 2].sigma_px) for i in (0, 1) if smooth[i] and smooth[i + 2]]
    return max(pairs) if pairs else min(side.sigma_px for side in sides)


def _confidence(
    window: LightWindow,
    sides: tuple[CardSide, ...],
    corners_px: FloatArray,
    pose: CameraEstimate,
    support: float,
    shape: CardShape,
) -> float:
    """0 to 1: the product of how well each thing that makes a card is met."""
    px_per_mm = _px_per_mm(corners_px, shape)
    if pose.camera.tilt_deg > _STEEPEST_DEG:
        return 0.0
    round_mm = corner_rounding_mm(window, corners_px, px_per_mm)
    low_mm, high_mm = _HEIGHTS_MM
    height_mm = max(pose.camera.height_mm, 1.0)
    unlikely_height = max(0.0, math.log(low_mm / height_mm), math.log(height_mm / high_mm))
    expected_mm = (math.sqrt(2) - 1) * shape.corner_radius_mm
    misfits = (
        pose.residual_rms_px / px_per_mm / _MISFIT_MM,
        max(0.0, pose.pull - 1.0) / _PULL_SLACK,
        (round_mm - expected_mm) / _ROUNDING_SLACK_MM,
        max(side.residual_rms_px / side.sigma_px for side in sides) / _RAGGED,
        unlikely_height / _HEIGHT_SLACK,
    )
    used = min(side.used_share for side in sides)
    return (
        min(1.0, support / _FULL_SUPPORT)
        * math.exp(-0.5 * sum(m**2 for m in misfits))
        * min(1.0, used / _FULLY_USED) ** 2
    )
