"""``digitise sheet``: a bench sheet to stick by, as PDF, SVG or PNG."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from digitise.commands import wishes
from digitise.commands.figures import chosen_axis
from digitise.commands.targets import check_targets
from model.cautions import CAUTIONS, doubted


def sheet(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="A .racquet.json file, its placements are drawn.")
    ],
    out: Annotated[Path, typer.Argument(metavar="OUT", help="The sheet: .pdf, .svg or .png.")],
    strip: Annotated[
        list[str] | None,
        typer.Option("--strip", metavar="MASS:LENGTH@WHERE", help="Pieces in place of the file's."),
    ] = None,
    mirror: Annotated[bool, typer.Option("--mirror", help="Twins of the strips on the other side.")] = False,
    paper: Annotated[str, typer.Option("--paper", metavar="NAME", help="a4 or letter.")] = "a4",
    true_size: Annotated[
        bool,
        typer.Option("--true-size", help="Add the outline at 1 : 1, in tiles (PDF); alone in SVG and PNG."),
    ] = False,
    date: Annotated[str | None, typer.Option("--date", help="The date to print; else today's.")] = None,
    swing_axis: wishes.SwingAxis = None,
    place_sd: wishes.PlaceSd = 3.0,
    mass_sd: wishes.MassSd = 0.1,
    materials: wishes.Materials = None,
) -> None:
    """Draw a bench sheet: outline and pieces to scale, cut list, figures, room for what you measure."""
    from datetime import date as day

    from model.build import site_in
    from model.drawing import check_picture, save_figures
    from model.effects import effects_of
    from model.errors import StripError
    from model.fitted import chosen_pieces, taken_bare
    from model.materials import all_materials, own_file
    from model.sheet import sheet_of
    from model.sheet_drawing import fitted_pages, paper_size, true_size_page, true_size_pages
    from model.storage import read_racquet
    from model.tolerance import Tolerance

    check_picture(out)
    check_targets({"OUT": out}, [file, materials or own_file()])
    size = paper_size(paper)
    racquet, known = read_racquet(file), all_materials(materials)
    pieces = chosen_pieces(racquet, strip, known)
    if not pieces:
        raise StripError(
            f"{file.name} lists no placements: give --strip, or write them with digitise place --out"
        )
    effects = effects_of(
        racquet,
        pieces,
        mirror=mirror,
        axis_mm=chosen_axis(racquet, swing_axis),
        tolerance=Tolerance(place_sd, mass_sd),
    )
    doubts = doubted({file.name: racquet})
    title = file.name.removesuffix(".racquet.json")
    found = sheet_of(
        title, date or day.today().isoformat(), site_in(racquet), effects, racquet.construction, doubts
    )
    if true_size and out.suffix.lower() != ".pdf":
        pages = [true_size_page(found)]
    else:
        pages = fitted_pages(found, size, several=out.suffix.lower() == ".pdf")
        pages += true_size_pages(found, size) if true_size else []
    save_figures(pages, out)
    typer.echo(f"Written: {out}, {len(pages)} page{'s' if len(pages) > 1 else ''}.")
    if true_size:
        typer.echo("Print at 100 %, not fitted to the page, and check that the bar measures 100 mm.")
    bare = taken_bare({file.name: racquet}) if strip else []
    for line in [*bare, *(f"Note: {note}." for note in (*effects.notes, *doubts)), *CAUTIONS]:
        typer.echo(line)
