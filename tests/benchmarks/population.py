"""Error and honesty of the figures on invented racquets with insides the model does not know.

usage: python -m tests.benchmarks.population [COUNT] [SEED] [limits|sd]

COUNT racquets (2,100 by default) over three constructions, see ``invented``. The outline is exact;
thicknesses are read with an sd of 0.3 mm, weight within ± 0.5 g, balance within ± 1 mm. Beside these a
pendulum on a sharp edge, 30 mm from the butt or at the swing axis, whose time gives the inertia about
it within ± 0.5 %, and a twist reading on two threads within ± 0.5 %. "limits" (the default) takes ± as
what a reading is rounded to or read within, any error in it as likely as another; "sd" as one standard
deviation of a normal error, which is 1.7 times as much. The model is told which, and the sd of what is drawn.

For each construction and set of readings: 90th percentile of the relative error of each figure, and the
share of truths inside the 90 % interval. Beside them two plain ways: a uniform sheet cut to the outline
with the right weight; the textbook formula for the swing weight from a pendulum, weight and balance, as read
and with weight and balance exact, which is the least that so timed a pendulum leaves open; and, for strung
racquets, products of powers of the dimensions, weight and balance,
in the manner of Taraborrelli et al. (2019, Sports Engineering 22:1), whose powers are fitted to one half
of these very racquets and tried on the other.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass

import numpy as np
from rich.progress import track

from model.calibrate import calibrate
from model.figures import FIGURE_NAMES, Array, body_values, six
from model.interval import half_widths
from model.measured import Measured
from model.moments import geometry_moments
from model.parts import Size, parts_of
from model.priors import Construction, prior_for
from model.readings import BalanceReading, BifilarReading, PendulumReading, Reading, WeightReading
from model.swinging import bifilar_lever_mm, bifilar_period_s, pendulum_inertia_kgcm2, pendulum_period_s
from tests.benchmarks.invented import Invented, invent

PIVOT_MM, THREAD_MM, SPACING_MM, SWINGS = 30.0, 900.0, 150.0, 20
HALF = 0.0025  # of a time: half a percent of the inertia
SHOWN = ("swing", "twist", "recoil", "spin", "balance", "weight")
PENDULUMS = ("pendulum at 30 mm", "pendulum at the axis")
SETS = {
    "weight and balance": (),
    "and pendulum at 30 mm": ("pendulum at 30 mm",),
    "and pendulum at the axis": ("pendulum at the axis",),
    "and twist on threads": ("threads",),
    "and axis and threads": ("pendulum at the axis", "threads"),
}


@dataclass(frozen=True)
class Noise:
    """How reading errors are drawn: within limits, or normal with that sd."""

    limits: bool

    def draw(self, rng: np.random.Generator, size: float) -> float:
        return float(rng.uniform(-size, size) if self.limits else rng.normal(0, size))

    def sd(self, size: float) -> float:
        return size / 3**0.5 if self.limits else size


def swung(racquet: Invented, pivot_mm: float, noise: Noise, rng: np.random.Generator) -> PendulumReading:
    """The timed swings of a racquet on a sharp edge."""
    weight, balance, _, _, recoil, _ = racquet.figures
    arm = balance - pivot_mm
    time_s = SWINGS * pendulum_period_s(recoil + weight * arm**2 / 1e5, weight, arm)
    return PendulumReading(
        pivot_mm=pivot_mm,
        swings=SWINGS,
        times_s=[time_s * (1 + noise.draw(rng, HALF))],
        time_sd_s=time_s * noise.sd(HALF),
        even=noise.limits,
        amplitude_deg=0.0,
        amplitude_sd_deg=0.0,
        pivot_sd_mm=0.0,
    )


def read(racquet: Invented, noise: Noise, rng: np.random.Generator) -> dict[str, Reading]:
    """What a person would read off a racquet of known figures."""
    weight, balance, _, twist, _, _ = racquet.figures
    turn = SWINGS * bifilar_period_s(twist, weight, bifilar_lever_mm(THREAD_MM, SPACING_MM))
    threads = BifilarReading(
        figure="twist",
        thread_mm=THREAD_MM,
        spacing_mm=SPACING_MM,
        swings=SWINGS,
        times_s=[turn * (1 + noise.draw(rng, HALF))],
        time_sd_s=turn * noise.sd(HALF),
        even=noise.limits,
        amplitude_deg=0.0,
        amplitude_sd_deg=0.0,
        thread_sd_mm=0.0,
        spacing_sd_mm=0.0,
    )
    return {
        "weight": WeightReading(value=weight + noise.draw(rng, 0.5), sd=noise.sd(0.5), even=noise.limits),
        "balance": BalanceReading(value=balance + noise.draw(rng, 1.0), sd=noise.sd(1.0), even=noise.limits),
        "pendulum at 30 mm": swung(racquet, PIVOT_MM, noise, rng),
        "pendulum at the axis": swung(racquet, racquet.axis_mm, noise, rng),
        "threads": threads,
    }


def estimates(racquet: Invented, got: dict[str, Reading], rng: np.random.Generator, spent: Array) -> Array:
    """Value and half 90 % interval (sets, 2, 6) of the six figures for each set of readings.

    Adds to ``spent`` (2,) the seconds for laying the parts and for one estimate.
    """
    face, handle = np.array([racquet.face_mm, racquet.handle_mm]) + rng.normal(0, 0.3, 2)
    size = Size(Measured(float(face), 0.3), Measured(float(handle), 0.3))
    started = time.process_time()
    parts = parts_of(racquet.outline, racquet.landmarks, prior_for(racquet.construction), size)
    spent[0] += time.process_time() - started
    rows = []
    for more in SETS.values():
        readings = tuple(got[name] for name in ("weight", "balance", *more))
        started = time.process_time()
        found = calibrate(parts, readings)
        spent[1] += (time.process_time() - started) / len(SETS)
        rows.append([six(found.body.values, racquet.axis_mm), half_widths(found, racquet.axis_mm)])
    return np.array(rows)


def by_formula(racquet: Invented, got: dict[str, Reading]) -> Array:
    """Swing weight (2, 2) from each pendulum by T² = 4 π² I / (M g arm), with weight and balance as read
    and as they are."""
    scale, edge = got["weight"], got["balance"]
    assert isinstance(scale, WeightReading)
    assert isinstance(edge, BalanceReading)
    pairs = ((scale.value, edge.value), (float(racquet.figures[0]), float(racquet.figures[1])))
    rows = []
    for name in PENDULUMS:
        pendulum = got[name]
        assert isinstance(pendulum, PendulumReading)
        period = pendulum.mean_s / pendulum.swings
        for weight, balance in pairs:
            arm, there = balance - pendulum.pivot_mm, balance - racquet.axis_mm
            moved = weight * (there**2 - arm**2) / 1e5
            rows.append(pendulum_inertia_kgcm2(weight, arm, period) + moved)
    return np.array(rows).reshape(2, 2)


def cut_out(racquet: Invented) -> Array:
    """A uniform sheet of the outline's shape and the racquet's weight and face thickness."""
    m = geometry_moments(racquet.outline.polygon)
    sheet = np.array([m.size, m.x, m.y, m.xx, m.yy, m.size * racquet.face_mm**2 / 12])
    return six(body_values(sheet * racquet.figures[0] / m.size), racquet.axis_mm)


def by_dimensions(racquets: list[Invented]) -> dict[str, Array]:
    """Relative errors of swing and twist weight by fitted powers of dimensions, on the half not fitted."""
    sizes = np.array([[r.outline.length_mm, r.outline.width_mm] for r in racquets])
    figures = np.array([r.figures for r in racquets])
    butt = about_butt(figures)
    names = {
        "butt-axis inertia": (butt, np.column_stack([figures[:, :2], sizes[:, :1]])),
        "twist": (figures[:, 3], np.column_stack([figures[:, :1], sizes])),
    }
    fit, tried = slice(0, None, 2), slice(1, None, 2)
    found = {}
    for name, (truth, factors) in names.items():
        logs = np.column_stack([np.ones(len(truth)), np.log(factors)])
        powers = np.linalg.lstsq(logs[fit], np.log(truth[fit]), rcond=None)[0]
        found[name] = np.exp(logs[tried] @ powers) / truth[tried] - 1
    return found


def report(name: str, truth: Array, got: Array, plain: Array, swung_only: Array) -> None:
    """Print one construction's table."""
    order = [next(i for i, figure in enumerate(FIGURE_NAMES) if figure.startswith(shown)) for shown in SHOWN]
    print(f"\n{name}: {len(truth)} racquets, {truth[:, 0].min():.0f} to {truth[:, 0].max():.0f} g")
    head = "".join(f"{shown:>18}" for shown in SHOWN)
    print(f"{'90th percentile of the error, % (in 90 %)':<26}\n{'':<26}{head}")
    for k, row in enumerate(SETS):
        error = 100 * np.abs(got[:, k, 0] / truth - 1)
        inside = 100 * (np.abs(got[:, k, 0] - truth) <= got[:, k, 1]).mean(axis=0)
        cells = [f"{np.quantile(error[:, i], 0.9):.2f} ({inside[i]:.0f} %)" for i in order]
        print(f"{row:<26}" + "".join(f"{cell:>18}" for cell in cells))
    middle = np.median(100 * (got[:, 0, 0] / truth - 1), axis=0)
    print(f"{'  median error':<26}" + "".join(f"{middle[i]:>+18.2f}" for i in order))
    for k, row in enumerate(PENDULUMS):
        off = 100 * np.abs(swung_only[:, k] / truth[:, 2:3] - 1)
        read, exact = np.quantile(off, 0.9, axis=0)
        print(f"{row}, formula alone: swing {read:.2f}; with weight and balance exact {exact:.2f}")
    sheet = np.quantile(100 * np.abs(plain / truth - 1), 0.9, axis=0)
    print(f"{'uniform cut-out':<26}" + "".join(f"{sheet[i]:>18.1f}" for i in order))


