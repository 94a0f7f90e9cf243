"""``digitise search``: the least tape that gets there, or the most effect within limits."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from digitise.commands import wishes
from digitise.commands.figures import chosen_axis
from digitise.commands.grouped import grouped
from digitise.commands.place import effects_record, figures_table
from digitise.commands.targets import check_targets, keep_inputs
from model.cautions import CAUTIONS, doubted

if TYPE_CHECKING:
    from collections.abc import Mapping

    from model.materials import Material
    from model.search import Found
    from model.search_study import Answer

UNSURE = 0.05  # of a piece's mass
LEAST_GAP = 1e-4  # shown as 0.01%: less is rounding
LEAST_CHANGE = 0.2  # of a figure, in its unit: a step of 0.1


@grouped
def search(
    file: wishes.File,
    limit: wishes.Limits = None,
    target: Annotated[
        list[str] | None,
        typer.Option("--target", metavar="WORDS", help="'swing 115': come as near as can be. Several: all."),
    ] = None,
    most: Annotated[
        str | None, typer.Option("--most", metavar="FIGURE", help="'twist', or 'twist per swing'.")
    ] = None,
    least: Annotated[
        str | None, typer.Option("--least", metavar="FIGURE", help="'added' (the default), 'swing', ...")
    ] = None,
    size: Annotated[
        list[str] | None,
        typer.Option("--size", metavar="MASS:LENGTH", help="Only whole strips of this size. Several: any."),
    ] = None,
    use: wishes.TapeUse = wishes.ON_THE_EDGE,
    strips: wishes.Strips = 4,
    chance: Annotated[
        float | None,
        typer.Option("--chance", metavar="PERCENT", help="Meet the limits with this chance, errors counted."),
    ] = None,
    swing_axis: wishes.SwingAxis = None,
    place_sd: wishes.PlaceSd = 3.0,
    mass_sd: wishes.MassSd = 0.1,
    materials: wishes.Materials = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE", help="Write a racquet file that lists the pieces."),
    ] = None,
    csv: Annotated[
        Path | None, typer.Option("--csv", metavar="FILE", help="Write the pieces as a CSV cut list.")
    ] = None,
    as_json: wishes.AsJson = False,
) -> None:
    """Find the least tape that meets limits, or the most effect within them, and prove how good it is."""
    from model.fitted import taken_bare, with_pieces
    from model.materials import all_materials, own_file
    from model.search_study import answer
    from model.storage import read_racquet, write_racquet
    from model.tolerance import Tolerance

    if chance is not None and not limit:
        raise typer.BadParameter(
            "--chance is the chance that limits are met, and there is none: give --limit with it, as "
            "--limit 'twist at least +8%'."
        )
    check_targets({"--out": out, "--csv": csv}, [materials or own_file()])
    keep_inputs(csv, [file], "--csv")
    racquet = read_racquet(file)
    wish = wishes.wish_of(
        use,
        limits=tuple(limit or ()),
        targets=tuple(target or ()),
        most=most,
        least=least,
        strips=strips,
        sizes=tuple(size or ()),
        chance=chance,
    )
    axis, known = chosen_axis(racquet, swing_axis), all_materials(materials)
    found = answer(racquet, wish, known, axis, Tolerance(place_sd, mass_sd))
    if out is not None:
        write_racquet(out, with_pieces(racquet, found.found.pieces))
    if csv is not None:
        from model.tables import write_csv

        pieces = _record(found, known)["pieces"]
        write_csv(csv, list(pieces[0]), [list(piece.values()) for piece in pieces])
    if as_json:
        import json

        typer.echo(json.dumps(_record(found, known), indent=1))
    else:
        _show(found, known, materials)
    written = [f"Written: {path}." for path in (out, csv) if path is not None]
    bare, notes = taken_bare({file.name: racquet}), [*found.effects.notes, *doubted({file.name: racquet})]
    for line in [*written, *bare, *(f"Note: {note}." for note in notes), *CAUTIONS]:
        typer.echo(line, err=as_json)


def _record(found: Answer, known: Mapping[str, Material]) -> dict[str, Any]:
    from model.spelt import spell_as_cut

    return {
        "pieces": [
            {
                "strip": spell_as_cut(p, known),
                "mass_g": p.mass_g,
                "mass_sd_g": p.mass_sd_g,
                "mirror": p.mirror,
            }
            for p in found.found.pieces
        ],
        "added_g": float(found.found.added[0]),
        "goal": found.found.goal,
        "proven_bound": found.found.bound,
        "gap": found.found.gap,
        "mass_gap": found.found.mass_gap,
        "binding": [
            {"limit": found.limits[b.index].describe(), "price": b.price} for b in found.found.binding
        ],
        "chance": found.chance.all,
        "chance_of_each": {
            limit.describe(): share for limit, share in zip(found.limits, found.chance.each, strict=True)
        },
    } | effects_record(found.effects)


def _show(found: Answer, known: Mapping[str, Material], materials: Path | None) -> None:
    from rich.console import Console

    from model.build import figures_record
    from model.spelt import spell_as_cut

    console = Console(highlight=False)
    console.print(f"Stick on{wishes.given_with(materials)}:", markup=False, soft_wrap=True)
    for piece in found.found.pieces:
        console.print(f'  --strip "{spell_as_cut(piece, known)}"', markup=False, soft_wrap=True)
    study = found.effects.study
    console.print(
        figures_table({name: figures_record(getattr(study, name)) for name in ("before", "after", "change")})
    )
    for line in summary(found):
        console.print(line, markup=False)


def summary(found: Answer) -> list[str]:
    """What to know of an answer, a sentence each: mass, proof, what binds, the chance."""
    from model.figure_rows import ONLY_GROWS, figure_at, unit_of

    result, goal, axis = found.found, found.frame.goal, found.frame.axis_mm
    lines = [f"Added: {result.added[0]:.2f} g in all{_each(result)}."]
    if result.gap is not None and not goal.targets:
        lines.append(f"Proof: {_others(result)} is better by more than {max(result.gap, LEAST_GAP):.2%}.")
    for target in goal.targets:
        wanted, was, comes = target.low or 0.0, result.before[target.figure], result.after[target.figure]
        off = comes - wanted
        grows = target.figure in ONLY_GROWS and wanted < was
        why = f": it was {was:.2f}, and adding can't lower it" if grows else ""
        lines.append(
            f"Target: {figure_at(target.figure, axis)} {wanted:.2f} {unit_of(target.figure)}; "
            f"it comes to {comes:.2f}, {off:+z.2f}{why}."
        )
    if result.mass_gap is not None:
        share = max(result.mass_gap, LEAST_GAP)
        lines.append(
            f"Of all that comes as near this is the lightest: nothing saves more than {share:.2%} of it."
        )
    for b in result.binding:
        limit = found.limits[b.index]
        worth = ""
        if b.price and goal.figure == "added" and not goal.per and not goal.targets:
            step = _step(result.after[limit.figure] - result.before[limit.figure])
            worth = f": each {step:g} {unit_of(limit.figure)} of leeway would save {b.price * step:.2g} g"
        lines.append(f"Binds: {limit.describe()}{worth}.")
    if found.limits:
        lines.append(
            f"Chance that the limits are met, placing and what is not known of the racquet counted: "
            f"{found.chance.all:.0%}."
        )
        if found.chance.all < 0.8:
            lines.append("For more certainty ask for it, as --chance 90, or leave room in the limits.")
    if any(p.mass_sd_g > UNSURE * p.mass_g for p in result.pieces):
        lines.append(
            "This tape's weight per length is not sure: weigh a length of yours, digitise tape --weigh."
        )
    return lines


def _each(found: Found) -> str:
    """What the pieces weigh, largest first; nothing for a single one."""
    pairs = [(2 if piece.mirror else 1, piece.mass_g) for piece in found.pieces]
    if pairs == [(1, pairs[0][1])]:
        return ""
    pairs.sort(key=lambda pair: -pair[1])
    return ": " + " and ".join(f"{n} × {grams:.3f} g" if n > 1 else f"{grams:.3f} g" for n, grams in pairs)


def _others(found: Found) -> str:
    """All that an answer is proven against."""
    if found.grid_mm is not None:
        return f"no other choice of these strips, at places {found.grid_mm:g} mm apart,"
    return "nothing of this tape in the allowed places, in however many strips,"


def _step(change: float) -> float:
    """A power of ten some way below a figure's change: what one might ask less."""
    return float(10.0 ** math.floor(math.log10(max(abs(change), LEAST_CHANGE) / 2)))
