"""The chance that limits are met, with how exactly pieces are placed and the racquet is known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from model.figure_rows import figures_before, figures_each
from model.figures import Body
from model.limits import Limit
from model.program import Frame
from model.search import Found, with_margin
from model.study import stretched
from model.why_not import WhyNot

Array = NDArray[np.float64]

DRAWS = 4000
SEED = 20  # the same answer each time
ROUNDS = 5


@dataclass(frozen=True)
class Chance:
    """The chance that all limits are met, and that each is."""

    all: float
    each: tuple[float, ...]


def chance_met(
    limits: tuple[Limit, ...],
    body: Body,
    added: Array,
    placement_cov: Array,
    size_cov: Array,
    axis_mm: float,
    aim: Body | None = None,
) -> Chance:
    """Share of draws of racquet, size and placing that meet the limits, as the person wrote them.

    ``size_cov`` as in :func:`model.study.study`. A limit on a change is judged on the draw's own change, so
    not knowing the racquet hardly matters to it. Draws are Gaussian, DRAWS of them, always the same.
    ``aim`` is the racquet whose figures the limits lie about, if it is one: it is then drawn, too, as one
    that was measured apart from this.
    """
    off = {} if aim is None else _off(aim, axis_mm)
    drawn = _drawn(limits, body, added, placement_cov, size_cov, axis_mm)
    met = np.array(
        [_met(limit, before, after - off.get(limit.figure, 0.0)) for limit, (before, after) in drawn]
    )
    if not len(met):
        return Chance(1.0, ())
    return Chance(float(met.all(axis=0).mean()), tuple(float(row.mean()) for row in met))


def surely(
    frame: Frame,
    limits: tuple[Limit, ...],
    wanted: float,
    search: Callable[[Frame], Found | WhyNot],
    chance: Callable[[Found], Chance],
    sds: Callable[[Found], Array],
) -> tuple[Found | WhyNot, Chance | None]:
    """Search with limits drawn in until they are met with the wanted chance.

    ``sds(found)`` gives the sd of each limit's figure (of its change, for a limit on a change).
    The first margins are that many sds; they grow until the drawn chance is reached.
    """
    found = search(frame)
    if isinstance(found, WhyNot):
        return found, None
    reached = chance(found)
    quantile = NormalDist().inv_cdf(wanted)
    for _ in range(ROUNDS):
        if reached.all >= wanted:
            break
        spread = sds(found)
        trial = search(with_margin(frame, {i: quantile * float(spread[i]) for i in range(len(limits))}))
        if isinstance(trial, WhyNot):
            words = f"a chance of {100 * wanted:.0f} % is out of reach: {trial.sentence}"
            return replace(trial, sentence=words), reached
        found, reached = trial, chance(trial)
        quantile *= 1.15
    return found, reached


def _draws(rng: np.random.Generator, mean: Array, cov: Array) -> Array:
    """Gaussian draws (DRAWS, n); numbers of very different size are scaled to like size first."""
    sd = np.sqrt(np.diag(cov))
    unit = np.where(sd > 0, sd, 1.0)
    values, vectors = np.linalg.eigh(cov / np.outer(unit, unit))
    spread = vectors * np.sqrt(np.clip(values, 0, None))
    return np.asarray(mean + (rng.normal(size=(DRAWS, len(mean))) @ spread.T) * unit)


def _off(aim: Body, axis_mm: float) -> dict[str, Array]:
    """Draws of how far a racquet's figures are from what they are told to be."""
    drawn = _draws(np.random.default_rng(SEED + 1), aim.values, aim.cov)
    values = figures_each(drawn, np.zeros((DRAWS, 6)), axis_mm)
    told = figures_before(aim.values, axis_mm)
    return {figure: values[figure] - told[figure] for figure in told}


def _met(limit: Limit, before: Array, after: Array) -> NDArray[np.bool_]:
    value = after - before if limit.change else after
    good = np.full(len(value), True)
    if limit.low is not None:
        good &= value >= limit.low
    if limit.high is not None:
        good &= value <= limit.high
    return good


def _drawn(
    limits: tuple[Limit, ...], body: Body, added: Array, placement_cov: Array, size_cov: Array, axis_mm: float
) -> list[tuple[Limit, tuple[Array, Array]]]:
    rng = np.random.default_rng(SEED)
    bodies = _draws(rng, body.values, body.cov)
    sums = _draws(rng, added, placement_cov)
    sums = stretched(sums, _draws(rng, np.zeros(2), size_cov))
    before = figures_each(bodies, np.zeros((DRAWS, 6)), axis_mm)
    after = figures_each(bodies, sums, axis_mm)
    return [(limit, (before[limit.figure], after[limit.figure])) for limit in limits]
