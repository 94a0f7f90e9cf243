"""``digitise figures``: the six figures of a racquet file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from rich.table import Table

    from model.racquet_file import FiguresRecord, RacquetFile

FIGURE_ROWS = (
    ("weight", "weight_g", "g", 1),
    ("balance", "balance_mm", "mm", 1),
    ("swing weight", "swing_weight_kgcm2", "kg·cm²", 1),
    ("twist weight", "twist_weight_kgcm2", "kg·cm²", 2),
    ("recoil weight", "recoil_weight_kgcm2", "kg·cm²", 1),
    ("spin weight", "spin_weight_kgcm2", "kg·cm²", 1),
)


def figures(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A .racquet.json file.")],
    swing_axis: Annotated[
        float | None,
        typer.Option("--swing-axis", metavar="MM", help="Swing axis, mm from the butt; else the file's."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON, with the file's keys.")] = False,
) -> None:
    """Print a racquet's weight, balance, swing, twist, recoil and spin weight, each ± its sd."""
    from model.build import body_of, figures_record
    from model.cautions import doubted
    from model.figures import figures_of
    from model.fitted import taken_bare
    from model.storage import read_racquet

    racquet = read_racquet(file)
    axis = chosen_axis(racquet, swing_axis)
    record = figures_record(figures_of(body_of(racquet), axis))
    if as_json:
        import json

        typer.echo(json.dumps({"figures": record.model_dump()}, indent=1))
    else:
        print_racquet(file.name, racquet, record)
    doubts = [f"Note: {words}." for words in doubted({file.name: racquet})]
    for line in [*taken_bare({file.name: racquet}), *doubts]:
        typer.echo(line, err=as_json)


def chosen_axis(racquet: RacquetFile, swing_axis_mm: float | None) -> float:
    """The swing axis to use: the person's, else the file's. Raises ModelError for one far off the racquet."""
    from model.bounds import check_axis

    axis = racquet.figures.swing_weight_kgcm2.axis_mm if swing_axis_mm is None else swing_axis_mm
    check_axis(axis, racquet.outline.length_mm.value)
    return axis


def figure_label(name: str, key: str, record: FiguresRecord) -> str:
    """A figure's name for a table; the swing weight never without its axis."""
    if key == "swing_weight_kgcm2":
        return f"{name} at {record.swing_weight_kgcm2.axis_mm:g} mm"
    return name


def print_racquet(name: str, racquet: RacquetFile, record: FiguresRecord) -> None:
    """Print sizes, the six figures in ``record``, the parts, and what there is to note."""
    from rich.console import Console

    from model.cautions import other_flags

    console = Console(highlight=False)
    console.print(f"{name}: {racquet.construction}", markup=False)
    console.print(_size_table(racquet))
    console.print(_figures_table(record))
    console.print(_parts_table(racquet))
    for note in [*racquet.notes, *other_flags(racquet)]:
        console.print(f"Note: {note}", markup=False)


def _size_table(racquet: RacquetFile) -> Table:
    table = _table("size", "mm", "± sd")
    for name, value in (("overall length", racquet.outline.length_mm), ("width", racquet.outline.width_mm)):
        table.add_row(name, f"{value.value:.1f}", f"{value.sd:.1f}")
    for name, value, source in (
        ("face thickness", racquet.thickness.face_mm, racquet.thickness.face_source),
        ("handle thickness", racquet.thickness.handle_mm, racquet.thickness.handle_source),
    ):
        table.add_row(f"{name} ({source})", f"{value.value:.1f}", f"{value.sd:.1f}")
    return table


def _figures_table(record: FiguresRecord) -> Table:
    table = _table("figure", "value", "± sd", "unit")
    for name, key, unit, digits in FIGURE_ROWS:
        value = getattr(record, key)
        label = figure_label(name, key, record)
        table.add_row(label, f"{value.value:.{digits}f}", f"{value.sd:.{digits}f}", unit)
    return table


def _parts_table(racquet: RacquetFile) -> Table:
    table = _table("part", "g", "± sd")
    for part in racquet.parts:
        table.add_row(part.name.replace("_", " "), f"{part.mass_g.value:.1f}", f"{part.mass_g.sd:.1f}")
    return table


def _table(*heads: str) -> Table:
    from rich import box
    from rich.table import Table

    table = Table(box=box.SIMPLE_HEAD)
    for i, head in enumerate(heads):
        table.add_column(head, justify="left" if i == 0 or head == "unit" else "right", overflow="fold")
    return table
