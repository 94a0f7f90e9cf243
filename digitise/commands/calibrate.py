"""``digitise calibrate``: readings in, masses and figures out, and which reading would help next."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from digitise.commands import reading_options
from digitise.commands.figures import chosen_axis
from digitise.commands.grouped import grouped
from digitise.commands.targets import check_ending, check_targets

if TYPE_CHECKING:
    from model.racquet_file import LikeRecord, RacquetFile


@grouped
def calibrate(
    file: Annotated[
        Path | None, typer.Argument(metavar="FILE", help="A .racquet.json file; it is written anew.")
    ] = None,
    given: reading_options.Given = reading_options.NOTHING_GIVEN,
    like: Annotated[
        list[Path] | None,
        typer.Option("--like", metavar="FILE", help="Racquet file of the same model, for what it tells."),
    ] = None,
    alone: Annotated[
        bool, typer.Option("--alone", help="Forget what other racquets of the model told.")
    ] = False,
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
    edit: Annotated[
        list[str] | None, typer.Option("--edit", metavar="'N: TEXT'", help="Write reading N anew.")
    ] = None,
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

    check_targets({"--out": out}, [*(like or []), *(given.readings or [])])
    racquet = read_racquet(file)
    new = reading_options.readings_of(given.typed(), given.readings or [])
    asked = bool(show_list or disable or enable or edit or remove or like or alone or swing_axis is not None)
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
        unchanged = kept == list(racquet.readings)
        if unchanged or not as_json:  # the JSON of a calibration holds the list
            show_readings(file.name, kept, as_json)
        if unchanged:
            return
    axis = chosen_axis(racquet, swing_axis)
    learnt = _likenesses(racquet, like) if like else [] if alone else None
    after, found = recalibrated(racquet, kept, axis, learnt)
    if after.like:
        names = ", ".join(other.file_name for other in after.like)
        said.append(f"counted in is what {names} told of this model (--alone forgets it)")
    if racquet.placements:
        said.append(
            f"the pieces that {file.name} lists are not counted, and a reading given here is of the bare "
            "racquet: digitise after takes those with the pieces on"
        )
    write_racquet(out or file, after)
    show_calibration((out or file).name, after, found, said, explain, as_json)


def _likenesses(racquet: RacquetFile, paths: list[Path]) -> list[LikeRecord]:
    """What other racquets tell, from their own files. Raises ModelError for this racquet itself."""
    from model.errors import ModelError
    from model.recalibrate import told_by
    from model.same_racquet import is_same_racquet
    from model.storage import read_racquet

    others: list[tuple[str, RacquetFile]] = [(path.name, read_racquet(path)) for path in paths]
    for name, other in others:
        if is_same_racquet(racquet, other):
            raise ModelError(
                f"{name} is this racquet itself, or a copy of it, whose readings would count twice: "
                "give another racquet of the same model to --like"
            )
    return [told_by(other, name) for name, other in others]


def _draw_how(kind: str, out: Path | None) -> None:
    from digitise.how_to_read import how_picture, how_words
    from model.storage import write_text

    picture = how_picture(kind)
    target = out or Path(f"how-{kind.replace('_', '-').replace(' ', '-')}.svg")
    check_ending(target, ".svg")
    write_text(target, picture)
    for line in how_words(kind):
        typer.echo(line)
    typer.echo(f"Picture: {target}")
