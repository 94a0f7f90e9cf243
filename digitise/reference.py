"""What gives a photo its scale: the search for it as the person described it, and the camera's pose by it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from digitise.card import find_card
from digitise.card_pose import CameraEstimate, card_pose
from digitise.card_shape import ID1, CardShape
from digitise.card_sides import FoundCard
from digitise.photo import Photo
from digitise.refusal import Reason, Refused
from digitise.tone import FloatArray

NEAREST_MM = 300.0
"""No phone's main lens sees a whole racquet from nearer, and the rim's height would shift it by its tenth."""
_ELSEWHERE = 0.5  # middles further apart than this share of the long side are two places


@dataclass(frozen=True)
class Asked:
    """What the person says of the reference: its shape, and about where it lies, (x, y) in px."""

    shape: CardShape = ID1
    near_px: tuple[float, float] | None = None


@dataclass(frozen=True, eq=False)
class Reference:
    """The reference as found, and the camera it gives.

    ``outlines_px``: one (4, 2) ring of sharp corners for each card or sheet, the first being where the
    world's origin lies. ``confidence`` is 0 to 1. ``edge_sigma_px`` is the blur of its edges. ``notes`` are
    sentences for the person.
    """

    shape: CardShape
    outlines_px: tuple[FloatArray, ...]
    estimate: CameraEstimate
    confidence: float
    edge_sigma_px: float
    notes: tuple[str, ...] = field(default=())


def find_reference(photo: Photo, asked: Asked | None = None) -> Reference:
    """Find the reference in ``photo`` and the camera's pose by it.

    Raises Refused where there is none, or where it was taken too obliquely, too near or too blurred.
    """
    asked = asked or Asked()
    card = find_card(photo.pixels_rgb, photo.f35_mm, asked.shape, asked.near_px)
    estimate = card_pose(card, (photo.width_px, photo.height_px), photo.f35_mm, asked.shape)
    _refuse_too_near(estimate)
    return Reference(
        shape=asked.shape,
        outlines_px=(card.corners_px,),
        estimate=estimate,
        confidence=card.confidence,
        edge_sigma_px=card.edge_sigma_px,
        notes=_doubt(card, asked),
    )


def _refuse_too_near(estimate: CameraEstimate) -> None:
    if estimate.focal_known and estimate.camera.height_mm < NEAREST_MM:
        raise Refused(
            Reason.TOO_NEAR,
            f"The camera was too near, {estimate.camera.height_mm:.0f} mm above the table where at least "
            f"{NEAREST_MM:.0f} mm are needed: hold it higher, 0.6 to 1 m up.",
        )


def elsewhere(card: FoundCard) -> list[FoundCard]:
    """The runners-up that lie in other places than ``card``, likeliest first, each place once."""
    places: list[FoundCard] = []
    for other in card.runners_up:
        apart = [np.linalg.norm(_middle(other) - _middle(known)) for known in (card, *places)]
        if min(apart) > _ELSEWHERE * np.linalg.norm(card.corners_px[1] - card.corners_px[0]):
            places.append(other)
    return places


def _middle(card: FoundCard) -> FloatArray:
    return np.asarray(card.corners_px.mean(axis=0))


def _doubt(card: FoundCard, asked: Asked) -> tuple[str, ...]:
    """A sentence where other places look like the card too."""
    others = elsewhere(card)
    if not others or asked.near_px is not None:
        return ()
    places = [f"{_place(c)} (confidence {c.confidence:.2f})" for c in (card, *others)]
    return (
        f"{len(places)} places look like the card: {', '.join(places)}; the first was taken, and "
        f"--card-near {_place(others[0])} would choose the second",
    )


def _place(card: FoundCard) -> str:
    x, y = _middle(card)
    return f"{x:.0f},{y:.0f}"
