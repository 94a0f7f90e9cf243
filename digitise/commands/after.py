"""``digitise after``: what you measure with the pieces on, against what was predicted."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from digitise.commands import reading_options, wishes
from digitise.commands.figures import FIGURE_ROWS, figure_label
from digitise.commands.grouped import grouped
from digitise.commands.targets import check_targets
from model.cautions import doubted

if TYPE_CHECKING:
    from model.after import Learnt


@grouped
def after(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A .racquet.json file with its placements.")],
    measured: reading_options.Measured = reading_options.NOTHING_MEASURED,
    strip: Annotated[
        list[str] | None,
        typer.Option("--strip", metavar="MASS:LENGTH@WHERE", help="The pieces, in place of the file's."),
    ] = None,
    place_sd: wishes.PlaceSd = 3.0,
    mass_sd: wishes.MassSd = 0.1,
    materials: wishes.Materials = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE", help="Write the racquet file, readings taken in, there."),
    ] = None,
    as_json: wishes.AsJson = False,
) -> None:
    """Compare what you measure after sticking with the prediction, and let the calibration learn from it."""
    from model.after import learn
    from model.fitted import chosen_pieces, with_pieces
    from model.materials import all_materials, own_file
    from model.storage import read_racquet, write_racquet
    from model.tolerance import Tolerance

    check_targets({"--out": out}, [materials or own_file()])
    racquet, known = read_racquet(file), all_materials(materials)
    pieces = chosen_pieces(racquet, strip, known)
    readings = reading_options.readings_of(measured.typed())
    learnt = learn(racquet, pieces, readings, Tolerance(place_sd, mass_sd))
    if out is not None:
        write_racquet(out, with_pieces(learnt.file, pieces))
    if as_json:
        import json

        typer.echo(json.dumps(_record(learnt), indent=1))
    else:
        _show(learnt)
    notes = [f"note: {words}" for words in doubted({file.name: racquet})]
    if strip and racquet.placements:
        notes.append(f"note: the pieces that {file.name} lists are taken as no longer on")
    for line in (*learnt.words, *notes):
        typer.echo(line[:1].upper() + line[1:] + ".", err=as_json)
    if out is not None:
        typer.echo(f"Written: {out}.", err=as_json)


def _record(learnt: Learnt) -> dict[str, Any]:
    from model.build import figures_record

    return {
        "outcomes": [
            {
                "name": one.name,
                "unit": one.unit,
                "predicted": {"value": one.predicted, "sd": one.predicted_sd},
                "measured": {"value": one.measured, "sd": one.measured_sd},
                "pull": one.pull,
            }
            for one in learnt.outcomes
        ],
        "bare_before": learnt.before.figures.model_dump(),
        "bare_after": learnt.file.figures.model_dump(),
        "with_pieces": figures_record(learnt.with_pieces).model_dump(),
    }


def _show(learnt: Learnt) -> None:
    from rich import box
    from rich.console import Console
    from rich.table import Table

    from model.build import figures_record

    console = Console(highlight=False)
    table = Table(box=box.SIMPLE_HEAD)
    for head in ("with the pieces on", "predicted", "measured", "sds off", "unit"):
        table.add_column(
            head, justify="right" if head not in ("unit", "with the pieces on") else "left", overflow="fold"
        )
    for one in learnt.outcomes:
        cells = (
            f"{one.predicted:.5g} ± {one.predicted_sd:.2g}",
            f"{one.measured:.5g} ± {one.measured_sd:.2g}",
        )
        table.add_row(one.name, *cells, f"{one.pull:+z.1f}", one.unit)
    console.print(table)
    records = (learnt.before.figures, learnt.file.figures, figures_record(learnt.with_pieces))
    table = Table(box=box.SIMPLE_HEAD)
    for i, head in enumerate(("figure", "bare, as known before", "bare, now", "pieces on, now", "unit")):
        table.add_column(head, justify="right" if 0 < i < 4 else "left", overflow="fold")
    for name, key, unit, digits in FIGURE_ROWS:
        cells3 = [getattr(record, key) for record in records]
        shown = [f"{c.value:.{digits}f} ± {c.sd:.{digits}f}" for c in cells3]
        table.add_row(figure_label(name, key, records[0]), *shown, unit)
    console.print(table)
