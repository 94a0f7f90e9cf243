"""What is told of a photo in which no card is found, or none that can be measured well enough."""

from __future__ import annotations

from digitise.card_shape import ID1, CardShape
from digitise.refusal import Reason, Refused
from digitise.tone import FloatArray

LEAST_CONFIDENCE = 0.35
"""What scores less is no card."""
SMALLEST_PX = 70.0
"""A reference shorter than this in the photo gives no useful scale: 1 px is then more than 1 %."""
_MOST_BLUR_PX, _MOST_BLUR_MM = 2.5, 0.856  # sd of the blur, whichever is more; the latter on the card


def cut(outside_px: float) -> Refused:
    """The refusal of a card of which a corner lies so far outside the photo."""
    return Refused(
        Reason.CARD_CUT,
        f"The card is cut off by the edge of the photo, a corner lies about {outside_px:.0f} pixels outside: "
        "take the photo again with the whole card in the picture and some table all round it.",
    )


def none_found(
    likeliest: tuple[FloatArray, float] | None, near_px: tuple[float, float] | None, shape: CardShape
) -> Refused:
    """The refusal of a photo without a card, by the corners (4, 2) and the score of the likeliest place."""
    what = "card" if shape == ID1 else f"rectangle of {shape.long_mm:g} × {shape.short_mm:g} mm"
    where = "" if near_px is None else f" near {near_px[0]:g},{near_px[1]:g}"
    if likeliest:
        x, y = likeliest[0].mean(axis=0)
        score = f"the likeliest place, {x:.0f},{y:.0f}, scores {likeliest[1]:.2f} of 1"
    else:
        score = "nothing scores above 0"
    return Refused(
        Reason.NO_CARD,
        f"No {what} was found{where} ({score}, and {LEAST_CONFIDENCE:g} is needed): lay "
        + ("a bank-size card" if shape == ID1 else "it")
        + " flat on the table beside the racquet, where its colour stands out and nothing covers its edges, "
        "and take the photo again."
        + (" Another reference than a card is named with --card-size." if shape == ID1 else ""),
    )


def blur_limit_px(px_per_mm: float) -> float:
    """The most blur, as the sd of edges in px, that a photo of this scale may have."""
    return max(_MOST_BLUR_PX, _MOST_BLUR_MM * px_per_mm)


def refuse_unfit(long_px: float, blur_px: float, shape: CardShape) -> None:
    """Raise Refused where a card ``long_px`` long, of edges blurred by ``blur_px`` (sd), is too small or too
    blurred to measure by."""
    if long_px < SMALLEST_PX:
        raise Refused(
            Reason.TOO_SMALL,
            f"The card is too small in the photo, {long_px:.0f} pixels long where at least "
            f"{SMALLEST_PX:.0f} are needed: hold the camera closer or use the camera's full resolution.",
        )
    refuse_blurred(blur_px, long_px / shape.long_mm, "the card's edges")


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
