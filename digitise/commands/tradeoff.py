"""``digitise tradeoff``: the most twist for each swing weight, and how far a set-up is from it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from digitise.commands import wishes
from digitise.commands.figures import chosen_axis
from digitise.commands.grouped import grouped
from digitise.commands.targets import check_targets
from model.cautions import CAUTIONS, doubted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from model.tradeoff import Distance, Front


BEYOND = 1.0005  # of the best: more than rounding, so the curve is of other tape


@grouped
def tradeoff(
    file: wishes.File,
    strip: Annotated[
        list[str] | None,
        typer.Option("--strip", metavar="MASS:LENGTH@WHERE", help="Your own set-up, as for digitise place."),
    ] = None,
    gain: Annotated[str, typer.Option("--gain", metavar="FIGURE", help="What to gain.")] = "twist",
    cost: Annotated[str, typer.Option("--cost", metavar="FIGURE", help="What it costs.")] = "swing",
    limit: wishes.Limits = None,
    use: wishes.TapeUse = wishes.ON_THE_EDGE,
    swing_axis: wishes.SwingAxis = None,
    materials: wishes.Materials = None,
    csv: Annotated[Path | None, typer.Option("--csv", metavar="FILE", help="Write the curve as CSV.")] = None,
    picture: Annotated[
        Path | None, typer.Option("--picture", metavar="FILE", help="Draw the curve: .png, .svg or .pdf.")
    ] = None,
    as_json: wishes.AsJson = False,
) -> None:
    """Print the best gain in one figure for each cost in another, with your own set-up against it."""
    from model.build import body_of, site_in
    from model.columns import columns_of
    from model.drawing import check_picture
    from model.figure_rows import figure_at, figures_before, unit_of
    from model.fitted import chosen_pieces, taken_bare
    from model.limits import parse_limit
    from model.materials import all_materials, own_file
    from model.placement import added, lay_all
    from model.program import MET, Frame, Goal
    from model.search_study import figure_named, tape_and_ground
    from model.storage import read_racquet
    from model.tables import write_csv
    from model.tradeoff import distance, front

    if picture is not None:
        check_picture(picture)
    check_targets({"--csv": csv, "--picture": picture}, [file, materials or own_file()])
    racquet, known = read_racquet(file), all_materials(materials)
    axis, site, body = chosen_axis(racquet, swing_axis), site_in(racquet), body_of(racquet).values
    wish = wishes.wish_of(use)
    before = figures_before(body, axis)
    limits = tuple(parse_limit(text, before) for text in limit or ())
    absolute = tuple(one.absolute(before[one.figure]) for one in limits)
    frame = Frame(body, axis, absolute, Goal())
    columns = columns_of(site, *tape_and_ground(site, wish, known))
    curve = front(frame, columns, figure_named(cost), figure_named(gain))
    pieces = chosen_pieces(racquet, strip, known)
    own, broken = None, []
    if pieces:
        sums = added(lay_all(site, pieces)[0])
        own, after = distance(frame, columns, curve, sums), frame.values(sums)
        broken = [
            one.text for one in absolute if one.missed_by(after[one.figure]) > MET * abs(after[one.figure])
        ]
    names = [(name, figure_at(name, axis).removeprefix(name)) for name in (curve.cost, curve.gain)]
    heads = [*(f"{name} change{at}, {unit_of(name)}" for name, at in names), "added, g"]
    columns_shown = (curve.cost_change, curve.gain_change, curve.added_g)
    rows = list(zip(*(a.tolist() for a in columns_shown), strict=True))
    of_tape = f"of {use.tape} in {use.layers} layer{'s' if use.layers > 1 else ''}"
    if csv is not None:
        write_csv(csv, heads, rows)
    if picture is not None:
        _draw(curve, own, broken, axis, heads, of_tape, picture)
    if as_json:
        import json
        from dataclasses import asdict

        shown = {"cost": curve.cost, "gain": curve.gain, "swing_axis_mm": axis, "curve": rows}
        theirs = asdict(own) | {"breaks": broken} if own else None
        typer.echo(json.dumps(shown | {"own": theirs}, indent=1))
    else:
        _show(heads, rows, verdict(own, broken) if own else [], axis, of_tape)
    written = [f"Written: {path}." for path in (csv, picture) if path is not None]
    doubts = [f"Note: {words}." for words in doubted({file.name: racquet})]
    bare = taken_bare({file.name: racquet}) if strip else []
    for line in [*bare, *written, *doubts, *CAUTIONS]:
        typer.echo(line, err=as_json)


def _show(
    heads: list[str], rows: list[tuple[float, ...]], said: list[str], axis: float, of_tape: str
) -> None:
    from rich import box
    from rich.console import Console
    from rich.table import Table

    console = Console(highlight=False)
    table = Table(box=box.SIMPLE_HEAD, title=f"Best there is {of_tape}; swing axis {axis:g} mm")
    for head in heads:
        table.add_column(head, justify="right")
    for row in rows[:: max(len(rows) // 12, 1)]:
        table.add_row(*(f"{value:+z.3f}" for value in row))
    console.print(table)
    for line in said:
        console.print(line, markup=False)


def verdict(own: Distance, broken: Sequence[str] = ()) -> list[str]:
    """How far a set-up is from the curve, in words; ``broken`` are limits it breaks and the curve keeps."""
    first = f"Your set-up: {own.gain_change:+z.3f} for {own.cost_change:+z.3f}; {_best_for_that(own)}."
    if broken:
        named = " and ".join(repr(limit) for limit in broken)
        limits, them = ("limit", "it") if len(broken) == 1 else ("limits", "them")
        return [first, f"It breaks the {limits} {named}, which the curve keeps: leave {them} out to compare."]
    if _is_beyond(own):
        return [
            first,
            "It lies beyond the curve: its tape is denser than the curve's (--tape, --layers), or lies where "
            "that may not.",
        ]
    if own.least_cost is None:
        return [first]
    return [first, f"The same gain can be had for {own.least_cost:+z.3f}."]


def _best_for_that(own: Distance) -> str:
    if own.best_gain is None:
        return "nothing of the curve's tape meets the limits for that cost"
    so = "" if own.share is None else f", so you have {own.share:.0%} of it"
    return f"the best for that cost is {own.best_gain:+z.3f}{so}"


def _is_beyond(own: Distance) -> bool:
    """Whether a set-up that keeps the limits is better than any of the curve's tape."""
    return own.best_gain is None or (own.share is not None and own.share > BEYOND)


def _draw(
    curve: Front,
    own: Distance | None,
    broken: Sequence[str],
    axis: float,
    heads: list[str],
    of_tape: str,
    path: Path,
) -> None:
    import numpy as np

    from model.drawing import Line, line_chart, save_figure

    lines = [Line(f"best there is {of_tape}", curve.cost_change, curve.gain_change)]
    if own is not None:
        point = np.array([own.cost_change]), np.array([own.gain_change])
        of_best = "" if own.share is None else f", {own.share:.0%} of the best"
        if _is_beyond(own):
            of_best = ", of other tape"
        if broken:
            of_best = ", outside the limits"
        lines.append(Line(f"your set-up{of_best}", *point, marked=True))
    title = f"Most {curve.gain} gained for each change in {curve.cost}, swing axis {axis:g} mm"
    save_figure(line_chart(lines, title, heads[0], heads[1]), path)
