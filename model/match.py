"""Matching: bringing racquets to the same weight, balance, swing and twist weight with the least added."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.sparse import block_diag, csr_array, diags_array, hstack

from model.build import body_of, relative_size_cov, site_in
from model.chance import chance_met
from model.columns import Columns, Ground, Tape, columns_of
from model.errors import SearchError
from model.figure_rows import ONLY_GROWS, figure_at, figures_before, slope, unit_of
from model.figures import Body
from model.limits import Limit, amount
from model.placement import lay_all
from model.program import Frame, Goal
from model.racquet_file import RacquetFile
from model.search import Found, search
from model.site import Site
from model.study import triple
from model.tolerance import Tolerance, placement_cov
from model.why_not import WhyNot

Array = NDArray[np.float64]

WITHIN = {"weight": 1.0, "balance": 1.0, "swing": 0.5, "twist": 0.1}
MISSED_G = 1e4  # what missing the target by one tolerance costs, in grams
INSIDE = 0.5  # the common target is sought in the middle half of each tolerance


@dataclass(frozen=True, eq=False)
class Player:
    """One racquet of a match: its name, figures before (five, for a frame) and what can be stuck on it."""

    name: str
    body: Array
    site: Site
    tape: Tape
    ground: Ground


@dataclass(frozen=True, eq=False)
class Matched:
    """A racquet's way to the target: what to stick on, or the nearest there is and why not there."""

    name: str
    found: Found
    reached: bool
    why: tuple[str, ...]


def match(
    player: Player, target: Mapping[str, float], within: Mapping[str, float], axis_mm: float, strips: int
) -> Matched:
    """Bring one racquet to target figures with the least added mass; else as near as can be."""
    limits = _about(target, within)
    frame = Frame(player.body, axis_mm, limits, Goal())
    found = search(frame, player.site, player.tape, player.ground, strips)
    if isinstance(found, Found):
        return Matched(player.name, found, True, ())
    targets = tuple(Limit(f, value, value) for f, value in target.items())
    nearest = Frame(player.body, axis_mm, (), Goal(targets=targets))
    near = search(nearest, player.site, player.tape, player.ground, strips)
    if isinstance(near, WhyNot):
        raise SearchError(near.sentence)
    return Matched(player.name, near, False, why_unreached(frame, found))


@dataclass(frozen=True)
class Sureness:
    """How sure a racquet's figures are once it is matched, one sd of each, and the chance that all are within
    the target."""

    after_sd: Mapping[str, float]
    chance: float


def sureness(
    racquet: RacquetFile,
    found: Found,
    target: Mapping[str, float],
    within: Mapping[str, float],
    axis_mm: float,
    aim: Body | None = None,
) -> Sureness:
    """How sure it is that a racquet with these pieces is within the target.

    Counted is what is not known of it and of cutting and placing, and of ``aim`` if the target is that
    racquet's figures; a target that was worked out for a set is one of exact numbers.
    """
    body, size_cov, site = body_of(racquet), relative_size_cov(racquet), site_in(racquet)
    placed = placement_cov(site, lay_all(site, found.pieces)[0], Tolerance())

    def figures(values: Array, _: float) -> Array:
        named = figures_before(values, axis_mm)
        return np.array([named[figure] for figure in target])

    sds = triple(figures, body, found.added, size_cov, placed).after_sd
    met = chance_met(_about(target, within), body, found.added, placed, size_cov, axis_mm, aim)
    return Sureness(dict(zip(target, (float(sd) for sd in sds), strict=True)), met.all)


def _about(target: Mapping[str, float], within: Mapping[str, float]) -> tuple[Limit, ...]:
    """The limits of being within the target."""
    return tuple(Limit(f, value - within[f], value + within[f]) for f, value in target.items())


def why_unreached(frame: Frame, why: WhyNot) -> tuple[str, ...]:
    """Which figures are too high already, else what the search says."""
    before = frame.before()
    over = []
    for limit in frame.limits:
        now, low, high = before[limit.figure], limit.low, limit.high
        if limit.figure in ONLY_GROWS and low is not None and high is not None and now > high:
            far, allowed = now - (low + high) / 2, (high - low) / 2
            name, unit = figure_at(limit.figure, frame.axis_mm), unit_of(limit.figure)
            over.append(
                f"{name} is {far:.3g} {unit} over the target already, more than the {allowed:.3g} "
                "allowed, and adding can't lower it"
            )
    return tuple(over) if over else (why.sentence,)


def common_target(players: Sequence[Player], within: Mapping[str, float], axis_mm: float) -> dict[str, float]:
    """Figures that all racquets can reach with the least added in all: one linear program for the set.

    Unknown are the grams in every racquet's cells and the target's weight, swing and twist weight, and
    its first moment about the racquets' mean balance. Raises SearchError when there is none.
    """
    target = _solve_target(players, within, axis_mm)
    if target is None:
        raise SearchError(_apart(players, within, axis_mm))
    return target


