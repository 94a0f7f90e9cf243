"""Error and honesty of the figures on invented racquets with insides the model does not know.

usage: python -m tests.benchmarks.population [COUNT] [SEED]

COUNT racquets (2,000 by default) over three constructions, see ``invented``. The outline is exact;
weight is read with an sd of 0.5 g, balance of 1 mm, thicknesses of 0.3 mm. For each construction
and figure: median and 90th percentile of the relative error, the share of truths inside the 90 %
interval, and the 90th percentile for a uniform sheet cut to the outline with the right weight.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from model.build import Known, build_racquet
from model.figures import FIGURE_NAMES, Array, body_values, six
from model.moments import geometry_moments
from model.priors import Construction
from model.readings import BalanceReading, WeightReading
from tests.benchmarks.invented import Invented, invent

WITHIN_90 = 1.6449  # sds on either side that hold 90 % of a normal distribution


def estimate(racquet: Invented, rng: np.random.Generator) -> tuple[Array, Array]:
    """The model's six figures and their sds from one noisy weight and balance."""
    weight, balance = racquet.figures[:2] + rng.normal(0, [0.5, 1.0])
    readings = (
        WeightReading(value=weight, sd=0.5),
        BalanceReading(value=balance, sd=1.0),
    )
    face, handle = np.array([racquet.face_mm, racquet.handle_mm]) + rng.normal(0, 0.3, 2)
    known = Known(racquet.construction, float(face), float(handle), readings, racquet.axis_mm)
    figures = build_racquet(racquet.outline, racquet.landmarks, known).figures
    pairs = [getattr(figures, name) for name in FIGURE_NAMES]
    return np.array([p.value for p in pairs]), np.array([p.sd for p in pairs])


def cut_out(racquet: Invented) -> Array:
    """A uniform sheet of the outline's shape and the racquet's weight and face thickness."""
    m = geometry_moments(racquet.outline.polygon)
    sheet = np.array([m.size, m.x, m.y, m.xx, m.yy, m.size * racquet.face_mm**2 / 12])
    return six(body_values(sheet * racquet.figures[0] / m.size), racquet.axis_mm)


def report(name: str, truth: Array, got: Array, sd: Array, plain: Array) -> None:
    print(f"\n{name}: {len(truth)} racquets, weight {truth[:, 0].min():.0f} to {truth[:, 0].max():.0f} g")
    print(
        f"{'figure':<22}{'bias %':>8}{'median %':>10}{'p90 %':>8}{'in 90 %':>9}{'sd %':>7}{'sheet p90 %':>13}"
    )
    for i, figure in enumerate(FIGURE_NAMES):
        error = 100 * (got[:, i] / truth[:, i] - 1)
        sheet = 100 * np.abs(plain[:, i] / truth[:, i] - 1)
        inside = np.abs(got[:, i] - truth[:, i]) <= WITHIN_90 * sd[:, i]
        cells = (np.median(error), np.median(np.abs(error)), np.quantile(np.abs(error), 0.9))
        rest = (100 * inside.mean(), np.median(100 * sd[:, i] / truth[:, i]), np.quantile(sheet, 0.9))
        print("{:<22}{:>8.2f}{:>10.2f}{:>8.2f}{:>9.1f}{:>7.2f}{:>13.1f}".format(figure, *cells, *rest))


def main(count: int, seed: int) -> None:
    each = -(-count // len(Construction))
    for k, construction in enumerate(Construction):
        rng = np.random.default_rng([seed, k])
        racquets = [invent(construction, rng) for _ in range(each)]
        started = time.perf_counter()
        estimates = [estimate(racquet, rng) for racquet in racquets]
        spent = 1e3 * (time.perf_counter() - started) / each
        truth = np.array([r.figures for r in racquets])
        got, sd = (np.array(part) for part in zip(*estimates, strict=True))
        report(construction, truth, got, sd, np.array([cut_out(r) for r in racquets]))
        print(f"{spent:.1f} ms a racquet from outline to figures")


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:3]]
    main(*(numbers + [2000, 1][len(numbers) :]))
