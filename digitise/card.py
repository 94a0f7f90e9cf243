"""Find the reference card in a picture.

Straight edges at reduced size propose quadrilaterals; the best supported are measured at full size and
judged as a card: does a rectangle of the card's true ratio fit all four sides in perspective, do edges run
along whole sides, are the corners round by the right radius? Size in the picture decides nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from digitise.card_candidates import Candidates, candidates
from digitise.card_catch import caught
from digitise.card_cut import cut_card
from digitise.card_light import LightWindow, light_window
from digitise.card_pose import CameraEstimate, fit_pose
from digitise.card_round import corner_rounding_mm
from digitise.card_segments import SKETCH_PX, Sketch, sketched
from digitise.card_shape import ID1, CardShape
from digitise.card_sides import (
    CardSide,
    FoundCard,
    measured_sides,
    straightness,
)
from digitise.lens_prior import LensPrior, lens_prior
from digitise.refusal import Reason, Refused
from digitise.tone import FloatArray

__all__ = ["FoundCard", "card_at", "find_card"]

_SEARCH_PX = 1200  # longer side of the picture that is searched
_LONG_SIDE_RANGE = (0.033, 0.25)  # of the longer side of the picture, for a bank card
_LONGEST_SIDE = 0.95  # the same, for the longest sheet
_LEAST_SUPPORT, _FULL_SUPPORT = 0.25, 0.6
_LEAST_CONFIDENCE = 0.35
_CLEAR_CONFIDENCE = 0.75
_SOON_ENOUGH = 0.5  # of 322 rendered photos none had anything but its card above 0.3 in a small picture
_HOPELESS = 0.05  # below this, before its pose is known, nothing is worth the search for its pose
SMALLEST_PX = 70.0
"""A reference shorter than this in the photo gives no useful scale: 1 px is then more than 1 %."""
_MOST_BLUR_PX, _MOST_BLUR_MM = 2.5, 0.856  # sd of the blur, whichever is more; the latter on the card
_SHARP_PX = 1.5
_SAME_START_PX = 1.0  # the fit of the sides finds its way from further off
_BLURRED_MM = (1.5, 4.0)  # blur to start from where the card's edges are soft, on the card
_TRIED_BLURRED = 2  # candidates tried as blurred ones
_STEEPEST_DEG = 55.0
_MISFIT_MM, _PULL_SLACK, _ROUNDING_SLACK_MM = 0.35, 1.2, 0.6
_HEIGHTS_MM = (250.0, 1800.0)  # a chip or a tile taken for a card puts the camera elsewhere
_HEIGHT_SLACK = 0.25  # as a logarithm
_SMOOTH = 0.15  # the same, of edges that blur alone has widened
_NEAR = 1.0  # a place asked for may be this far from the card's middle, in lengths of its long side
_MORE_TRIED = 4  # times as many candidates are looked through for one place, or for several cards


@dataclass(frozen=True)
class _Effort:
    """One way to search: on a picture ``long_px`` long, with differences raised by ``gain``.

    ``kept`` is how many candidates are measured, ``enough`` the confidence that ends the search.
    """

    long_px: int
    gain: float
    kept: int
    enough: float


# a small picture is searched in a fraction of the time, and most cards stand out in it
_EFFORTS = (
    _Effort(SKETCH_PX, 1.0, 3, _SOON_ENOUGH),
    _Effort(_SEARCH_PX, 1.0, 6, _LEAST_CONFIDENCE),
    _Effort(_SEARCH_PX, 4.0, 10, _LEAST_CONFIDENCE),
)


@dataclass(frozen=True, eq=False)
class _Judged:
    """A measured candidate with what speaks for it."""

    sides: tuple[CardSide, ...]
    corners_px: FloatArray
    pose: CameraEstimate
    confidence: float


def find_card(
    pixels_rgb: npt.NDArray[np.uint8],
    prior: LensPrior | None = None,
    shape: CardShape = ID1,
    near_px: tuple[float, float] | None = None,
    several: bool = False,
    sketch: Sketch | None = None,
) -> FoundCard:
    """The card in an upright sRGB picture (h, w, 3) uint8; ``prior`` is what is known of the lens.

    ``near_px`` (x, y) chooses among several: only one about there counts. ``several`` says that there are
    more, so that runners-up are looked for more thoroughly. ``sketch`` is the picture's own, if there is one
    already. Raises Refused: NO_CARD where
    nothing measures like a card, CARD_CUT where one runs out of the picture, TOO_SMALL or BLURRED where it
    cannot be measured well enough.
    """
    prior = prior or lens_prior(None, pixels_rgb.shape[1], pixels_rgb.shape[0])
    looker = _Looker(pixels_rgb, prior, shape, [])
    judged: list[_Judged] = []
    outside_px: float | None = None
    for effort in _EFFORTS[several:]:
        if sketch is None or effort is not _EFFORTS[0]:
            sketch = sketched(pixels_rgb, effort.long_px, effort.gain)
        picture, lines = sketch.picture, sketch.lines
        span = _span(shape, max(picture.lab.shape[:2]))
        kept = effort.kept if near_px is None and not several else _MORE_TRIED * effort.kept
        rough = candidates(picture, lines, shape, span, kept)
        rough = _about(near_px, Candidates(picture.to_photo(rough.corners_px), rough.support), effort.kept)
        least = _LEAST_SUPPORT if several else _FULL_SUPPORT
        judged = _judged(looker, rough, picture.factor, least)
        if judged and judged[0].confidence >= effort.enough:
            break
        if outside_px is None and near_px is None and effort.long_px == _SEARCH_PX:
            outside_px = cut_card(pixels_rgb, picture, lines, shape, span)
        if outside_px is not None:
            break
    likely = [_found(j, shape) for j in judged if j.confidence >= _LEAST_CONFIDENCE]
    if not likely:
        if outside_px is None and near_px is None:
            _refuse_smeared(judged, shape)
        raise _cut(outside_px) if outside_px is not None else _none(judged, near_px, shape)
    _refuse_unfit(likely[0], shape)
    return replace(likely[0], runners_up=tuple(likely[1:]))


def card_at(
    pixels_rgb: npt.NDArray[np.uint8], prior: LensPrior, corners_px: FloatArray, shape: CardShape = ID1
) -> FoundCard | None:
    """The card whose corners (4, 2), in any order that goes round, are about there; None if none measures
    like one within two millimetres or so."""
    looker = _Looker(pixels_rgb, prior, shape, [])
    judged = _measured(looker, _in_order(corners_px), _FULL_SUPPORT, 1.0, None)
    if judged is None or judged.confidence < _LEAST_CONFIDENCE:
        return None
    return _found(judged, shape)


def _refuse_smeared(judged: list[_Judged], shape: CardShape) -> None:
    """Raise Refused(BLURRED) where the likeliest place is half a card, and smeared: blur hides the rest."""
    for each in judged[:1]:
        if each.confidence >= _LEAST_CONFIDENCE / 2:
            refuse_blurred(
                _edge_sigma(each.sides),
                _px_per_mm(each.corners_px, shape),
                "the edges of what may be the card",
            )


def _span(shape: CardShape, long_px: int) -> tuple[float, float]:
    """Shortest and longest long side to look for in a picture ``long_px`` long."""
    low, high = (share * shape.long_mm / ID1.long_mm for share in _LONG_SIDE_RANGE)
    return low * long_px, min(high, _LONGEST_SIDE) * long_px


def _about(near_px: tuple[float, float] | None, rough: Candidates, keep: int) -> Candidates:
    """The first ``keep`` candidates whose middle lies about ``near_px``; all of them if that is None."""
    if near_px is None:
        return rough
    middle = rough.corners_px.mean(axis=1)
    long_px = np.linalg.norm(rough.corners_px[:, 1] - rough.corners_px[:, 0], axis=1)
    near = np.flatnonzero(np.linalg.norm(middle - np.asarray(near_px), axis=1) <= _NEAR * long_px)[:keep]
    return Candidates(rough.corners_px[near], rough.support[near])


def _found(judged: _Judged, shape: CardShape) -> FoundCard:
    return FoundCard(
        corners_px=judged.pose.corners_px(shape),
        corner_cov_px2=judged.pose.corner_covariance(shape),
        sides=judged.sides,
        edge_sigma_px=_edge_sigma(judged.sides),
        confidence=judged.confidence,
        pose=judged.pose,
    )


def _cut(outside_px: float) -> Refused:
    return Refused(
        Reason.CARD_CUT,
        f"The card is cut off by the edge of the photo, a corner lies about {outside_px:.0f} pixels outside: "
        "take the photo again with the whole card in the picture and some table all round it.",
    )


def _none(judged: list[_Judged], near_px: tuple[float, float] | None, shape: CardShape) -> Refused:
    """No card, and how close the likeliest place came to being one."""
    what = "card" if shape == ID1 else f"rectangle of {shape.long_mm:g} × {shape.short_mm:g} mm"
    where = "" if near_px is None else f" near {near_px[0]:g},{near_px[1]:g}"
    if judged:
        x, y = judged[0].corners_px.mean(axis=0)
        score = f"the likeliest place, {x:.0f},{y:.0f}, scores {judged[0].confidence:.2f} of 1"
    else:
        score = "nothing scores above 0"
    return Refused(
        Reason.NO_CARD,
        f"No {what} was found{where} ({score}, and {_LEAST_CONFIDENCE:g} is needed): lay "
        + ("a bank-size card" if shape == ID1 else "it")
        + " flat on the table beside the racquet, where its colour stands out and nothing covers its edges, "
        "and take the photo again."
        + (" Another reference than a card is named with --card-size." if shape == ID1 else ""),
    )


def blur_limit_px(px_per_mm: float) -> float:
    """The most blur, as the sd of edges in px, that a photo of this scale may have."""
    return max(_MOST_BLUR_PX, _MOST_BLUR_MM * px_per_mm)


def _refuse_unfit(found: FoundCard, shape: CardShape) -> None:
    """Raise Refused where the card is found but too small or too blurred to measure by."""
    long_px = _px_per_mm(found.corners_px, shape) * shape.long_mm
    if long_px < SMALLEST_PX:
        raise Refused(
            Reason.TOO_SMALL,
            f"The card is too small in the photo, {long_px:.0f} pixels long where at least "
            f"{SMALLEST_PX:.0f} are needed: hold the camera closer or use the camera's full resolution.",
        )
    refuse_blurred(found.edge_sigma_px, long_px / shape.long_mm, "the card's edges")


def refuse_blurred(sigma_px: float, px_per_mm: float, what: str) -> None:
    """Raise Refused(BLURRED) where edges of this blur, as an sd in px, are too soft at this scale."""
    limit_px = blur_limit_px(px_per_mm)
    if sigma_px > limit_px:
        raise Refused(
            Reason.BLURRED,
            f"The photo is too blurred to measure: {what} are smeared over "
            f"{2 * sigma_px:.1f} pixels where at most {2 * limit_px:.1f} will do; hold the camera "
            "still, let it focus and retake it.",
        )


@dataclass(frozen=True, eq=False)
class _Looker:
    """What every candidate is measured with, and the ``measured`` ones: start (4, 2), support, result."""

    pixels_rgb: npt.NDArray[np.uint8]
    prior: LensPrior
    shape: CardShape
    measured: list[tuple[FloatArray, float, _Judged | None]]

    def before(self, start_px: FloatArray, support: float) -> tuple[_Judged | None] | None:
        """The result of a candidate that started at the same place with no less support, if there was one."""
        for other_px, other_support, judged in self.measured:
            enough = other_support >= min(support, _FULL_SUPPORT)
            if enough and np.abs(other_px - start_px).max() < _SAME_START_PX:
                return (judged,)
        return None


def _judged(looker: _Looker, rough: Candidates, factor: float, least_support: float) -> list[_Judged]:
    """The candidates that could be measured, most like a card first, each place once."""
    shape = looker.shape
    found: list[_Judged] = []
    for corners, support in zip(rough.corners_px, rough.support, strict=True):
        if support < _LEAST_SUPPORT:
            break
        clear = [judged for judged in found if judged.confidence > _CLEAR_CONFIDENCE]
        # once one is clear, only another card elsewhere is still of interest
        if clear and (support < least_support or any(_same_place(corners, c, shape) for c in clear)):
            continue
        judged = _measured(looker, _in_order(corners), float(support), factor, None)
        if judged is not None:
            found.append(judged)
    if all(judged.confidence < _LEAST_CONFIDENCE for judged in found):
        found += _blurred(looker, rough, factor)
    found.sort(key=lambda judged: -judged.confidence)
    distinct: list[_Judged] = []
    for judged in found:
        near = 0.01 * _px_per_mm(judged.corners_px, shape) * shape.long_mm
        if all(np.abs(judged.corners_px - other.corners_px).max() > near for other in distinct):
            distinct.append(judged)
    return distinct


def _blurred(looker: _Looker, rough: Candidates, factor: float) -> list[_Judged]:
    """The likeliest candidates measured as those of a blurred picture."""
    likely = list(zip(rough.corners_px, rough.support, strict=True))[:_TRIED_BLURRED]
    found = [
        _measured(looker, _in_order(corners), float(support), factor, blur_mm)
        for corners, support in likely
        if support >= _LEAST_SUPPORT
        for blur_mm in _BLURRED_MM
    ]
    return [judged for judged in found if judged is not None]


def _same_place(corners_px: FloatArray, judged: _Judged, shape: CardShape) -> bool:
    apart_px = float(np.linalg.norm(corners_px.mean(axis=0) - judged.corners_px.mean(axis=0)))
    return apart_px < 0.5 * _px_per_mm(judged.corners_px, shape) * shape.long_mm


def _measured(
    looker: _Looker, corners_px: FloatArray, support: float, factor: float, blur_mm: float | None
) -> _Judged | None:
    """One rough candidate measured at full size, as in a sharp picture, or one blurred by ``blur_mm``."""
    px_per_mm = _px_per_mm(corners_px, looker.shape)
    reach_px = 2.0 * factor + 2.0 * px_per_mm
    window = light_window(looker.pixels_rgb, corners_px, 2.0 * reach_px + 6.0 * px_per_mm)
    start = None if window is None else caught(window, corners_px, looker.shape, reach_px)
    if window is None or start is None:
        return None
    if blur_mm is not None:
        return _measured_from(looker, window, start, support, px_per_mm, blur_mm * px_per_mm)
    # variants of one place are caught by the same edges, and would come out the same again
    before = looker.before(start, support)
    if before is not None:
        return before[0]
    judged = _measured_from(looker, window, start, support, px_per_mm, _SHARP_PX)
    looker.measured.append((start, support, judged))
    return judged


def _measured_from(
    looker: _Looker,
    window: LightWindow,
    start_px: FloatArray,
    support: float,
    px_per_mm: float,
    blur_px: float,
) -> _Judged | None:
    """The card whose sides lie near ``start_px`` (4, 2), in a picture blurred by about ``blur_px``."""
    shape = looker.shape
    sides = measured_sides(window, start_px, shape, blur_px)
    if sides is None:
        return None
    measured = np.array([side.start_px for side in sides])
    likeness = min(1.0, support / _FULL_SUPPORT) * _likeness(window, sides, measured, shape)
    if likeness < _HOPELESS:
        return None
    pose = fit_pose(sides, measured, looker.prior, shape)
    if pose is None:
        return None
    return _Judged(sides, measured, pose, likeness * _plausibility(pose, px_per_mm))


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


def _likeness(
    window: LightWindow, sides: tuple[CardSide, ...], corners_px: FloatArray, shape: CardShape
) -> float:
    """0 to 1: how well sides and corners are those of a card, whatever its pose."""
    round_mm = corner_rounding_mm(window, corners_px, _px_per_mm(corners_px, shape))
    expected_mm = (math.sqrt(2) - 1) * shape.corner_radius_mm
    return _met((round_mm - expected_mm) / _ROUNDING_SLACK_MM) * straightness(
        [side.used_share for side in sides], [side.residual_rms_px / side.sigma_px for side in sides]
    )


def _plausibility(pose: CameraEstimate, px_per_mm: float) -> float:
    """0 to 1: how well one camera, where cameras are held, explains all four sides."""
    if pose.camera.tilt_deg > _STEEPEST_DEG:
        return 0.0
    low_mm, high_mm = _HEIGHTS_MM
    height_mm = max(pose.camera.height_mm, 1.0)
    unlikely_height = max(0.0, math.log(low_mm / height_mm), math.log(height_mm / high_mm))
    return _met(
        pose.residual_rms_px / px_per_mm / _MISFIT_MM,
        max(0.0, pose.pull - 1.0) / _PULL_SLACK,
        unlikely_height / _HEIGHT_SLACK,
    )


def _met(*misfits: float) -> float:
    """1 where all misfits are 0, and as a normal density falls from there."""
    return math.exp(-0.5 * sum(m**2 for m in misfits))