def nearest_target(
    players: Sequence[Player], within: Mapping[str, float], axis_mm: float
) -> dict[str, float]:
    """Where there is no common target: one that racquets miss by the least in all, counted in tolerances.

    A sum of distances is least where few racquets miss few figures, so that it shows which stand in the way.
    """
    target = _solve_target(players, within, axis_mm, miss=True)
    if target is None:
        raise SearchError("no target can be worked out for these racquets: bring them to one with --to")
    return target


def _solve_target(
    players: Sequence[Player], within: Mapping[str, float], axis_mm: float, miss: bool = False
) -> dict[str, float] | None:
    """With ``miss`` each bound may be passed, at a price far over that of any tape."""
    pivot = float(np.mean([p.body[1] for p in players]))
    figures = [f for f in WITHIN if f in within]
    frames = [Frame(p.body, axis_mm, (), Goal()) for p in players]
    columns = [columns_of(p.site, p.tape, p.ground) for p in players]
    rows, sides = [], []
    for frame, cells in zip(frames, columns, strict=True):
        a, start = _linear_rows(frame, cells, figures, pivot)
        rows.append(csr_array(np.vstack([a, -a])))
        room = INSIDE * np.array([_tolerance(f, within, players) for f in figures])
        sides.append(np.concatenate([room - start, room + start]))
    sign = np.vstack([-np.eye(len(figures)), np.eye(len(figures))])
    a_ub = hstack([block_diag(rows), csr_array(np.tile(sign, (len(players), 1)))]).tocsr()
    count = sum(len(c.room_g) for c in columns)
    cost = np.concatenate([np.ones(count), np.zeros(len(figures))])
    bounds = [(0.0, float(r)) for c in columns for r in c.room_g] + [(None, None)] * len(figures)
    if miss:
        tolerances = np.tile([_tolerance(f, within, players) for f in figures], 2 * len(players))
        a_ub = hstack([a_ub, -diags_array(tolerances)]).tocsr()
        cost = np.concatenate([cost, np.full(len(tolerances), MISSED_G)])
        bounds += [(0.0, np.inf)] * len(tolerances)
    result = linprog(cost, a_ub, np.concatenate(sides), bounds=bounds)
    if result.status != 0:
        return None
    target = dict(zip(figures, (float(v) for v in result.x[count : count + len(figures)]), strict=True))
    if "balance" in target:
        weight = target.get("weight", float(np.mean([p.body[0] for p in players])))
        target["balance"] = pivot + target["balance"] / weight
    return target


def _apart(players: Sequence[Player], within: Mapping[str, float], axis_mm: float) -> str:
    """Why a set has no common target, and which figure it would have one without."""
    helps = []
    for left_out in within if len(within) > 1 else ():
        rest = {figure: size for figure, size in within.items() if figure != left_out}
        if _solve_target(players, rest, axis_mm) is not None:
            helps.append(f"--within '{left_out} off'")
    frames = [Frame(p.body, axis_mm, (), Goal()) for p in players]
    spans = []
    for figure in within:
        values = [frame.before()[figure] for frame in frames]
        spans.append(f"{figure_at(figure, axis_mm)} {min(values):.4g} to {max(values):.4g} {unit_of(figure)}")
    hint = f"it can be done with {' or '.join(helps)}" if helps else "leave out the one that differs most"
    return (
        f"these racquets ({', '.join(spans)}) can't all be brought to one target by adding: {hint}, "
        "or allow more layers or wider tolerances"
    )


def _linear_rows(frame: Frame, cells: Columns, figures: Sequence[str], pivot: float) -> tuple[Array, Array]:
    """Slopes (k, n) of the figures by cell grams and their values before (k,).

    The balance stands as the first moment about ``pivot``.
    """
    before, a, start = frame.before(), [], []
    for figure in figures:
        if figure == "balance":
            a.append(cells.per_gram[:, 2] - pivot * cells.per_gram[:, 0])
            start.append(float(frame.body[0] * (frame.body[1] - pivot)))
        else:
            a.append(cells.per_gram @ slope(figure, frame.body, np.zeros(6), frame.axis_mm))
            start.append(before[figure])
    return np.array(a), np.array(start)


def _tolerance(figure: str, within: Mapping[str, float], players: Sequence[Player]) -> float:
    """In the row's own unit: g mm for the balance."""
    return within[figure] * (min(float(p.body[0]) for p in players) if figure == "balance" else 1.0)


def parse_within(texts: Sequence[str]) -> dict[str, float]:
    """How near is near enough, from ``twist 0.2`` or ``twist off`` over the defaults. Raises SearchError.

    >>> parse_within(["twist 0.2", "swing off"])
    {'weight': 1.0, 'balance': 1.0, 'twist': 0.2}
    """
    found = dict(WITHIN)
    for text in texts:
        figure, _, size = text.strip().lower().partition(" ")
        if figure not in WITHIN:
            raise SearchError(f"{text!r} names no figure to match: use {', '.join(WITHIN)}")
        if size.strip() == "off":
            found.pop(figure, None)
            continue
        value = amount(size, figure, text) if re.match(r"\s*[+-]?[\d.]", size) else 0.0
        if not value > 0:
            raise SearchError(f"{text!r} must give a size more than zero, as 'twist 0.2', or 'twist off'")
        found[figure] = value
    if not found:
        raise SearchError("nothing is left to match: leave at least one figure on")
    return found
