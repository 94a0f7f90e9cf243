"""Options that say what reference lies in the photo, shared by the commands that look for it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from digitise.reference import Asked

CARD_SIZE = Annotated[
    str,
    typer.Option(
        "--card-size",
        metavar="NAME|WxH",
        help="The reference: card (bank size), a4, a5, letter, or any rectangle's sides in mm: 100x70.",
    ),
]
CARD_NEAR = Annotated[
    str | None,
    typer.Option(
        "--card-near", metavar="X,Y", help="Where the card is, in pixels, if several things look like one."
    ),
]
CARDS = Annotated[
    int | None,
    typer.Option(
        "--cards",
        metavar="N",
        min=1,
        max=9,
        help="How many cards there are; left out, all that are found and agree are used.",
    ),
]


def asked_of(card_size: str, card_near: str | None, cards: int | None) -> Asked:
    """The reference as the options describe it. Raises ModelError for an impossible size."""
    from digitise.card_size import card_size as sized
    from digitise.reference import Asked

    if card_near is not None and cards is not None and cards > 1:
        raise typer.BadParameter("--card-near chooses one card: leave it out, or --cards")
    return Asked(shape=sized(card_size), near_px=_place(card_near), cards=cards)


def _place(text: str | None) -> tuple[float, float] | None:
    """Pixels from ``X,Y``. Raises BadParameter for anything else."""
    if text is None:
        return None
    found = re.fullmatch(r"\s*(\d+(?:\.\d*)?)\s*,\s*(\d+(?:\.\d*)?)\s*", text)
    if found is None:
        raise typer.BadParameter(f"--card-near must be two numbers of pixels such as 1200,800, not {text!r}")
    return float(found[1]), float(found[2])
