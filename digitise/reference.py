"""What gives a photo its scale: the search for it as the person described it, and the camera's pose by it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from digitise.card import find_card
from digitise.card_pose import CameraEstimate, card_pose, refuse_oblique
from digitise.card_refusals import refuse_blurred
from digitise.card_segments import Sketch, sketched
from digitise.card_shape import ID1, CardShape
from digitise.card_sides import FoundCard
from digitise.lens_lines import by_lines, lines_in
from digitise.lens_prior import LensPrior, prior_of
from digitise.photo import Photo
from digitise.refusal import Reason, Refused
from digitise.several import Joined, joined, middle_px
from digitise.sheet import UNMEASURED, PrintScale
from digitise.sheet_find import LEAST_MARKERS, find_sheet, px_per_mm, sheet_pose
from digitise.tone import FloatArray

if TYPE_CHECKING:
    from digitise.lens import LensFile

CARD, SHEET = "card", "sheet"
"""What a reference of a bank card's size is called, and the printed sheet."""
NEAREST_MM = 300.0
"""No phone's main lens sees a whole racquet from nearer, and the rim's height would shift it by its tenth."""


@dataclass(frozen=True)
class Asked:
    """What the person says of the reference and the lens.

    ``shape`` is None for whatever is there: the printed sheet, else a bank card. ``near_px`` is about where
    the card lies, (x, y); ``cards`` how many there are, None for as many as agree. ``printed`` is the scale
    of the printed sheet; ``lens`` a calibrated lens.
    """

    shape: CardShape | None = None
    near_px: tuple[float, float] | None = None
    cards: int | None = None
    printed: PrintScale = UNMEASURED
    lens: LensFile | None = None


@dataclass(frozen=True, eq=False)
class Reference:
    """The reference as found, and the camera it gives.

    ``outlines_px``: one (4, 2) ring of sharp corners for each card or sheet, the first being where the
    world's origin lies. ``confidence`` is that one's, 0 to 1. ``edge_sigma_px`` is the blur of its edges.
    ``notes`` are sentences for the person. ``what`` is the reference in one word. ``marks_px``: the markers
    seen of a printed sheet, (n, 4, 2); what is neither these nor paper lies on it. ``lines_px`` (n, 4) are
    the photo's long straight lines.
    """

    shape: CardShape
    outlines_px: tuple[FloatArray, ...]
    estimate: CameraEstimate
    confidence: float
    edge_sigma_px: float
    notes: tuple[str, ...] = ()
    what: str = CARD
    marks_px: FloatArray | None = None
    lines_px: FloatArray | None = None


def find_reference(photo: Photo, asked: Asked | None = None, refined: bool = True) -> Reference:
    """Find the reference in ``photo`` and the camera's pose by it.

    Unless ``refined``, what lies beside a card's edges is not looked at, which moves the pose by a few
    thousandths: enough for a verdict, in less time.

    Raises Refused where there is none, or where it was taken too obliquely, too near or too blurred, and
    ModelError where the lens file is not for this photo.
    """
    asked = asked or Asked()
    sketch = sketched(photo.pixels_rgb, half_rgb=photo.half_rgb)
    lines_px = lines_in(sketch)
    prior = lens_of(photo, asked, lines_px)
    reference = _sheet(photo, asked, prior) or _cards(photo, asked, prior, sketch, refined)
    _refuse_too_near(reference.estimate)
    return replace(reference, lines_px=lines_px)


def lens_of(photo: Photo, asked: Asked, lines_px: FloatArray | None = None) -> LensPrior:
    """What is known of the lens: the calibrated one if given, else what the photo's file tells, and what the
    table's own straight lines tell besides. ``lines_px`` (n, 4) are these, if they are known already."""
    if lines_px is None:
        lines_px = lines_in(sketched(photo.pixels_rgb, half_rgb=photo.half_rgb))
    return by_lines(photo.pixels_rgb, lines_px, _recorded_lens(photo, asked))


def _recorded_lens(photo: Photo, asked: Asked) -> LensPrior:
    if asked.lens is None:
        return prior_of(photo)
    from digitise.lens import calibrated_prior  # loads pydantic

    return calibrated_prior(photo, asked.lens)


