"""``digitise check``: can this photo be measured from? Fast, for while the racquet still lies there."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from digitise.commands.reference_options import CARD_NEAR, CARD_SIZE, CARDS, LENS, RULER_MEASURED, asked_of


def check(
    photo: Annotated[Path, typer.Argument(metavar="PHOTO", help="The photo to look at.")],
    card_size: CARD_SIZE = None,
    card_near: CARD_NEAR = None,
    cards: CARDS = None,
    ruler_measured: RULER_MEASURED = None,
    lens: LENS = None,
) -> None:
    """Say whether a photo can be measured from, with the numbers; nothing is traced or written."""
    from digitise.commands.verdict import verdict_on

    typer.echo(verdict_on(photo, asked_of(card_size, card_near, cards, ruler_measured, lens)))
