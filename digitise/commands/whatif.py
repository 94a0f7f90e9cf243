"""``digitise whatif``: tables of what a piece does when it is moved, changed, or on another racquet."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from digitise.commands import wishes
from digitise.commands.figures import FIGURE_ROWS, chosen_axis
from digitise.commands.targets import check_targets
from model.cautions import CAUTIONS, doubted

if TYPE_CHECKING:
    from model.whatif import Row


def whatif(
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="Racquet files; not changed.")],
    strip: Annotated[
        list[str] | None,
        typer.Option("--strip", metavar="MASS:LENGTH@WHERE", help="A piece, as for digitise place."),
    ] = None,
    move: Annotated[
        float | None,
        typer.Option(
            "--move",
            metavar="MM",
            min=1,
            callback=wishes.finite,
            help="Move the piece along its way in such steps.",
        ),
    ] = None,
    masses: Annotated[
        str | None, typer.Option("--masses", metavar="RANGE", help="The piece at '1..6' or '1..6 by 0.5' g.")
    ] = None,
    tapes: Annotated[
        bool, typer.Option("--tapes", help="The same grams of every tape: dense short, light long.")
    ] = False,
    swing_axis: wishes.SwingAxis = None,
    materials: wishes.Materials = None,
    csv: Annotated[Path | None, typer.Option("--csv", metavar="FILE", help="Write all as CSV.")] = None,
    picture: Annotated[
        Path | None, typer.Option("--picture", metavar="FILE", help="Draw it: .png, .svg or .pdf.")
    ] = None,
    as_json: wishes.AsJson = False,
) -> None:
    """Compare: a piece moved, at other masses, of other tapes; or racquets side by side."""
    from model.drawing import check_picture
    from model.errors import StripError
    from model.fitted import taken_bare, written_pieces
    from model.materials import all_materials, own_file
    from model.storage import read_racquets
    from model.tables import write_csv
    from model.whatif import (
        masses_of,
        side_by_side,
        sweep_mass,
        sweep_material,
        sweep_place,
        table_rows,
    )

    if picture is not None:
        check_picture(picture)
    check_targets({"--csv": csv, "--picture": picture}, [*files, materials or own_file()])
    known = all_materials(materials)
    racquets = read_racquets(files)
    axis = chosen_axis(next(iter(racquets.values())), swing_axis)
    stuck = {name: written_pieces(racquet, strip or (), known) for name, racquet in racquets.items()}
    if sum([move is not None, masses is not None, tapes]) > 1:
        raise StripError("give only one of --move, --masses and --tapes")
    sweeps = move is not None or masses is not None or tapes
    if sweeps and (len(strip or ()) != 1 or len(racquets) != 1):
        raise StripError("--move, --masses and --tapes need one FILE and one --strip")
    one, pieces = next(iter(racquets.values())), next(iter(stuck.values()))
    left_out: list[str] = []
    if move is not None:
        rows, what = sweep_place(one, pieces[0], axis, move), "place, mm"
    elif masses is not None:
        rows, what = sweep_mass(one, pieces[0], axis, masses_of(masses)), "mass, g"
    elif tapes:
        (rows, left_out), what = sweep_material(one, pieces[0], axis, known), "tape"
    else:
        rows, what = side_by_side(racquets, stuck, axis), "racquet"
    if csv is not None:
        write_csv(csv, *table_rows(rows, axis))
    if picture is not None:
        _draw(rows, what, axis, picture)
    if as_json:
        import json

        typer.echo(json.dumps({"swing_axis_mm": axis, "rows": [_record(row) for row in rows]}, indent=1))
    else:
        _show(rows, what, axis, bool(pieces))
    notes = [f"Note: {row.label}: {row.note}." for row in rows if row.note]
    if left_out:
        notes.append(f"Note: too long to fit there, and left out: {'; '.join(left_out)}.")
    notes += [f"Note: {words}." for words in doubted(racquets)]
    written = [f"Written: {path}." for path in (csv, picture) if path is not None]
    for line in [*taken_bare(racquets), *notes, *written, *(CAUTIONS if pieces else ())]:
        typer.echo(line, err=as_json)


def _record(row: Row) -> dict[str, Any]:
    from model.figures import FIGURE_NAMES

    parts = {"before": row.before, "after": row.after, "change": row.change}
    return {"case": row.label, "at": row.at, "added_g": row.mass_g, "note": row.note} | {
        name: dict(zip(FIGURE_NAMES, (float(v) for v in part), strict=True)) for name, part in parts.items()
    }


def _show(rows: list[Row], what: str, axis: float, changed: bool) -> None:
    from rich import box
    from rich.console import Console
    from rich.table import Table

    title = f"{'change in each figure' if changed else 'figures'}; swing axis {axis:g} mm from the butt"
    table = Table(box=box.SIMPLE_HEAD, title=title)
    table.add_column(what, overflow="fold")
    for name, _, unit, _ in FIGURE_ROWS:
        table.add_column(f"{name.removesuffix(' weight')}\n{unit}", justify="right")
    for row in rows:
        if changed:
            cells = [f"{v:+z.{d + 1}f}" for v, (_, _, _, d) in zip(row.change, FIGURE_ROWS, strict=True)]
        else:
            cells = [f"{v:.{d}f}" for v, (_, _, _, d) in zip(row.before, FIGURE_ROWS, strict=True)]
        table.add_row(row.label, *cells)
    Console(highlight=False).print(table)


def _draw(rows: list[Row], what: str, axis: float, path: Path) -> None:
    from model.drawing import save_figure
    from model.whatif_picture import draw_rows

    save_figure(draw_rows(rows, what, axis), path)
