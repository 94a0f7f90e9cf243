"""``digitise outline``: the outline to and from other drawing programs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from digitise.commands.targets import check_ending, is_same, keep_inputs

if TYPE_CHECKING:
    from digitise.svg_read import ReadBack
    from model.racquet_file import RacquetFile

PICTURES = ("embed", "link", "none")


def outline(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A .racquet.json file.")],
    svg: Annotated[
        Path | None, typer.Option("--svg", metavar="OUT", help="Write an SVG drawing at true size.")
    ] = None,
    dxf: Annotated[
        Path | None, typer.Option("--dxf", metavar="OUT", help="Write a DXF drawing in mm.")
    ] = None,
    from_svg: Annotated[
        Path | None,
        typer.Option("--from-svg", metavar="EDITED", help="Take the outline from an edited SVG drawing."),
    ] = None,
    picture: Annotated[
        str,
        typer.Option(
            "--picture", metavar="|".join(PICTURES), help="The straightened photo in the SVG drawing."
        ),
    ] = "embed",
    photo: Annotated[
        Path | None, typer.Option("--photo", metavar="PHOTO", help="Where the photo is, if it was moved.")
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE", help="With --from-svg: the racquet file to write [FILE]."),
    ] = None,
) -> None:
    """Write the outline for a vector editor or a cutter, and read an edited drawing back."""
    if picture not in PICTURES:
        raise typer.BadParameter(f"--picture must be one of {', '.join(PICTURES)}, not {picture!r}")
    if svg is None and dxf is None and from_svg is None:
        raise typer.BadParameter("give --svg OUT, --dxf OUT or --from-svg EDITED")
    if from_svg is not None and (svg is not None or dxf is not None):
        raise typer.BadParameter("read with --from-svg first, then write with --svg or --dxf")
    from model.storage import read_racquet

    racquet = read_racquet(file)
    for option, target in (("--svg", svg), ("--dxf", dxf)):
        if target is not None:
            keep_inputs(target, [file, photo], option)
            check_ending(target, option.replace("--", "."), option)
    if from_svg is not None:
        target = file if out is None else out
        keep_inputs(target, [from_svg])
        _take(racquet, file, from_svg, target)
    if svg is not None:
        _write_svg(racquet, file, svg, picture, photo)
    if dxf is not None:
        from digitise.dxf import write_dxf

        write_dxf(racquet, dxf)
        typer.echo(f"DXF drawing in mm: {dxf}")


def _take(racquet: RacquetFile, file: Path, edited: Path, target: Path) -> None:
    from digitise.outline_edited import with_outline
    from digitise.svg_read import read_svg
    from model.storage import write_racquet

    back = read_svg(edited, racquet)
    if back.is_same:
        if is_same(file, target):
            typer.echo("Nothing in the drawing differs from the racquet file; it is left as it was.")
        else:
            write_racquet(target, racquet)
            typer.echo(f"Nothing in the drawing differs from {file}.\nRacquet file, the same again: {target}")
        return
    changed = with_outline(racquet, back.outer_mm, back.openings_mm)
    write_racquet(target, changed)
    length, width = changed.outline.length_mm, changed.outline.width_mm
    swing = changed.figures.swing_weight_kgcm2
    typer.echo(
        f"{back.changed_mm:.0f} mm of the outline were edited; now {length.value:.1f} mm long and "
        f"{width.value:.1f} mm wide, swing weight at {swing.axis_mm:g} mm {swing.value:.1f} kg·cm²."
    )
    for line in _of_openings(back):
        typer.echo(line)
    typer.echo(f"Racquet file: {target}")


def _of_openings(back: ReadBack) -> list[str]:
    """What became of the openings, a sentence for each kind of change."""
    kinds = (("moved or changed", back.moved), ("added", back.added), ("removed", back.removed))
    said = [
        f"{len(names)} {'openings were' if len(names) > 1 else 'opening was'} {what}: {', '.join(names)}."
        for what, names in kinds
        if names
    ]
    if back.removed:
        said.append("An opening is known by its name (id): one under another name is left out.")
    return said


def _write_svg(racquet: RacquetFile, path: Path, target: Path, picture: str, photo: Path | None) -> None:
    from digitise.svg_write import embedded, svg_text
    from model.errors import ModelError
    from model.storage import write_bytes, write_text

    jpeg, source = None, None
    if picture != "none" and racquet.photo is not None:
        from digitise.commands.correct import find_photo
        from digitise.outline_picture import picture_jpeg

        try:
            source, found = find_photo(racquet, path, photo)
            jpeg = picture_jpeg(racquet, found)
        except ModelError as error:
            if photo is not None:
                raise
            typer.echo(f"Without the photo: {error}.", err=True)
    keep_inputs(target, [source], "--svg")
    address = None
    if jpeg is not None and picture == "embed":
        address = embedded(jpeg)
    elif jpeg is not None:
        linked = target.with_name(target.name + ".jpg")  # club.jpg may well be the photo itself
        keep_inputs(linked, [path, source], "--svg")
        write_bytes(linked, jpeg)
        address = linked.name
    write_text(target, svg_text(racquet, path.name.removesuffix(".json"), address))
    typer.echo(f"SVG drawing, 1 unit = 1 mm: {target}")
