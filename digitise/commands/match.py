"""``digitise match``: one racquet to another, or a set to a common target, with the least added mass."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from digitise.commands import PARTIAL, wishes
from digitise.commands.figures import chosen_axis
from digitise.commands.grouped import grouped
from model.cautions import CAUTIONS, doubted

if TYPE_CHECKING:
    from collections.abc import Mapping

    from model.match import Matched, Sureness
    from model.materials import Material


@grouped
def match(
    files: Annotated[
        list[Path], typer.Argument(metavar="FILE...", help="The racquets to bring together; not changed.")
    ],
    to: Annotated[
        Path | None, typer.Option("--to", metavar="FILE", help="Bring them to this one; else to each other.")
    ] = None,
    within: Annotated[
        list[str] | None,
        typer.Option(
            "--within",
            metavar="WORDS",
            help="'twist 0.2': how near is near enough; or 'twist off'.",
        ),
    ] = None,
    use: wishes.TapeUse = wishes.ANYWHERE,
    strips: wishes.Strips = 4,
    swing_axis: wishes.SwingAxis = None,
    materials: wishes.Materials = None,
    as_json: wishes.AsJson = False,
) -> None:
    """Bring racquets to one another's weight, balance, swing and twist weight with the least added."""
    from model.build import body_of, site_in
    from model.errors import SearchError
    from model.figure_rows import figures_before
    from model.fitted import taken_bare
    from model.match import Player, common_target, nearest_target, parse_within, sureness
    from model.match import match as bring
    from model.materials import all_materials
    from model.search_study import tape_and_ground
    from model.storage import read_racquet, read_racquets

    if to is None and len(files) < 2:
        raise SearchError("give two racquets or more, or one and --to another")
    known, close = all_materials(materials), parse_within(within or [])
    wish = wishes.wish_of(use)
    racquets = read_racquets(files)
    axis = chosen_axis(next(iter(racquets.values())), swing_axis)
    sites = {name: site_in(one) for name, one in racquets.items()}
    players = [
        Player(name, body_of(one).values, sites[name], *tape_and_ground(sites[name], wish, known))
        for name, one in racquets.items()
    ]
    apart: str | None = None
    example = {} if to is None else {to.name: read_racquet(to)}
    if to is not None:
        aim = figures_before(body_of(example[to.name]).values, axis)
        target = {figure: aim[figure] for figure in close}
    else:
        try:
            target = common_target(players, close, axis)
        except SearchError as error:
            target, apart = nearest_target(players, close, axis), str(error)
    matched = [bring(player, target, close, axis, strips) for player in players]
    aimed = None if to is None else body_of(example[to.name])
    sure = {m.name: sureness(racquets[m.name], m.found, target, close, axis, aimed) for m in matched}
    all_reached = all(one.reached for one in matched)
    apart = None if all_reached else apart  # tolerances whole may hold what their middle half does not
    if as_json:
        import json

        record: dict[str, Any] = {"target": target, "swing_axis_mm": axis, "no_common_target": apart}
        typer.echo(
            json.dumps(record | {"racquets": [_record(m, sure[m.name], known) for m in matched]}, indent=1)
        )
    else:
        _show(target, close, matched, sure, axis, known, materials)
        if apart is not None:
            typer.echo(f"No common target: {apart}.")
    notes = [*taken_bare(racquets), *taken_bare(example)]
    if swing_axis is None and "swing" in close:
        theirs = [(name, chosen_axis(one, None)) for name, one in (*racquets.items(), *example.items())]
        notes += [
            f"Note: the swing axis of {name} is {own:g} mm; all are told at {axis:g} mm, the first one's."
            for name, own in theirs
            if own != axis
        ]
    notes += [f"Note: {words}." for words in doubted({**racquets, **example})]
    for line in [*notes, *CAUTIONS]:
        typer.echo(line, err=as_json)
    if not all_reached:
        raise typer.Exit(PARTIAL)


def _record(matched: Matched, sure: Sureness, known: Mapping[str, Material]) -> dict[str, Any]:
    from model.spelt import spell_as_cut

    return {
        "name": matched.name,
        "reached": matched.reached,
        "why": list(matched.why),
        "pieces": [spell_as_cut(piece, known) for piece in matched.found.pieces],
        "added_g": float(matched.found.added[0]),
        "before": matched.found.before,
        "after": matched.found.after,
        "after_sd": sure.after_sd,
        "chance": sure.chance,
    }


def _show(
    target: dict[str, float],
    within: dict[str, float],
    matched: list[Matched],
    sure: Mapping[str, Sureness],
    axis: float,
    known: Mapping[str, Material],
    materials: Path | None,
) -> None:
    from rich import box
    from rich.console import Console
    from rich.table import Table

    from model.figure_rows import unit_of
    from model.spelt import spell_as_cut

    console = Console(highlight=False)
    table = Table(box=box.SIMPLE_HEAD, title=f"before -> after; swing axis {axis:g} mm from the butt")
    table.add_column("figure")
    for one in matched:
        table.add_column(one.name, justify="right", overflow="fold")
    table.add_column("target", justify="right")
    table.add_column("unit")
    told = [(m.found.before, m.found.after, sure[m.name].after_sd) for m in matched]
    for figure, value in target.items():
        cells = [
            f"{before[figure]:.2f} -> {after[figure]:.2f}\n± {sd[figure]:.2f}" for before, after, sd in told
        ]
        table.add_row(figure, *cells, f"{value:.2f}, within {within[figure]:g}", unit_of(figure))
    console.print(table)
    for one in matched:
        console.print(_outcome(one, materials), markup=False, soft_wrap=True)
        for piece in one.found.pieces:
            console.print(f'  --strip "{spell_as_cut(piece, known)}"', markup=False, soft_wrap=True)
        console.print(f"  Chance that it is within the target: {sure[one.name].chance:.0%}.", markup=False)
        for why in one.why:
            console.print(f"  Why not: {why}.", markup=False)
    console.print("Chances count placing, the tape's weight and what is not known of the racquets.")


def _outcome(one: Matched, materials: Path | None) -> str:
    grams = float(one.found.added[0])
    if not one.found.pieces:
        there = (
            "is at the target as it is"
            if one.reached
            else "does NOT reach the target; it is nearest as it is"
        )
        return f"{one.name} {there}."
    verb = "reaches the target with" if one.reached else "does NOT reach the target; nearest with"
    return f"{one.name} {verb} {grams:.2f} g{wishes.given_with(materials)}:"
