"""A search as a person asks for it, on a racquet's file: words in, pieces with effects and proof out."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.build import body_of, relative_size_cov, site_in
from model.chance import Chance, chance_met, surely
from model.columns import Ground, Tape, tape_of
from model.effects import Effects, effects_of
from model.errors import SearchError
from model.figure_rows import NAMES, ONLY_GROWS, figure_at, figure_values, unit_of
from model.limits import Limit, parse_limit, parse_target
from model.materials import Material, material_named
from model.pieces import Fold, Side, check_mass, check_stand_off
from model.placement import lay_all
from model.program import Frame, Goal
from model.racquet_file import RacquetFile
from model.search import Found, search
from model.shelf import Shelf, Size
from model.site import Site
from model.study import triple
from model.tolerance import Tolerance, placement_cov
from model.units import parse_length, parse_mass
from model.whole_strips import search_whole
from model.why_not import WhyNot
from model.zones import zone_stretches

Array = NDArray[np.float64]

MOST_CHANCE = 0.999


@dataclass(frozen=True)
class Wish:
    """What a person asks for, in their own words; see ``digitise search --help``."""

    limits: tuple[str, ...] = ()
    targets: tuple[str, ...] = ()
    most: str | None = None
    least: str | None = None
    tape: str = "lead"
    layers: int = 1
    fold: Fold = Fold.OVER_EDGE
    side: Side = Side.FRONT
    stand_off_mm: float = 0.0
    zones: tuple[str, ...] = ()
    mirror: bool = True
    handle: bool = False
    butt_g: float = 0.0
    strips: int | None = 4
    sizes: tuple[str, ...] = ()
    chance: float | None = None


@dataclass(frozen=True, eq=False)
class Answer:
    """What was found, its limits, the chance that they are met, and what the pieces do."""

    frame: Frame
    limits: tuple[Limit, ...]
    found: Found
    chance: Chance
    effects: Effects


def answer(
    racquet: RacquetFile,
    wish: Wish,
    materials: dict[str, Material],
    axis_mm: float,
    tolerance: Tolerance | None = None,
) -> Answer:
    """Search on a racquet's file. Raises SearchError, saying what stands in the way."""
    tolerance = tolerance or Tolerance()
    site, body, size_cov = site_in(racquet), body_of(racquet), relative_size_cov(racquet)
    before = figure_values(body.values, np.zeros(6), axis_mm)
    limits = tuple(parse_limit(text, before) for text in wish.limits)
    frame = frame_of(wish, limits, body.values, before, axis_mm)
    for text in wish.sizes:
        check_mass(f"the size {text!r}", parse_size(text).mass_g, float(body.values[0]))
    run = runner(site, wish, materials)

    def laid_cov(found: Found) -> Array:
        return placement_cov(site, lay_all(site, found.pieces)[0], tolerance)

    def chance(found: Found) -> Chance:
        return chance_met(limits, body, found.added, laid_cov(found), size_cov, axis_mm)

    def sds(found: Found) -> Array:
        names = [NAMES.index(limit.figure) for limit in limits]
        t = triple(
            lambda values, _: np.array([*figure_values(values, np.zeros(6), axis_mm).values()]),
            body,
            found.added,
            size_cov,
            laid_cov(found),
        )
        return np.array(
            [(t.change_sd if limit.change else t.after_sd)[k] for limit, k in zip(limits, names, strict=True)]
        )

    if wish.chance is None:
        found, reached = run(frame), None
    else:
        found, reached = surely(frame, limits, _share(wish.chance), run, chance, sds)
    if isinstance(found, WhyNot):
        raise SearchError(found.sentence)
    if not found.pieces:
        raise SearchError(_nothing_helps(frame))
    effects = effects_of(racquet, found.pieces, axis_mm=axis_mm, tolerance=tolerance)
    return Answer(frame, limits, found, reached or chance(found), effects)


