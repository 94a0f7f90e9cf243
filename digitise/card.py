"""Find the reference card in a picture.

Straight edges at reduced size propose quadrilaterals; the best supported are measured at full size and
judged as a card: does a rectangle of the card's true ratio fit all four sides in perspective, do edges run
along whole sides, are the corners round by the right radius? Size in the picture decides nothing. Where no
card is found by light, it is sought by its tint alone.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from digitise.card_candidates import Candidates, candidates
from digitise.card_catch import caught
from digitise.card_cut import cut_card
from digitise.card_light import LightWindow, light_window
from digitise.card_pose import CameraEstimate, fit_pose
from digitise.card_refusals import LEAST_CONFIDENCE, cut, none_found, refuse_blurred, refuse_unfit
from digitise.card_round import corner_rounding_mm
from digitise.card_segments import SKETCH_PX, Sketch, sketched
from digitise.card_shape import ID1, CardShape
from digitise.card_sides import (
    LEAST_SIGMA_PX,
    CardSide,
    FoundCard,
    measured_sides,
    straightness,
)
from digitise.card_tint import tint_sketch, tint_window, without_light_lines
from digitise.lens_prior import LensPrior, lens_prior
from digitise.tone import FloatArray

__all__ = ["FoundCard", "card_at", "find_card"]

_SEARCH_PX = 1200  # longer side of the picture that is searched
_LONG_SIDE_RANGE = (0.033, 0.25)  # of the longer side of the picture, for a bank card
_LONGEST_SIDE = 0.95  # the same, for the longest sheet
_LEAST_SUPPORT, _FULL_SUPPORT = 0.25, 0.6
_CLEAR_CONFIDENCE = 0.75
_SOON_ENOUGH = 0.5  # of 322 rendered photos none had anything but its card above 0.3 in a small picture
_HOPELESS = 0.05  # below this, before its pose is known, nothing is worth the search for its pose
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
    _Effort(_SEARCH_PX, 1.0, 6, LEAST_CONFIDENCE),
    _Effort(_SEARCH_PX, 4.0, 10, LEAST_CONFIDENCE),
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
    already. Where light tells of none it is sought by its tint (``card_tint``), and measured by light again
    where that is clear.

    Raises Refused: NO_CARD where nothing measures like a card, CARD_CUT where one runs out of the picture,
    TOO_SMALL or BLURRED where it cannot be measured well enough.
    """
    prior = prior or lens_prior(None, pixels_rgb.shape[1], pixels_rgb.shape[0])
    looker = _Looker(pixels_rgb, prior, shape)
    judged: list[_Judged] = []
    outside_px: float | None = None
    for effort in _EFFORTS[several:]:
        if sketch is None or effort is not _EFFORTS[0]:
            sketch = sketched(pixels_rgb, effort.long_px, effort.gain)
        judged = _searched(looker, sketch, effort.kept, near_px, several)
        if judged and judged[0].confidence >= effort.enough:
            break
        if outside_px is None and near_px is None and effort.long_px == _SEARCH_PX:
            span = _span(shape, max(sketch.picture.lab.shape[:2]))
            outside_px = cut_card(pixels_rgb, sketch.picture, sketch.lines, shape, span)
        if outside_px is not None:
            break
    if outside_px is None and not any(each.confidence >= LEAST_CONFIDENCE for each in judged):
        judged = _likelier(judged, _searched_by_tint(looker, near_px, several))
    likely = [_found(each, shape) for each in judged if each.confidence >= LEAST_CONFIDENCE]
    if not likely:
        if outside_px is None and near_px is None:
            _refuse_smeared(judged, shape)
        raise cut(outside_px) if outside_px is not None else none_found(_likeliest(judged), near_px, shape)
    refuse_unfit(_px_per_mm(likely[0].corners_px, shape) * shape.long_mm, likely[0].edge_sigma_px, shape)
    return replace(likely[0], runners_up=tuple(likely[1:]))


def _searched(
    looker: _Looker, sketch: Sketch, kept: int, near_px: tuple[float, float] | None, several: bool
) -> list[_Judged]:
    """What can be measured in a sketch of the looker's picture, most like a card first."""
    picture = sketch.picture
    span = _span(looker.shape, max(picture.lab.shape[:2]))
    more = kept if near_px is None and not several else _MORE_TRIED * kept
    rough = candidates(picture, sketch.lines, looker.shape, span, more)
    rough = _about(near_px, Candidates(picture.to_photo(rough.corners_px), rough.support), kept)
    return _judged(looker, rough, picture.factor, _LEAST_SUPPORT if several else _FULL_SUPPORT)


