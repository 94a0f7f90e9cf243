"""Options that say what reference lies in the photo, shared by the commands that look for it."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from digitise.lens import LensFile
    from digitise.reference import Asked

CARD_SIZE = Annotated[
    str | None,
    typer.Option(
        "--card-size",
        metavar="NAME|WxH",
        help="The reference: card (bank size), a4, a5, letter, or a rectangle's sides in mm: 100x70 "
        "[the printed sheet if it is there, else card].",
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
RULER_MEASURED = Annotated[
    str | None,
    typer.Option(
        "--ruler-measured",
        metavar="MM",
        help="Length of the printed sheet's 150 mm line as you measure it, e.g. 149.3.",
    ),
]
LENS = Annotated[
    Path | None,
    typer.Option("--lens", metavar="FILE", help="Lens file of this camera, from digitise lens."),
]


def asked_of(
    card_size: str | None,
    card_near: str | None,
    cards: int | None,
    ruler_measured: str | None,
    lens: Path | None,
) -> Asked:
    """The reference as the options describe it. Raises ModelError for an impossible size or lens file."""
    from digitise.card_size import card_size as sized
    from digitise.reference import Asked
    from digitise.sheet import print_scale
    from model.units import parse_length

    if ruler_measured is not None and (card_size or card_near or cards):
        raise typer.BadParameter("--ruler-measured is for the printed sheet: leave out the card's options")
    if card_near is not None and cards is not None and cards > 1:
        raise typer.BadParameter("--card-near chooses one card: leave it out, or --cards")
    ruler_mm = None if ruler_measured is None else parse_length(ruler_measured, "ruler line").value
    return Asked(
        shape=None if card_size is None else sized(card_size),
        near_px=_place(card_near),
        cards=cards,
        printed=print_scale(ruler_mm),
        lens=None if lens is None else _lens(lens),
    )


def _lens(path: Path) -> LensFile:
    from digitise.lens import read_lens

    return read_lens(path)


def _place(text: str | None) -> tuple[float, float] | None:
    """Pixels from ``X,Y``. Raises BadParameter for anything else."""
    if text is None:
        return None
    found = re.fullmatch(r"\s*(\d+(?:\.\d*)?)\s*,\s*(\d+(?:\.\d*)?)\s*", text)
    if found is None:
        raise typer.BadParameter(f"--card-near must be two numbers of pixels such as 1200,800, not {text!r}")
    return float(found[1]), float(found[2])