def main(noise: Noise, count: int = 2100, seed: int = 1) -> None:
    """Invent, read, estimate, print."""
    print("readings' ± are " + ("limits" if noise.limits else "standard deviations"))
    each = -(-count // len(Construction))
    everything: list[tuple[Array, ...]] = []
    for k, construction in enumerate(Construction):
        rng = np.random.default_rng([seed, k])
        racquets = [invent(construction, rng) for _ in range(each)]
        spent = np.zeros(2)
        todo = track(racquets, str(construction), disable=not sys.stderr.isatty())
        rows, formula = [], []
        for racquet in todo:
            taken = read(racquet, noise, rng)
            rows.append(estimates(racquet, taken, rng, spent))
            formula.append(by_formula(racquet, taken))
        got, swung_only = np.array(rows), np.array(formula)
        truth = np.array([r.figures for r in racquets])
        plain = np.array([cut_out(r) for r in racquets])
        report(construction, truth, got, plain, swung_only)
        lay_ms, solve_ms = 1e3 * spent / each
        print(f"{lay_ms:.1f} ms for laying the parts into an outline, {solve_ms:.1f} ms for an estimate")
        if construction is Construction.STRUNG:
            ours = {
                "butt-axis inertia": about_butt(got[:, 0, 0]) / about_butt(truth) - 1,
                "twist": got[:, 0, 0, 3] / truth[:, 3] - 1,
            }
            for what, error in by_dimensions(racquets).items():
                for who, errors in (("powers of dimensions", error), ("this model", ours[what])):
                    low, high = 100 * np.quantile(errors, [0.05, 0.95])
                    size = 100 * np.quantile(np.abs(errors), 0.9)
                    print(f"{what}, {who}: {low:+.1f} to {high:+.1f} %, 90th percentile {size:.1f} %")
        everything.append((truth, got, plain, swung_only))
    report("all constructions", *(np.concatenate(arrays) for arrays in zip(*everything, strict=True)))


def about_butt(figures: Array) -> Array:
    """Inertia about the butt end, kg cm², of figures (n, 6)."""
    return np.asarray(figures[:, 4] + figures[:, 0] * figures[:, 1] ** 2 / 1e5)


if __name__ == "__main__":
    words = sys.argv[1:]
    numbers = [int(word) for word in words if word.isdigit()]
    main(Noise("sd" not in words), *numbers)