def _searched_by_tint(looker: _Looker, near_px: tuple[float, float] | None, several: bool) -> list[_Judged]:
    """The same by the picture's tint alone, without its light lines; measured by light where it is clear."""
    unlined = without_light_lines(looker.pixels_rgb)
    tinted = _Looker(unlined, looker.prior, looker.shape, tint_window)
    found = _searched(tinted, tint_sketch(unlined), _EFFORTS[-1].kept, near_px, several)
    return _distinct([_by_light(looker, each) for each in found], looker.shape)


def _by_light(looker: _Looker, found: _Judged) -> _Judged:
    """What tint found as light shows it, where that is clear: lines beside a card may have hidden it from the
    search by light, which measures it better all the same."""
    again = _measured(looker, found.corners_px, _FULL_SUPPORT, 1.0, None)
    return found if again is None or again.confidence <= _CLEAR_CONFIDENCE else again


def card_at(
    pixels_rgb: npt.NDArray[np.uint8], prior: LensPrior, corners_px: FloatArray, shape: CardShape = ID1
) -> FoundCard | None:
    """The card whose corners (4, 2), in any order that goes round, are about there, by light or else by its
    tint; None if none measures like one within two millimetres or so."""
    start = _in_order(corners_px)
    judged = _measured(_Looker(pixels_rgb, prior, shape), start, _FULL_SUPPORT, 1.0, None)
    if judged is None or judged.confidence < LEAST_CONFIDENCE:
        tinted = _Looker(without_light_lines(pixels_rgb), prior, shape, tint_window)
        judged = _measured(tinted, start, _FULL_SUPPORT, 1.0, None)
    if judged is None or judged.confidence < LEAST_CONFIDENCE:
        return None
    return _found(judged, shape)


def _refuse_smeared(judged: list[_Judged], shape: CardShape) -> None:
    """Raise Refused(BLURRED) where the likeliest place is half a card, and smeared: blur hides the rest."""
    for each in judged[:1]:
        if each.confidence >= LEAST_CONFIDENCE / 2:
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


def _likelier(judged: list[_Judged], other: list[_Judged]) -> list[_Judged]:
    """Those whose first is the more confident."""
    return max(judged, other, key=lambda each: each[0].confidence if each else -1.0)


def _likeliest(judged: list[_Judged]) -> tuple[FloatArray, float] | None:
    return (judged[0].corners_px, judged[0].confidence) if judged else None


def _found(judged: _Judged, shape: CardShape) -> FoundCard:
    return FoundCard(
        corners_px=judged.pose.corners_px(shape),
        corner_cov_px2=judged.pose.corner_covariance(shape),
        sides=judged.sides,
        edge_sigma_px=_edge_sigma(judged.sides),
        confidence=judged.confidence,
        pose=judged.pose,
    )


@dataclass(frozen=True, eq=False)
class _Looker:
    """What every candidate is measured with, in what ``window`` shows of the picture about it, and the
    ``measured`` ones: start (4, 2), support, result."""

    pixels_rgb: npt.NDArray[np.uint8]
    prior: LensPrior
    shape: CardShape
    window: Callable[[npt.NDArray[np.uint8], FloatArray, float], LightWindow | None] = light_window
    measured: list[tuple[FloatArray, float, _Judged | None]] = field(default_factory=list)

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
    if all(judged.confidence < LEAST_CONFIDENCE for judged in found):
        found += _blurred(looker, rough, factor)
    return _distinct(found, shape)


def _distinct(found: list[_Judged], shape: CardShape) -> list[_Judged]:
    """Those that lie at different places, most like a card first."""
    distinct: list[_Judged] = []
    for judged in sorted(found, key=lambda judged: -judged.confidence):
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
    window = looker.window(looker.pixels_rgb, corners_px, 2.0 * reach_px + 6.0 * px_per_mm)
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
    seen_px = max(pairs) if pairs else min(side.sigma_px for side in sides)
    own_px = math.sqrt(max(seen_px**2 - max(side.tint_blur_px for side in sides) ** 2, 0.0))
    return max(own_px, min(seen_px, LEAST_SIGMA_PX))


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