def _sheet(photo: Photo, asked: Asked, prior: LensPrior) -> Reference | None:
    """The printed sheet, unless the person spoke of something else or there is none."""
    if asked.shape is not None or asked.near_px is not None or asked.cards is not None:
        return None
    found = find_sheet(photo.pixels_rgb, photo.half_rgb)
    if found is None:
        if asked.printed.measured:
            raise Refused(
                Reason.NO_CARD,
                f"The printed sheet, whose ruler was given, is not in the photo: at least {LEAST_MARKERS} of "
                "its markers must be seen; lay it flat and uncovered beside the racquet.",
            )
        return None
    refuse_blurred(found.edge_sigma_px, px_per_mm(found), "the sheet's markers")
    estimate = sheet_pose(found, asked.printed, prior)
    refuse_oblique(estimate.camera)
    notes = [f"the printed {found.paper.name} sheet gives the scale, by {len(found.ids)} of its markers"]
    if not asked.printed.measured:
        notes.append(
            f"the sheet's ruler line has not been measured: the printer is trusted to "
            f"{100 * asked.printed.relative_sd:.1f} %; measure it and give --ruler-measured"
        )
    factor = asked.printed.factor
    shape = CardShape(factor * found.paper.height_mm, factor * found.paper.width_mm, 0.0, 0.1, 0.0, 0.0)
    return Reference(
        shape,
        (found.corners_px,),
        estimate,
        1.0,
        found.edge_sigma_px,
        tuple(notes),
        SHEET,
        found.squares_px,
    )


def _cards(photo: Photo, asked: Asked, prior: LensPrior, sketch: Sketch, refined: bool) -> Reference:
    shape = asked.shape or ID1
    several = asked.cards is not None and asked.cards > 1
    card = find_card(photo.pixels_rgb, prior, shape, asked.near_px, several, sketch)
    alone = card_pose(card, prior, shape, refined)
    joint = joined(card, alone, prior, shape, asked.cards)
    _refuse_too_few(joint, asked.cards)
    return Reference(
        shape=shape,
        outlines_px=tuple(found.corners_px for found in joint.cards),
        estimate=joint.estimate,
        confidence=card.confidence,
        edge_sigma_px=max(found.edge_sigma_px for found in joint.cards),
        notes=_doubt(joint, asked.near_px),
        what=CARD if shape == ID1 else "rectangle",
    )


def _refuse_too_few(joint: Joined, wanted: int | None) -> None:
    if wanted is None or len(joint.cards) >= wanted:
        return
    odd = (
        f", and at {_listed(joint.others)} something that is not its size or lies over one"
        if joint.others
        else ""
    )
    were = "was" if len(joint.cards) == 1 else "were"
    raise Refused(
        Reason.NO_CARD,
        f"Only {len(joint.cards)} of {wanted} cards {were} found that one camera explains, at "
        f"{_listed(joint.cards)}{odd}: lay all of them flat on the table, apart from each other and from the "
        "racquet, or leave out --cards.",
    )


def _refuse_too_near(estimate: CameraEstimate) -> None:
    if estimate.focal_known and estimate.camera.height_mm < NEAREST_MM:
        raise Refused(
            Reason.TOO_NEAR,
            f"The camera was too near, {estimate.camera.height_mm:.0f} mm above the table where at least "
            f"{NEAREST_MM:.0f} mm are needed: hold it higher, 0.6 to 1 m up.",
        )


def _doubt(joint: Joined, near_px: tuple[float, float] | None) -> tuple[str, ...]:
    """A sentence where several cards were used, and one where other places look like the card too."""
    notes = []
    if len(joint.cards) > 1:
        notes.append(f"{len(joint.cards)} cards give the scale together, at {_listed(joint.cards)}")
    if joint.others and near_px is None:
        notes.append(
            f"{len(joint.others) + 1} places look like the card, at "
            f"{_listed((joint.cards[0], *joint.others))}; the first was taken, and "
            f"--card-near {_place(joint.others[0])} would choose the second"
        )
    return tuple(notes)


def _listed(cards: tuple[FoundCard, ...]) -> str:
    return ", ".join(f"{_place(card)} (confidence {card.confidence:.2f})" for card in cards)


def _place(card: FoundCard) -> str:
    x, y = middle_px(card)
    return f"{x:.0f},{y:.0f}"
