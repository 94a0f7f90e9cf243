"""The options that tell what is known of a racquet before its photo is looked at, and what they come to."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from model.build import Known
    from model.readings import Reading

CONSTRUCTIONS = ("solid", "perforated", "strung")
CARD_PLACES = ("table", "face")

Construction = Annotated[
    str, typer.Option("--construction", metavar="|".join(CONSTRUCTIONS), help="How the face is made.")
]
FaceThickness = Annotated[
    str | None, typer.Option("--face-thickness", metavar="MM", help="Thickness of the face.")
]
HandleThickness = Annotated[
    str | None, typer.Option("--handle-thickness", metavar="MM", help="Thickness of the handle.")
]
SwingAxis = Annotated[
    float | None,
    typer.Option("--swing-axis", metavar="MM", help="Swing axis from the butt [50; strung: 100]."),
]
CardOn = Annotated[str, typer.Option("--card-on", metavar="|".join(CARD_PLACES), help="Where the card lies.")]


def one_of(choices: tuple[str, ...], what: str, text: str) -> str:
    """The text, if it is one of the choices; else a usage error."""
    if text not in choices:
        raise typer.BadParameter(f"{what} must be one of {', '.join(choices)}, not {text!r}")
    return text


def known_of(
    construction: str,
    face_thickness: str | None,
    handle_thickness: str | None,
    readings: Sequence[Reading],
    swing_axis: float | None,
) -> Known:
    """What the person typed, in mm. Raises ModelError where it can't be read."""
    from model.build import Known
    from model.units import parse_length

    face, handle = (
        None if text is None else parse_length(text).value for text in (face_thickness, handle_thickness)
    )
    return Known(construction, face, handle, tuple(readings), swing_axis)