def frame_of(
    wish: Wish, limits: tuple[Limit, ...], body: Array, before: dict[str, float], axis_mm: float
) -> Frame:
    """The search's frame from words. Raises SearchError."""
    absolute = tuple(limit.absolute(before[limit.figure]) for limit in limits)
    goals = [wish.most is not None, wish.least is not None, bool(wish.targets)]
    if sum(goals) > 1:
        raise SearchError("give only one of --most, --least and --target: they can't all be best")
    if wish.targets:
        goal = Goal(targets=tuple(parse_target(text, before) for text in wish.targets))
    elif wish.most is not None:
        figure, _, per = wish.most.lower().partition(" per ")
        goal = Goal(figure_named(figure), -1.0, figure_named(per) if per else None)
    else:
        goal = Goal(figure_named(wish.least or "added"))
    if goal.per and goal.per not in ONLY_GROWS:
        raise SearchError(
            f"most {goal.figure} per {goal.per} has no meaning, for {goal.per} can fall as well as rise: use "
            f"one of {', '.join(ONLY_GROWS)}"
        )
    if goal.per and all(limit.low is None for limit in absolute):
        raise SearchError("most per unit needs a limit that asks for something, as 'twist at least +5%'")
    if not absolute and not wish.targets:
        raise SearchError("give at least one --limit, for example --limit 'twist at least +5%'")
    return Frame(body, axis_mm, absolute, goal)


def runner(site: Site, wish: Wish, materials: dict[str, Material]) -> Callable[[Frame], Found | WhyNot]:
    """The search of this wish's kind: cut to length, or whole strips of sizes."""
    tape, ground = tape_and_ground(site, wish, materials)
    if not wish.sizes:
        return lambda frame: search(frame, site, tape, ground, wish.strips)
    shelf = Shelf(site, tape, ground, tuple(parse_size(text) for text in wish.sizes))
    strips = 4 if wish.strips is None else wish.strips
    return lambda frame: search_whole(frame, shelf, strips)


def tape_and_ground(site: Site, wish: Wish, materials: dict[str, Material]) -> tuple[Tape, Ground]:
    """The tape and the places of a wish. Raises UnitError for a stand-off out of all proportion."""
    check_stand_off(wish.stand_off_mm)
    material = material_named(wish.tape, materials)
    tape = tape_of(material, wish.layers, wish.fold, wish.side, wish.stand_off_mm)
    stretches = tuple(zone_stretches(site, list(wish.zones), wish.mirror))
    return tape, Ground(stretches, wish.mirror, wish.handle, wish.butt_g)


def parse_size(text: str) -> Size:
    """``3g:76mm``: a strip's mass and length. Raises SearchError or UnitError."""
    mass, colon, length = text.partition(":")
    if not colon:
        raise SearchError(f"the size {text!r} must be MASS:LENGTH, for example 3g:76mm")
    size = Size(parse_mass(mass, "size's mass").value, parse_length(length, "size's length").value)
    if not (size.mass_g > 0 and size.length_mm > 0):
        raise SearchError(f"the size {text!r} must have more than zero mass and length")
    return size


def figure_named(text: str) -> str:
    """A figure's short name from words, as ``twist weight``. Raises SearchError."""
    name = re.sub(r"\s*weight$", "", text.strip().lower()) or "weight"
    if name not in NAMES:
        raise SearchError(f"{text!r} is no figure: use one of {', '.join(NAMES)}")
    return name


def _nothing_helps(frame: Frame) -> str:
    """Why an answer has no pieces."""
    now, targets = frame.before(), frame.goal.targets
    if not targets:
        return "the limits are met with nothing stuck on: ask for more, as 'twist at least +5%'"
    off = ", ".join(
        f"{figure_at(t.figure, frame.axis_mm)} {now[t.figure]:.2f} {unit_of(t.figure)} is "
        f"{now[t.figure] - (t.low or 0.0):+z.2f} off"
        for t in targets
    )
    return f"nothing stuck on brings the racquet nearer to its targets than it is ({off}): ask for others"


def _share(percent: float) -> float:
    if not 0 < percent < 100:
        raise SearchError(f"the chance must lie between 0 and 100 %, not {percent:g} %")
    return min(percent / 100, MOST_CHANCE)
