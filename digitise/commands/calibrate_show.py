"""What ``digitise calibrate`` prints: readings, figures, agreement, the next best reading, the parts."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import typer

from digitise.commands.figures import FIGURE_ROWS, figure_label

if TYPE_CHECKING:
    from rich.table import Table

    from model.calibrate import Calibration
    from model.consistency import Consistency
    from model.racquet_file import RacquetFile
    from model.readings import Reading

SHORT = ("weight g", "balance mm", "swing", "twist", "recoil", "spin")


def show_calibration(
    name: str, file: RacquetFile, found: Calibration, said: list[str], explain: bool, as_json: bool
) -> None:
    """Print all of a calibration, or its JSON."""
    from model.cautions import doubted, other_flags
    from model.consistency import consistency

    doubts = doubted({name: file})
    judged = consistency(found)
    if as_json:
        typer.echo(json.dumps(_as_json(file, found, judged), indent=1, ensure_ascii=False))
        for line in [*said, *judged.words, *doubts]:
            typer.echo(line, err=True)
        return
    from rich.console import Console

    console = Console(highlight=False)
    console.print(f"{name}: {file.construction}", markup=False)
    console.print(_readings_table(file.readings, judged if explain else None))
    console.print(_figures_table(file, found))
    for line in said:
        console.print(_sentence(line), markup=False)
    for line in judged.words:
        console.print(_sentence(line), style="bold", markup=False)
    if not judged.words and judged.freedom:
        console.print(
            f"The readings agree: chi-square {judged.chi_square:.1f} for {judged.freedom} numbers read.",
            markup=False,
        )
    if explain:
        console.print(_parts_table(file, found))
    console.print(_prospects_table(file, found))
    for note in [*file.notes, *other_flags(file)]:
        console.print(f"Note: {note}", markup=False)
    for note in doubts:
        console.print(f"Note: {note}.", markup=False)


def show_readings(name: str, readings: Sequence[Reading], as_json: bool) -> None:
    """Print the list of readings alone, in JSON as in that of a calibration."""
    if as_json:
        listed = {"readings": [reading.model_dump() for reading in readings]}
        typer.echo(json.dumps(listed, indent=1, ensure_ascii=False))
        return
    from rich.console import Console

    console = Console(highlight=False)
    console.print(f"{name}: {len(readings)} readings", markup=False)
    console.print(_readings_table(readings, None))


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + "."


def _readings_table(readings: Sequence[Reading], judged: Consistency | None) -> Table:
    from model.reading_words import NAMES, listed

    table = _table("no.", "reading", "taken as", "used")
    if judged is not None:
        table.add_column("others say", justify="right", overflow="fold")
        table.add_column("sds off", justify="right", overflow="fold")
    for i, reading in enumerate(readings):
        cells = [str(i + 1), NAMES[reading.kind], listed(reading), "yes" if reading.used else "no"]
        if judged is not None:
            pulls = [pull for pull in judged.pulls if pull.reading == i]
            unit = [pull.unit.split(" for ")[0] for pull in pulls]
            cells.append(
                "\n".join(
                    f"{p.others_say:.4g} ± {p.others_sd:.2g} {u}" for p, u in zip(pulls, unit, strict=True)
                )
            )
            cells.append("\n".join(f"{pull.sds:+z.1f}" for pull in pulls))
        table.add_row(*cells)
    return table


def _figures_table(file: RacquetFile, found: Calibration) -> Table:
    from model.figures import FIGURE_NAMES

    halves = _within(file, found)
    table = _table("figure", "value", "± sd", "90 % within", "unit")
    for name, key, unit, digits in FIGURE_ROWS:
        value = getattr(file.figures, key)
        half = halves[FIGURE_NAMES.index(key)]
        within = f"{value.value - half:.{digits}f} to {value.value + half:.{digits}f}"
        label = figure_label(name, key, file.figures)
        table.add_row(label, f"{value.value:.{digits}f}", f"{value.sd:.{digits}f}", within, unit)
    return table


def _within(file: RacquetFile, found: Calibration) -> list[float]:
    """Half of each figure's 90 % interval, in the order of FIGURE_NAMES."""
    from model.interval import half_widths

    return [float(half) for half in half_widths(found, file.figures.swing_weight_kgcm2.axis_mm)]


def _prospects_table(file: RacquetFile, found: Calibration) -> Table:
    """± of each figure in percent now and after each further reading, the quickest first."""
    from model.figures import six
    from model.next_reading import present, prospects

    axis = file.figures.swing_weight_kgcm2.axis_mm
    values = six(found.body.values, axis)
    rows = prospects(found, tuple(file.readings), axis)
    now = present(found, axis)
    best = [min([now[i], *(row.sds[i] for row in rows)]) for i in range(6)]
    table = _table("± % of each figure", *(head.split(" ")[0] for head in SHORT), "min")
    table.add_row("now", *(f"{100 * s / v:.1f}" for s, v in zip(now, values, strict=True)), "")
    for row in rows:
        cells = [
            f"{100 * s / v:.1f}{'*' if s <= b * 1.02 and s < 0.7 * n else ''}"
            for s, v, b, n in zip(row.sds, values, best, now, strict=True)
        ]
        table.add_row(f"with {row.name}", *cells, str(row.minutes))
    table.caption = "What a further reading would leave, the quickest first; * helps that figure most."
    table.caption_justify = "left"
    return table


def _parts_table(file: RacquetFile, found: Calibration) -> Table:
    from model.explain import shares

    table = _table("part", "g", "± sd", "centre mm", "weight %", "swing %", "twist %")
    for share in shares(found, file.figures.swing_weight_kgcm2.axis_mm):
        name = share.name.replace("_", " ") + ("" if share.counts else " (not counted)")
        percent = [f"{100 * part:.1f}" for part in (share.weight, share.swing, share.twist)]
        mass = share.mass_g
        table.add_row(name, f"{mass.value:.1f}", f"{mass.sd:.1f}", f"{share.centre_mm:.0f}", *percent)
    return table


def _as_json(file: RacquetFile, found: Calibration, judged: Consistency) -> dict[str, Any]:
    from dataclasses import asdict

    from model.explain import shares
    from model.figures import FIGURE_NAMES
    from model.next_reading import prospects

    axis = file.figures.swing_weight_kgcm2.axis_mm
    return {
        "figures": file.figures.model_dump(),
        "within_90": dict(zip(FIGURE_NAMES, _within(file, found), strict=True)),
        "readings": [reading.model_dump() for reading in file.readings],
        "consistency": asdict(judged),
        "parts": [asdict(share) for share in shares(found, axis)],
        "next": [
            {**asdict(row), "sds": dict(zip(FIGURE_NAMES, row.sds, strict=True))}
            for row in prospects(found, tuple(file.readings), axis)
        ],
        "notes": file.notes,
    }


def _table(*heads: str) -> Table:
    from rich import box
    from rich.table import Table

    left = ("reading", "taken as", "unit", "used", "figure", "part", "± % of each figure")
    table = Table(box=box.SIMPLE_HEAD)
    for head in heads:
        table.add_column(head, justify="left" if head in left else "right", overflow="fold")
    return table
