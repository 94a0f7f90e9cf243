"""``digitise calibrate``: readings in, masses and figures out, and which reading would help next."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from digitise.commands.figures import chosen_axis

if TYPE_CHECKING:
    from model.racquet_file import LikeRecord, RacquetFile
    from model.readings import Reading

Texts = list[str] | None


def calibrate(
    file: Annotated[
        Path | None, typer.Argument(metavar="FILE", help="A .racquet.json file; it is written anew.")
    ] = None,
    weight: Annotated[
        Texts, typer.Option("--weight", metavar="G", help="On a scale: 231, or '231.4, 231.2' for repeats.")
    ] = None,
    balance: Annotated[
        Texts, typer.Option("--balance", metavar="MM", help="On a straight edge, from the butt: 238.")
    ] = None,
    scale_check: Annotated[
        Texts, typer.Option("--scale-check", metavar="TEXT", help="A known mass: '200g shows 200.4g'.")
    ] = None,
    two_supports: Annotated[
        Texts,
        typer.Option("--two-supports", metavar="TEXT", help="'block 10mm, scale 380mm, reads 139.2g'."),
    ] = None,
    two_scales: Annotated[
        Texts, typer.Option("--two-scales", metavar="TEXT", help="'10mm 91.8g, 380mm 139.2g'.")
    ] = None,
    head_reading: Annotated[
        Texts,
        typer.Option(
            "--head-reading", metavar="TEXT", help="Level, scale under it: '136.4g, butt 5mm, tip 405mm'."
        ),
    ] = None,
    butt_reading: Annotated[
        Texts, typer.Option("--butt-reading", metavar="TEXT", help="The same with the scale under the butt.")
    ] = None,
    pendulum: Annotated[
        Texts, typer.Option("--pendulum", metavar="TEXT", help="'pivot 30mm, 20 swings, 21.86s'.")
    ] = None,
    bifilar: Annotated[
        Texts,
        typer.Option(
            "--bifilar",
            metavar="TEXT",
            help="On two threads: 'twist, threads 900mm, spacing 150mm, 20 swings, 31.2s'; or recoil, spin.",
        ),
    ] = None,
    machine: Annotated[
        Texts, typer.Option("--machine", metavar="TEXT", help="'swing 118.5 at 50mm', 'twist 6.2'; kg·cm².")
    ] = None,
    published: Annotated[
        Texts, typer.Option("--published", metavar="TEXT", help="The maker's: 'swing 115 at 50mm'.")
    ] = None,
    component: Annotated[
        Texts,
        typer.Option(
            "--component", metavar="TEXT", help="'butt cap 5.2g', 'overgrip 6g, not counted', '3g:76mm@3'."
        ),
    ] = None,
    length: Annotated[
        Texts, typer.Option("--length", metavar="MM", help="Overall length by tape measure.")
    ] = None,
    width: Annotated[
        Texts, typer.Option("--width", metavar="MM", help="Largest width by tape measure.")
    ] = None,
    readings: Annotated[
        list[Path] | None, typer.Option("--readings", metavar="FILE", help="Readings from a .toml or .csv.")
    ] = None,
    like: Annotated[
        list[Path] | None,
        typer.Option("--like", metavar="FILE", help="Racquet file of the same model, for what it tells."),
    ] = None,
    add: Annotated[
        bool, typer.Option("--add", help="Count new readings beside older ones of the same quantity.")
    ] = False,
    show_list: Annotated[bool, typer.Option("--list", help="Only list the file's readings.")] = False,
    disable: Annotated[
        list[int] | None, typer.Option("--disable", metavar="N", help="Keep reading N, but do not use it.")
    ] = None,
    enable: Annotated[
        list[int] | None, typer.Option("--enable", metavar="N", help="Use reading N again.")
    ] = None,
    edit: Annotated[Texts, typer.Option("--edit", metavar="'N: TEXT'", help="Write reading N anew.")] = None,
    remove: Annotated[
        list[int] | None, typer.Option("--remove", metavar="N", help="Drop reading N for good.")
    ] = None,
    swing_axis: Annotated[
        float | None,
        typer.Option("--swing-axis", metavar="MM", help="Swing axis, mm from the butt; else the file's."),
    ] = None,
    explain: Annotated[
        bool, typer.Option("--explain", help="Show each part's shares and how hard each reading pulls.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="Write there; FILE stays as it is.")
    ] = None,
    how: Annotated[
        str | None,
        typer.Option("--how", metavar="KIND", help="Draw how a reading is taken, to --out (.svg)."),
    ] = None,
) -> None:
    """Calibrate a racquet's masses to readings; without any, at a terminal, ask for them one by one."""
    if how is not None:
        _draw_how(how, out)
        return
    if file is None:
        raise typer.BadParameter("give the .racquet.json file that trace wrote", param_hint="FILE")
    from model.reading_list import edited, set_used, with_new, without
    from model.recalibrate import recalibrated
    from model.storage import read_racquet, write_racquet

    racquet = read_racquet(file)
    typed = {
        "weight": weight,
        "balance": balance,
        "scale_check": scale_check,
        "two_supports": two_supports,
        "two_scales": two_scales,
        "head_reading": head_reading,
        "butt_reading": butt_reading,
        "pendulum": pendulum,
        "bifilar": bifilar,
        "machine": machine,
        "published": published,
        "component": component,
        "length": length,
        "width": width,
    }
    new = _new_readings(typed, readings or [])
    asked = bool(show_list or disable or enable or edit or remove or like or swing_axis is not None)
    if not new and not asked and sys.stdin.isatty() and sys.stdout.isatty() and not as_json:
        from digitise.commands.ask_readings import ask_readings

        new = ask_readings(racquet)
    kept = list(racquet.readings)
    for text in edit or []:
        kept = edited(kept, text)
    for numbers, used in ((disable, False), (enable, True)):
        for number in numbers or []:
            kept = set_used(kept, number, used)
    kept, said = with_new(without(kept, remove or []), new, add)

    from digitise.commands.calibrate_show import show_calibration, show_readings

    if show_list and not new:
        show_readings(file.name, kept)
        if kept == list(racquet.readings):
            return
    axis = chosen_axis(racquet, swing_axis)
    after, found = recalibrated(racquet, kept, axis, _likenesses(like) if like else None)
    write_racquet(out or file, after)
    show_calibration((out or file).name, after, found, said, explain, as_json)


def _new_readings(typed: dict[str, Texts], files: list[Path]) -> list[Reading]:
    from model.reading_files import read_readings
    from model.reading_text import parse_reading

    found = [reading for path in files for reading in read_readings(path)]
    return found + [parse_reading(kind, text) for kind, texts in typed.items() for text in texts or []]


def _likenesses(paths: list[Path]) -> list[LikeRecord]:
    """What other racquets tell, from their own files."""
    from model.like import likeness
    from model.recalibrate import recalibrated
    from model.storage import read_racquet

    others: list[tuple[str, RacquetFile]] = [(path.name, read_racquet(path)) for path in paths]
    return [likeness(recalibrated(other)[1], name) for name, other in others]


def _draw_how(kind: str, out: Path | None) -> None:
    from digitise.how_to_read import how_picture, how_words

    picture = how_picture(kind)
    target = out or Path(f"how-{kind.replace('_', '-').replace(' ', '-')}.svg")
    target.write_text(picture, "utf-8")
    for line in how_words(kind):
        typer.echo(line)
    typer.echo(f"Picture: {target}")
