"""How fast the search is, beside scipy's differential evolution doing the same study.

usage: python -m tests.benchmarks.search_speed FILE...

Each FILE is a racquet file. On each, usual studies are searched (the median of RUNS times, half of
them before and half after what follows, as the machine may be busier at one time than another) and given
to differential evolution with the same exact integrals, two mirrored pairs of strips by their ends, a
penalty for what is missed, and scipy's own settings. Where it stops with a goal more than AS_GOOD worse, it
is run once more without its rule for stopping, until it comes that near or has used up its generations: only
equal answers are compared in time. Printed: processor milliseconds and the goal of both, the proven gap, the
largest limit missed by either in per cent of the figure, milliseconds until as good (- where it never is),
and how many times faster the search is to that answer.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import differential_evolution

from model.build import body_of, site_in
from model.columns import Ground, Tape, run_integrals, table_for, tape_of
from model.figure_rows import figures_before
from model.layout import Bench
from model.limits import parse_limit
from model.materials import all_materials
from model.program import Frame, Goal
from model.search import Found, search
from model.site import Site
from model.storage import read_racquet
from model.why_not import WhyNot
from model.zones import zone_stretches

Array = NDArray[np.float64]

AXIS_MM = 50.0
STUDIES = (
    (("twist at least +5%",), Goal()),
    (("twist at least +8%", "swing at most +3%"), Goal()),
    (("twist at least +6%", "balance at most +1"), Goal()),
    (("recoil at least +3%", "twist at least +4%"), Goal()),
    (("swing at most +3%",), Goal("twist", -1.0)),
    (("twist at least +6%",), Goal("twist", -1.0, "swing")),
)
RUNS = 20
PENALTY = 1e4  # of the share by which a limit is missed; 1e3 made missing one by 0.2 % worth while
AS_GOOD = 1e-3  # of the goal
MET = 1e-5  # of a limit


@dataclass(frozen=True, eq=False)
class Evolved:
    """Seconds and sums (6,) by scipy's own settings; seconds until as good as the search, None if never."""

    seconds: float
    added: Array
    as_good: float | None


def added_each(bench: Bench, edges: Array) -> Array:
    """Sums (m, 6) of many lots of strips (m, r, 2) on the edge."""
    runs = run_integrals(bench.table, bench.ground.mirror, edges[..., 0], edges[..., 1])
    return np.asarray(bench.tape.grams_per_mm * runs.sum(axis=1))


def by_evolution(frame: Frame, bench: Bench, goal: float) -> Evolved:
    """What differential evolution finds, and when it is as good as ``goal``."""
    ((low, high),) = bench.ground.stretches

    def as_good(ends: Array) -> bool:
        added = added_each(bench, np.sort(ends).reshape(1, 2, 2))[0]
        return frame.missed(added) <= MET and frame.cost(added) <= goal + AS_GOOD * abs(goal)

    def cost(ends: Array) -> float:
        pairs = np.sort(ends).reshape(1, 2, 2)
        added = added_each(bench, pairs)
        return float(frame.cost_each(added)[0] + PENALTY * frame.missed_each(added)[0])

    start = time.process_time()
    result = differential_evolution(cost, [(low, high)] * 4, seed=1)
    seconds = time.process_time() - start
    added = added_each(bench, np.sort(result.x).reshape(1, 2, 2))[0]
    if as_good(result.x):
        return Evolved(seconds, added, seconds)

    def near(x: Array, convergence: float) -> bool:
        return as_good(x)

    start = time.process_time()
    again = differential_evolution(cost, [(low, high)] * 4, seed=1, tol=0.0, callback=near, polish=False)
    longer = time.process_time() - start
    return Evolved(seconds, added, longer if as_good(again.x) else None)


def timed_search(frame: Frame, site: Site, tape: Tape, ground: Ground) -> tuple[Found | WhyNot, list[float]]:
    """The answer, and the processor seconds of half the RUNS, each with nothing remembered."""
    times = []
    for _ in range(RUNS // 2):
        table_for.cache_clear()
        start = time.process_time()
        found = search(frame, site, tape, ground)
        times.append(time.process_time() - start)
    return found, times


def main(paths: list[Path]) -> None:
    print(
        f"{'study':<58}{'search ms':>10}{'goal':>9}{'gap %':>7}{'missed %':>9}"
        f"{'evolution ms':>14}{'goal':>9}{'missed %':>9}{'as good ms':>12}{'times':>7}"
    )
    factors = []
    for path in paths:
        racquet = read_racquet(path)
        site, body = site_in(racquet), body_of(racquet).values
        tape = tape_of(all_materials()["lead"], 1)
        ground = Ground(tuple(zone_stretches(site, [], True)))
        bench, before = Bench(site, tape, ground), figures_before(body, AXIS_MM)
        print(path.name)
        for texts, goal in STUDIES:
            limits = (parse_limit(text, before) for text in texts)
            frame = Frame(body, AXIS_MM, tuple(one.absolute(before[one.figure]) for one in limits), goal)
            found, times = timed_search(frame, site, tape, ground)
            label = "; ".join(texts) + (f"; most {goal.figure}" if goal.figure != "added" else "")
            label += f" per {goal.per}" if goal.per else ""
            if not isinstance(found, Found):
                print(f"  {label:<56}{1000 * np.median(times):>10.0f}  {found.sentence}")
                continue
            evolved = by_evolution(frame, bench, found.goal)
            times += timed_search(frame, site, tape, ground)[1]
            added, taken = evolved.added, evolved.as_good
            if taken is not None:
                factors.append(taken / np.median(times))
            last = f"{'-':>12}{'-':>7}" if taken is None else f"{1000 * taken:>12.0f}{factors[-1]:>7.0f}"
            gap = "" if found.gap is None else f"{100 * found.gap:.2f}"
            print(
                f"  {label:<56}{1000 * np.median(times):>10.0f}{found.goal:>9.4f}{gap:>7}"
                f"{100 * frame.missed(found.added):>9.4f}{1000 * evolved.seconds:>14.0f}"
                f"{frame.cost(added):>9.4f}{100 * frame.missed(added):>9.4f}{last}"
            )
    print(f"median {np.median(factors):.0f} times faster, least {min(factors):.0f}")


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    main([Path(name) for name in sys.argv[1:]])
