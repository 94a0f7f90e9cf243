"""``digitise place``: what pieces of added weight would do to a racquet's figures."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from digitise.commands import wishes
from digitise.commands.figures import FIGURE_ROWS, chosen_axis, figure_label
from digitise.commands.targets import check_targets, keep_inputs
from model.cautions import CAUTIONS, doubted

if TYPE_CHECKING:
    from model.effects import Effects
    from model.racquet_file import FiguresRecord

STRIP_HELP = (
    "A piece of weight. On the edge: 3g:76mm@3:30 (clock; 12 is the tip), 3g:76mm@-180mm (along the edge "
    "from the tip, - is left as seen), '3g:76mm@120mm from the handle top', 8g@perimeter. Elsewhere: "
    "3g:40mm@throat, '2g:30x20mm@x20 y250' (a patch), '1g:20mm@opening 1 at 12', '6g:40mm@handle at 60mm', "
    "'6g:40mm@under the grip at 60mm', 9g@butt. For the mass you may name a material: lead:76mm@3:30. After "
    "commas: width 6mm, thickness 0.4mm, 2 layers, of lead, on the face, over the edge, back, both faces, "
    "stand-off 2mm, radius 16mm, 4 strips (round the handle), turned 30, mirrored. May be given more than "
    "once."
)


def place(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A .racquet.json file; it is not changed.")],
    strip: Annotated[
        list[str] | None, typer.Option("--strip", metavar="MASS:LENGTH@WHERE", help=STRIP_HELP)
    ] = None,
    mirror: Annotated[
        bool, typer.Option("--mirror", help="Put a twin of each strip on the other side.")
    ] = False,
    more: Annotated[
        bool, typer.Option("--more", help="Put the strips on top of the pieces that the file lists.")
    ] = False,
    swing_axis: Annotated[
        float | None,
        typer.Option("--swing-axis", metavar="MM", help="Swing axis, mm from the butt; else the file's."),
    ] = None,
    impact: Annotated[
        str | None,
        typer.Option("--impact", metavar="X,Y", help="Where a ball hits, mm; else the middle of the face."),
    ] = None,
    place_sd: wishes.PlaceSd = 3.0,
    mass_sd: wishes.MassSd = 0.1,
    map_to: Annotated[
        Path | None,
        typer.Option("--map", metavar="PICTURE", help="Draw effective mass over the face: .png, .svg, .pdf."),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE", help="Write a racquet file that lists the pieces as placed."),
    ] = None,
    materials: Annotated[
        Path | None, typer.Option("--materials", metavar="FILE", help="Your materials file.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print before, after and change as JSON.")] = False,
) -> None:
    """Print the figures before and after sticking on strips of tape or other weights."""
    from model.drawing import check_picture
    from model.effects import effects_of, parse_point
    from model.fitted import chosen_pieces, further_pieces, taken_bare, with_pieces
    from model.materials import all_materials, own_file
    from model.storage import read_racquet, write_racquet
    from model.tolerance import Tolerance

    if more and not strip:
        raise typer.BadParameter("--more needs a --strip to put on top of what the file lists")
    if map_to is not None:
        check_picture(map_to)
    check_targets({"--map": map_to, "--out": out}, [materials or own_file()])
    keep_inputs(map_to, [file], "--map")
    racquet = read_racquet(file)
    known = all_materials(materials)
    bare = taken_bare({file.name: racquet}) if strip and not more else []
    if strip and more:
        pieces = further_pieces(racquet, strip, known, mirror)
        mirror = False  # the file's own pieces have the twins that it says
    else:
        pieces = chosen_pieces(racquet, strip, known)
    if not pieces:
        raise typer.BadParameter(f"give at least one --strip, for {file.name} lists no placements")
    found = effects_of(
        racquet,
        pieces,
        mirror=mirror,
        axis_mm=chosen_axis(racquet, swing_axis),
        tolerance=Tolerance(place_sd, mass_sd),
        impact_mm=parse_point(impact) if impact else None,
    )
    if map_to is not None:
        from model.drawing import save_figure
        from model.impact_picture import draw_impact

        save_figure(
            draw_impact(found.body_before, found.body_after, found.outline, found.face, found.laid), map_to
        )
    if out is not None:
        write_racquet(out, with_pieces(racquet, pieces, mirror))
    if as_json:
        import json

        typer.echo(json.dumps(effects_record(found), indent=1))
    else:
        _show(found)
    notes = [*found.notes, *doubted({file.name: racquet})]
    written = [f"Written: {path}." for path in (map_to, out) if path is not None]
    for line in [*bare, *(f"Note: {note}." for note in notes), *written, *CAUTIONS]:
        typer.echo(line, err=as_json)


def effects_record(found: Effects) -> dict[str, Any]:
    """Effects as JSON: before, after, change, per gram, the change's sd split, and the impact."""
    from model.build import figures_record
    from model.effects import PERCUSSION
    from model.figures import FIGURE_NAMES

    study = found.study
    record: dict[str, Any] = {
        name: figures_record(getattr(study, name)).model_dump()
        for name in ("before", "after", "change", "per_gram")
    }
    record["change_sd_split"] = {
        name: {"placement": float(p), "baseline": float(b)}
        for name, p, b in zip(FIGURE_NAMES, study.placement_sd, study.baseline_change_sd, strict=True)
    }
    record["impact"] = {"at_mm": list(found.impact_mm)} | {
        key: {name: _value(getattr(row, name)) for name in ("before", "after", "change")}
        for key, row in found.impact_rows.items()
    }
    record["impact"].setdefault(PERCUSSION, None)
    return record


