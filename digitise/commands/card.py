"""``digitise card``: a reference sheet to print, with markers round its border and a ruler line."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def card(
    paper: Annotated[str, typer.Option("--paper", metavar="a4|letter", help="Size of the paper.")] = "a4",
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="PDF to write [reference-PAPER.pdf].")
    ] = None,
) -> None:
    """Write a reference sheet to print, as a PDF at full size: a better reference than a bank card."""
    from digitise.commands.targets import check_ending
    from digitise.sheet import PAPERS, RULER_MM
    from digitise.sheet_pdf import sheet_pdf
    from model.storage import write_bytes

    if paper not in PAPERS:
        raise typer.BadParameter(f"--paper must be one of {', '.join(PAPERS)}, not {paper!r}")
    target = out or Path(f"reference-{paper}.pdf")
    check_ending(target, ".pdf")
    write_bytes(target, sheet_pdf(PAPERS[paper]))
    typer.echo(f"Sheet: {target}")
    typer.echo(
        f"Print it at full size (100 %, no fitting to the page), measure its {RULER_MM:g} mm line, and give "
        "what you read to trace and check with --ruler-measured."
    )
