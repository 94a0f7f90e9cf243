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
    from concurrent.futures import ThreadPoolExecutor

    from digitise.photo import read_photo

    with ThreadPoolExecutor(1) as pool:
        reading = pool.submit(read_photo, photo)
        # what follows takes as long to load as the picture to decode
        from digitise.check import check_photo

        asked = asked_of(card_size, card_near, cards, ruler_measured, lens)
        picture = reading.result()
    verdict = check_photo(picture, asked)
    typer.echo("Good." if verdict.good else "Usable, but it can be better.")
    corners = verdict.reference.outlines_px[0]
    x, y = corners.mean(axis=0)
    found = verdict.reference
    typer.echo(f"{found.what}: found at {x:.0f},{y:.0f} (confidence {found.confidence:.2f} of 1)")
    for mark in verdict.marks:
        typer.echo(mark.words())
    for note in (*picture.notes, *verdict.reference.notes):
        typer.echo(f"Note: {note}.")