def _value(measured: Any) -> dict[str, float]:
    return {"value": measured.value, "sd": measured.sd}


def _show(found: Effects) -> None:
    from rich.console import Console

    from model.build import figures_record
    from model.effects import PERCUSSION

    study = found.study
    console = Console(highlight=False)
    records = {name: figures_record(getattr(study, name)) for name in ("before", "after", "change")}
    console.print(figures_table(records))
    table = _table("change", "per gram", "sd: placement", "sd: baseline", "unit")
    per_gram = figures_record(study.per_gram)
    for i, (name, key, unit, digits) in enumerate(FIGURE_ROWS):
        sds = (study.placement_sd[i], study.baseline_change_sd[i])
        table.add_row(
            figure_label(name, key, per_gram),
            f"{getattr(per_gram, key).value:+z.{digits + 2}f}",
            *(f"{sd:.{digits + 1}f}" for sd in sds),
            unit,
        )
    console.print(table)
    x, y = found.impact_mm
    table = _table(f"a ball at {x:g}, {y:.0f} mm", "before", "after", "change", "unit")
    for row in found.impact_rows.values():
        shown = [f"{m.value:.1f} ± {m.sd:.1f}" for m in (row.before, row.after)]
        table.add_row(row.words, *shown, f"{row.change.value:+z.2f} ± {row.change.sd:.2f}", row.unit)
    console.print(table)
    if PERCUSSION not in found.impact_rows:
        console.print("There is no centre of percussion: the swing axis is at or near the balance point.")


def figures_table(records: dict[str, FiguresRecord]) -> Any:
    """Six figures before, after and their change, each ± sd, as a table."""
    table = _table("figure", *records, "unit")
    for name, key, unit, digits in FIGURE_ROWS:
        cells = [getattr(record, key) for record in records.values()]
        shown = [f"{c.value:.{digits}f} ± {c.sd:.{digits}f}" for c in cells[:-1]]
        shown.append(f"{cells[-1].value:+z.{digits + 1}f} ± {cells[-1].sd:.{digits + 1}f}")
        table.add_row(figure_label(name, key, next(iter(records.values()))), *shown, unit)
    return table


def _table(first: str, *heads: str) -> Any:
    from rich import box
    from rich.table import Table

    table = Table(box=box.SIMPLE_HEAD)
    table.add_column(first, overflow="fold")
    for head in heads:
        table.add_column(head, justify="left" if head == "unit" else "right", overflow="fold")
    return table
