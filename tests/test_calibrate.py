"""Calibration: against its own definition, a sampler, and invariances."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.calibrate import Calibration, calibrate
from model.figures import Body, figures_of
from model.measured import Measured
from model.moments import Array
from model.parts import Parts, Size, parts_of
from model.priors import prior_for
from model.reading_text import weight_reading
from model.readings import BalanceReading, Reading, WeightReading
from tests.model_samples import HANDLE_TOP, exact, paddle

SIZE = Size(Measured(14.0, 0.3), exact(29.0), 0.002, 0.002)
PARTS = parts_of(paddle(), HANDLE_TOP, prior_for("solid"), SIZE)
WEIGHT = WeightReading(value=228.0, sd=0.5)
BALANCE = BalanceReading(value=238.0, sd=1.0)


def sds(body: Body) -> Array:
    return np.sqrt(np.diag(body.cov))


def test_readings_are_reproduced_within_their_sd() -> None:
    body = calibrate(PARTS, (WEIGHT, BALANCE)).body
    assert body.values[0] == pytest.approx(228.0, abs=0.05)
    assert body.values[1] == pytest.approx(238.0, abs=0.3)
    assert sds(body)[0] == pytest.approx(0.5, rel=0.02)
    assert sds(body)[1] == pytest.approx(1.0, rel=0.05)


def test_a_very_fine_reading_is_reproduced() -> None:
    fine = (
        WeightReading(value=228.0, sd=1e-5),
        BalanceReading(value=238.0, sd=1e-5),
    )
    body = calibrate(PARTS, fine).body
    assert body.values[:2] == pytest.approx([228.0, 238.0], abs=1e-5)
    assert sds(body)[:2] == pytest.approx([1e-5, 1e-5], rel=1e-3)


def test_masses_add_up_to_the_weight() -> None:
    result = calibrate(PARTS, (WEIGHT, BALANCE))
    assert result.mass_g.sum() == pytest.approx(result.body.values[0], rel=1e-12)
    assert (result.mass_g > 0).all()
    assert result.part_masses()["face"].value == result.mass_g[0]


def test_without_readings_the_prior_comes_back() -> None:
    result = calibrate(PARTS, ())
    assert np.log(result.mass_g) == pytest.approx(PARTS.log_mass, abs=1e-9)
    relative = np.sqrt(np.diag(result.mass_cov)) / result.mass_g
    assert relative == pytest.approx(np.sqrt(np.diag(PARTS.log_mass_cov)), rel=1e-9)
    assert any("no weight reading" in note for note in result.notes)
    assert any("no balance reading" in note for note in result.notes)


def test_against_a_sampler() -> None:
    """Values and sds against Metropolis walks through the exact posterior, forward model written out."""
    result = calibrate(PARTS, (WEIGHT, BALANCE))
    got = figures_of(result.body, 50.0)
    seen = walked(PARTS, WEIGHT.measured, BALANCE.measured)
    names = ("weight_g", "balance_mm", "swing_weight_kgcm2", "twist_weight_kgcm2", "recoil_weight_kgcm2")
    for name, draws in zip(names, seen, strict=True):
        figure: Measured = getattr(got, name)
        assert figure.value == pytest.approx(draws.mean(), abs=0.2 * draws.std()), name
        assert figure.sd == pytest.approx(draws.std(), rel=0.1), name


def walked(parts: Parts, weight: Measured, balance: Measured, walkers: int = 1200, steps: int = 800) -> Array:
    """Weight, balance, swing about 50 mm, twist and recoil (5, walkers) after many Metropolis steps."""
    rng = np.random.default_rng(11)
    n, k = len(parts.names), len(parts.modes)
    precision = np.eye(n + k)
    precision[:n, :n] = np.linalg.inv(parts.log_mass_cov)
    mean = np.concatenate([parts.log_mass, np.zeros(k)])

    def forward(state: Array) -> Array:
        mass = np.exp(state[:, :n])
        unit = parts.unit + np.tensordot(state[:, n:], parts.modes, axes=1)
        total = mass.sum(axis=1)
        y, xx, yy, zz = ((mass * unit[:, :, c]).sum(axis=1) for c in (1, 2, 3, 4))
        swing = yy + zz - 2 * 50 * y + 50**2 * total
        recoil = yy + zz - y**2 / total
        return np.array([total, y / total, swing / 1e5, (xx + zz) / 1e5, recoil / 1e5])

    def log_density(state: Array) -> Array:
        total, centre = forward(state)[:2]
        misfit = ((total - weight.value) / weight.sd) ** 2 + ((centre - balance.value) / balance.sd) ** 2
        off = state - mean
        return np.asarray(-0.5 * (misfit + np.einsum("wi,ij,wj->w", off, precision, off)))

    state = mean + rng.standard_normal((walkers, n + k)) * 0.1
    state[:, :n] += np.log(weight.value) - np.log(np.exp(state[:, :n]).sum(axis=1, keepdims=True))
    now = log_density(state)
    for _ in range(steps):
        # Differences of two other walkers fit the posterior's own shape (ter Braak 2006).
        one, two = rng.permutation(walkers), rng.permutation(walkers)
        reach = rng.choice([0.2, 0.5, 1.0], size=(walkers, 1)) * 2.38 / np.sqrt(2 * (n + k))
        moved = state + reach * (state[one] - state[two]) + 1e-5 * rng.standard_normal(state.shape)
        then = log_density(moved)
        taken = np.log(rng.random(walkers)) < then - now
        state[taken], now[taken] = moved[taken], then[taken]
    return forward(state)


@given(st.permutations([WEIGHT, BALANCE, WeightReading(value=229.0, sd=1.0)]))
def test_order_of_readings_does_not_matter(readings: list[Reading]) -> None:
    want = calibrate(PARTS, (WEIGHT, BALANCE, WeightReading(value=229.0, sd=1.0))).body
    got = calibrate(PARTS, tuple(readings)).body
    assert got.values == pytest.approx(want.values, rel=1e-8)
    assert got.cov == pytest.approx(want.cov, rel=1e-6, abs=1e-9)


def test_order_of_parts_does_not_matter() -> None:
    turn = np.array([2, 0, 3, 1])
    shuffled = replace(
        PARTS,
        names=tuple(PARTS.names[i] for i in turn),
        unit=PARTS.unit[turn],
        modes=PARTS.modes[:, turn],
        log_mass=PARTS.log_mass[turn],
        log_mass_cov=PARTS.log_mass_cov[np.ix_(turn, turn)],
    )
    got, want = calibrate(shuffled, (WEIGHT, BALANCE)), calibrate(PARTS, (WEIGHT, BALANCE))
    assert got.body.values == pytest.approx(want.body.values, rel=1e-8)
    assert got.part_masses()["edge"].value == pytest.approx(want.part_masses()["edge"].value, rel=1e-6)


@settings(max_examples=30)
@given(st.floats(215.0, 245.0), st.floats(225.0, 250.0), st.floats(0.1, 5.0))
def test_a_further_reading_at_the_estimate_never_widens(weight: float, balance: float, sd: float) -> None:
    first = calibrate(PARTS, (WeightReading(value=weight, sd=0.5),))
    more = calibrate(
        PARTS,
        (
            WeightReading(value=weight, sd=0.5),
            BalanceReading(value=float(first.body.values[1]), sd=sd),
        ),
    )
    assert (sds(more.body) <= sds(first.body) * (1 + 1e-6)).all()
    assert sds(calibrate(PARTS, (WeightReading(value=weight, sd=0.5), BALANCE)).body)[1] < 1.01


def test_unused_readings_do_not_count() -> None:
    with_unused: Calibration = calibrate(PARTS, (WEIGHT, BALANCE.model_copy(update={"used": False})))
    assert with_unused.body.values == pytest.approx(calibrate(PARTS, (WEIGHT,)).body.values, rel=1e-12)


def test_scale_doubt_reaches_the_figures() -> None:
    sure = parts_of(paddle(), HANDLE_TOP, prior_for("solid"), replace(SIZE, along_relative_sd=0.0))
    unsure = parts_of(paddle(), HANDLE_TOP, prior_for("solid"), replace(SIZE, along_relative_sd=0.03))
    narrow = figures_of(calibrate(sure, (WEIGHT, BALANCE)).body, 50.0)
    wide = figures_of(calibrate(unsure, (WEIGHT, BALANCE)).body, 50.0)
    assert wide.recoil_weight_kgcm2.sd > 1.3 * narrow.recoil_weight_kgcm2.sd


def test_a_far_off_weight_is_said() -> None:
    assert calibrate(PARTS, (WEIGHT, BALANCE)).notes == ()
    notes = calibrate(PARTS, (weight_reading("500"), BALANCE)).notes
    assert any("heavier than usual" in note for note in notes)
