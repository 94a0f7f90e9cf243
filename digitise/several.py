"""Several cards in one picture: which of the places that look like one truly are, and the camera by all."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np

from digitise.bundle import Bundle, Place, bundle, place_of
from digitise.camera import Camera, Plane
from digitise.card_pose import CameraEstimate, card_pulls
from digitise.card_shape import CardShape
from digitise.card_sides import FoundCard
from digitise.lens_prior import LensPrior, known_pulls

_SAME_PLACE = 0.2  # quadrilaterals that share more than this of the smaller one's area are one place
_LYING_ON = 0.03  # cards flat on a table share no area but what their corners are off by
_SAME_SIZE = 0.03  # a further card may seem this much larger or smaller under the first one's camera
_MOST_CHI_SQUARE = 25.0
"""A further card brings eight numbers of four lines and takes three for its place: beyond the scatter of its
edge points, chi-square of five stays below 20.5 in 999 of 1000 cases, and what is no card goes far beyond."""


@dataclass(frozen=True, eq=False)
class Joined:
    """The ``cards`` that one camera explains; the world's frame is the first one's.

    ``others`` are further places that look like a card but do not fit it, lie over one, or were not
    asked for.
    """

    cards: tuple[FoundCard, ...]
    estimate: CameraEstimate
    others: tuple[FoundCard, ...]


def elsewhere(card: FoundCard) -> list[FoundCard]:
    """The runners-up that lie in other places than ``card``, likeliest first, each place once."""
    places: list[FoundCard] = []
    for other in card.runners_up:
        if max(shared_area(other, known) for known in (card, *places)) <= _SAME_PLACE:
            places.append(other)
    return places


def shared_area(one: FoundCard, other: FoundCard) -> float:
    """How much of the smaller card, as seen, lies where the other one lies as well: 0 to 1."""
    first, second = (np.asarray(card.corners_px, np.float32) for card in (one, other))
    shared, _ = cv2.intersectConvexConvex(first, second)  # shapely takes long to load
    return float(shared) / min(cv2.contourArea(first), cv2.contourArea(second))


def middle_px(card: FoundCard) -> tuple[float, float]:
    """Where the middle of a card is seen, about."""
    x, y = card.corners_px.mean(axis=0)
    return float(x), float(y)


def joined(
    first: FoundCard, alone: CameraEstimate, prior: LensPrior, shape: CardShape, most: int | None = None
) -> Joined:
    """Add the runners-up of ``first`` that agree with it, up to ``most`` cards in all (None: as many as do).

    ``alone`` is the camera by the first card only, and the answer where no other card agrees.
    """
    cards, others, camera = [first], [], alone.camera
    best: Bundle | None = None
    for candidate in elsewhere(first):
        full = most is not None and len(cards) >= most
        on_another = max(shared_area(candidate, card) for card in cards) > _LYING_ON
        if full or on_another or not _same_size(candidate, camera, shape):
            others.append(candidate)
            continue
        before = best or _bundled(cards, camera, prior, shape)
        tried = _bundled([*cards, candidate], before.camera, prior, shape)
        growth = tried.chi_square - before.chi_square
        if growth > _MOST_CHI_SQUARE:
            # what is only the scatter of its own edge points it would have by itself as well
            own = place_of(camera, candidate.corners_px, shape).seen_from(camera)
            growth -= _bundled([candidate], own, prior, shape).chi_square
        if growth > _MOST_CHI_SQUARE:
            others.append(candidate)
            continue
        cards.append(candidate)
        best, camera = tried, tried.camera
    estimate = alone if best is None or len(cards) == 1 else _estimate(best, prior, cards)
    return Joined(tuple(cards), estimate, tuple(others))


def _bundled(cards: list[FoundCard], start: Camera, prior: LensPrior, shape: CardShape) -> Bundle:
    places = [Place(), *(place_of(start, card.corners_px, shape) for card in cards[1:])]
    references = [
        (card_pulls(card, place.seen_from(start), prior, shape), place)
        for card, place in zip(cards, places, strict=True)
    ]
    return bundle(start, references, lambda camera: known_pulls(camera, prior))


def _same_size(card: FoundCard, camera: Camera, shape: CardShape) -> bool:
    """Whether the card's sides have about the true lengths where the first card's camera sees it."""
    corners = camera.to_plane(card.corners_px, Plane(shape.thickness_mm))
    sides_mm = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    true_mm = np.array([shape.long_mm, shape.short_mm] * 2)
    return bool(np.abs(sides_mm / true_mm - 1).max() < _SAME_SIZE)


def _estimate(best: Bundle, prior: LensPrior, cards: list[FoundCard]) -> CameraEstimate:
    """The estimate as one card gives it, by the misfits of all of them."""
    pulls = np.concatenate(best.pulls)
    sd_px = float(np.mean([side.offset_sd_px for card in cards for side in card.sides]))
    return CameraEstimate(
        camera=best.camera,
        covariance=best.covariance,
        residual_rms_px=sd_px * math.sqrt(float(np.mean(pulls**2))),
        pull=math.sqrt(best.chi_square / len(pulls)),
        focal_known=prior.known,
    )
