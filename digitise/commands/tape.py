"""``digitise tape``: the materials there are, and the person's own tape from what a length of it weighs."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from model.materials import Material


def tape(
    weigh: Annotated[
        str | None, typer.Option("--weigh", metavar="MASS", help="What the length weighs, e.g. 3.05g.")
    ] = None,
    length: Annotated[
        str | None, typer.Option("--length", metavar="LENGTH", help="The weighed length, e.g. 3in or 76mm.")
    ] = None,
    width: Annotated[str | None, typer.Option("--width", metavar="LENGTH", help="Its width.")] = None,
    thickness: Annotated[
        str | None, typer.Option("--thickness", metavar="LENGTH", help="The thickness of one layer.")
    ] = None,
    name: Annotated[str, typer.Option("--name", help="What to call it in strips.")] = "mine",
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite an entry of that name.")] = False,
    materials: Annotated[
        Path | None,
        typer.Option(
            "--materials",
            metavar="FILE",
            help="Your materials file; else $DIGITISE_MATERIALS, else ~/.config/digitise/materials.toml.",
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """List tapes and weights, or weigh a length of your own: --weigh 3.05g --length 3in --width 6mm."""
    from model.errors import MaterialError
    from model.materials import (
        all_materials,
        keep_material,
        less_toxic_than_its_namesake,
        own_file,
        shipped_materials,
        unlike_its_namesake,
        weighed_tape,
    )

    if weigh is None and length is None:
        _show(list(all_materials(materials).values()), as_json)
        return
    if weigh is None or length is None:
        raise MaterialError("a tape of your own needs both --weigh and --length, for example 3.05g and 3in")
    path = materials or own_file()
    namesake = (all_materials(path) if path.exists() else shipped_materials()).get(name)
    toxic = namesake is not None and namesake.toxic
    made = weighed_tape(name, weigh, length, width, thickness, toxic=toxic)
    keep_material(made, path, replace)
    _show([made], as_json)
    for words in (unlike_its_namesake(made), less_toxic_than_its_namesake(made, path)):
        if words is not None:
            typer.echo(f"Note: {words}.", err=as_json)
    typer.echo(f"Kept in {path}. Use it in a strip: {name}:76mm@3:30", err=as_json)


def _show(rows: list[Material], as_json: bool) -> None:
    if as_json:
        import json
        from dataclasses import asdict

        typer.echo(json.dumps({"materials": [asdict(row) for row in rows]}, indent=1, ensure_ascii=False))
        return
    from rich import box
    from rich.console import Console
    from rich.table import Table

    table = Table(box=box.SIMPLE_HEAD)
    for head, side in (("name", "left"), ("what", "left"), ("weighs", "right"), ("width", "right")):
        table.add_column(head, justify=side, overflow="fold")  # type: ignore[arg-type]
    for row in rows:
        table.add_row(row.name, row.words, _amount(row), f"{row.width_mm:g} mm" if row.width_mm else "")
    console = Console(highlight=False)
    console.print(table)
    for row in rows:
        console.print(f"{row.name}: {row.source}.", markup=False)


def _amount(row: Material) -> str:
    if row.amount is None:
        return "any mass"
    if row.form.value == "tape":
        value, sd = 1000 * row.amount.value, 1000 * row.amount.sd
        digits = max(1, -math.floor(math.log10(sd))) if sd else 1
        return f"{value:.{digits}f} ± {sd:.{digits}f} g/m"
    return f"{row.amount.value:.2f} ± {row.amount.sd:.2f} g each"
