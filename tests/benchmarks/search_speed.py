"""How fast the search is, beside scipy's differential evolution doing the same study.

usage: python -m tests.benchmarks.search_speed FILE...

Each FILE is a racquet file. On each, usual studies are searched (median of five) and given to
differential evolution with the same exact integrals, two mirrored pairs of strips by their ends, a
penalty for what is missed, and scipy's own settings. Printed: processor milliseconds and the goal of both,
how many times faster, the proven gap, and the largest limit missed by either, in per cent of the figure.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import differential_evolution

from model.build import body_of, site_in
from model.columns import Ground, tape_of
from model.figure_rows import figures_before
from model.layout import Bench
from model.limits import parse_limit
from model.materials import all_materials
from model.program import Frame, Goal
from model.search import Found, search
from model.storage import read_racquet
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
PENALTY = 1e3


def by_evolution(frame: Frame, bench: Bench) -> tuple[float, Array]:
    """Seconds and the sums (6,) that differential evolution finds."""
    ((low, high),) = bench.ground.stretches

    def cost(ends: Array) -> float:
        pairs = np.sort(ends).reshape(1, 2, 2)
        added = bench.added_each(pairs)
        return float(frame.cost_each(added)[0] + PENALTY * frame.missed_each(added)[0])

    start = time.process_time()
    result = differential_evolution(cost, [(low, high)] * 4, seed=1)
    seconds = time.process_time() - start
    return seconds, bench.added_each(np.sort(result.x).reshape(1, 2, 2))[0]


def main(paths: list[Path]) -> None:
    print(
        f"{'study':<58}{'search ms':>10}{'goal':>9}{'gap %':>7}{'missed %':>9}"
        f"{'evolution ms':>14}{'goal':>9}{'missed %':>9}{'times':>7}"
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
            times = []
            for _ in range(5):
                start = time.process_time()
                found = search(frame, site, tape, ground)
                times.append(time.process_time() - start)
            label = "; ".join(texts) + (f"; most {goal.figure}" if goal.figure != "added" else "")
            label += f" per {goal.per}" if goal.per else ""
            if not isinstance(found, Found):
                print(f"  {label:<56}{1000 * np.median(times):>10.0f}  {found.sentence}")
                continue
            seconds, added = by_evolution(frame, bench)
            factors.append(seconds / np.median(times))
            gap = "" if found.gap is None else f"{100 * found.gap:.2f}"
            print(
                f"  {label:<56}{1000 * np.median(times):>10.0f}{found.goal:>9.4f}{gap:>7}"
                f"{100 * frame.missed(found.added):>9.4f}{1000 * seconds:>14.0f}{frame.cost(added):>9.4f}"
                f"{100 * frame.missed(added):>9.4f}{factors[-1]:>7.0f}"
            )
    print(f"median {np.median(factors):.0f} times faster, least {min(factors):.0f}")


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    main([Path(name) for name in sys.argv[1:]])
