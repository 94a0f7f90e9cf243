"""``digitise place``: what strips of weight tape would do to a racquet's six figures."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from digitise.commands.figures import FIGURE_ROWS, chosen_axis, figure_label

if TYPE_CHECKING:
    from model.racquet_file import FiguresRecord

CAUTIONS = (
    "Lead tape is toxic: wrap it, wash hands, keep it from children and food, dispose of it by local rules.",
    "More swing weight loads wrist, elbow and shoulder: go in small steps; pain is for a licensed clinician.",
    "For competition the racquet must meet the current rules of the governing body.",
)


def place(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A .racquet.json file; it is not changed.")],
    strip: Annotated[
        list[str],
        typer.Option(
            "--strip",
            metavar="MASS:LENGTH@WHERE",
            help="A strip on the edge: 3g:76mm@3:30 (clock; 12 is the tip) or 3g:76mm@-180mm "
            "(along the edge from the tip, - is left as seen). May be given several times.",
        ),
    ],
    mirror: Annotated[
        bool, typer.Option("--mirror", help="Put a twin of each strip on the other side.")
    ] = False,
    swing_axis: Annotated[
        float | None,
        typer.Option("--swing-axis", metavar="MM", help="Swing axis, mm from the butt; else the file's."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print before, after and change as JSON.")] = False,
) -> None:
    """Print the six figures before and after sticking strips of tape on the edge."""
    from model.build import body_of, figures_record, relative_scale_sd, site_in
    from model.placement import added, lay_all
    from model.spelling import parse_piece
    from model.storage import read_racquet
    from model.study import study

    racquet = read_racquet(file)
    axis = chosen_axis(racquet, swing_axis)
    site = site_in(racquet)
    laid, notes = lay_all(site, [parse_piece(text) for text in strip], mirror)
    mass_integrals = added(laid)
    result = study(body_of(racquet), mass_integrals, axis, relative_scale_sd(racquet))
    records = {
        "before": figures_record(result.before),
        "after": figures_record(result.after),
        "change": figures_record(result.change),
    }
    if as_json:
        import json

        typer.echo(json.dumps({name: record.model_dump() for name, record in records.items()}, indent=1))
    else:
        _show(records)
    for line in [*(f"Note: {note}." for note in notes), *CAUTIONS]:
        typer.echo(line, err=as_json)


def _show(records: dict[str, FiguresRecord]) -> None:
    from rich import box
    from rich.console import Console
    from rich.table import Table

    table = Table(box=box.SIMPLE_HEAD)
    table.add_column("figure", overflow="fold")
    for head in ("before", "after", "change"):
        table.add_column(head, justify="right", overflow="fold")
    table.add_column("unit", overflow="fold")
    for name, key, unit, digits in FIGURE_ROWS:
        cells = [getattr(record, key) for record in records.values()]
        shown = [f"{c.value:.{digits}f} ± {c.sd:.{digits}f}" for c in cells[:2]]
        shown.append(f"{cells[2].value:+.{digits + 1}f} ± {cells[2].sd:.{digits + 1}f}")
        table.add_row(figure_label(name, key, records["before"]), *shown, unit)
    Console(highlight=False).print(table)
