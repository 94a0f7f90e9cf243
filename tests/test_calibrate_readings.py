"""The estimate with every kind of reading: properties that hold whatever was measured."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.calibrate import Calibration, calibrate
from model.figures import body_values, figures_of, swing_of
from model.moments import Array
from model.observe import observations
from model.parts import Size, parts_of
from model.priors import prior_for
from model.reading_text import made_reading, parse_reading
from model.readings import PendulumReading, Reading
from model.swinging import GRAVITY_MM_S2, amplitude_factor
from tests.model_samples import HANDLE_TOP, exact, paddle
from tests.test_calibrate import BALANCE, WEIGHT

SIZE = Size(exact(14.0), exact(29.0), along_relative_sd=0.004, across_relative_sd=0.004)
PARTS = parts_of(paddle(), HANDLE_TOP, prior_for("solid"), SIZE)
BOTH = (WEIGHT, BALANCE)
FURTHER = {
    "weight": "228",
    "balance": "238, pencil 7mm",
    "two supports": "block 10mm, scale 390mm, reads 136.9g",
    "two scales": "10mm 91.1g, 390mm 136.9g",
    "pendulum": "pivot 30mm, 20 swings, 19.1s, pivot radius 2mm",
    "bifilar twist": "twist, threads 900mm, spacing 100mm, 20 swings, 39s",
    "bifilar spin": "spin, threads 900mm, spacing 250mm, 20 swings, 37s",
    "machine": "swing 109 at 50mm",
    "twist machine": "twist 5.9",
    "published": "weight 8oz",
    "component": "butt cap 5g",
    "length": "411",
    "width": "189",
    "scale check": "200g shows 200.2g",
}


def reading(name: str, **changes: object) -> Reading:
    kind = {"twist machine": "machine"}.get(name, name.split(" ")[0] if "bifilar" in name else name)
    found = parse_reading(kind, FURTHER[name])
    return made_reading({**found.model_dump(), **changes})


def at_the_estimate(one: Reading, found: Calibration) -> Reading:
    """The same reading, showing just what the estimate predicts."""
    seen = [o.predicted for o in observations((one,), found.view)]
    raw = one.model_dump()
    if "times_s" in raw:
        raw["times_s"] = seen
    elif one.kind == "two_scales":
        raw["high_g"], raw["low_g"] = (seen[0] + seen[1]) / 2, (seen[0] - seen[1]) / 2
    else:
        raw["value"] = seen[0]
    return made_reading(raw)


def sds(found: Calibration) -> Array:
    f = figures_of(found.body, 50.0)
    return np.array([*np.sqrt(np.diag(found.body.cov)), f.swing_weight_kgcm2.sd])


@pytest.mark.parametrize("name", [name for name in FURTHER if name != "scale check"])
def test_a_further_reading_never_widens_a_figure(name: str) -> None:
    before = calibrate(PARTS, BOTH)
    after = calibrate(PARTS, (*BOTH, at_the_estimate(reading(name), before)))
    assert after.body.values == pytest.approx(before.body.values, rel=1e-6)
    assert (sds(after) <= sds(before) * (1 + 1e-6)).all()


@settings(max_examples=20, deadline=None)
@given(st.permutations(sorted(FURTHER)))
def test_the_order_of_readings_does_not_matter(names: list[str]) -> None:
    want = calibrate(PARTS, [*BOTH, *(reading(name) for name in sorted(FURTHER))]).body
    got = calibrate(PARTS, [*(reading(name) for name in names), *BOTH]).body
    assert got.values == pytest.approx(want.values, rel=1e-7)
    assert got.cov == pytest.approx(want.cov, rel=1e-5, abs=1e-9)


FINE = {
    "pendulum": {"time_sd_s": 1e-6, "amplitude_sd_deg": 0.0, "pivot_sd_mm": 0.0},
    "bifilar twist": {
        "time_sd_s": 1e-6,
        "amplitude_sd_deg": 0.0,
        "thread_sd_mm": 0.0,
        "spacing_sd_mm": 0.0,
    },
    "machine": {"sd": 1e-5},
    "twist machine": {"sd": 1e-5},
    "two supports": {"sd": 1e-5, "place_sd_mm": 1e-6, "tilt_sd_deg": 0.0},
    "component": {"sd": 1e-5},
    "length": {"sd": 1e-5},
}


@pytest.mark.parametrize("name", FINE)
def test_a_very_fine_reading_is_reproduced(name: str) -> None:
    fine = reading(name, **FINE[name])
    found = calibrate(PARTS, (*BOTH, fine))
    seen = next(o for o in found.seen if o.reading == 2)
    assert seen.predicted == pytest.approx(seen.observed, rel=1e-6)


def test_a_pendulum_gives_the_swing_weight_by_the_formula() -> None:
    """With exact weight and balance the pendulum alone says recoil = M g d (T/2π)² - M d²."""
    exactly = (
        WEIGHT.model_copy(update={"sd": 1e-5}),
        BALANCE.model_copy(update={"sd": 1e-5}),
        reading("pendulum", pivot_radius_mm=0.0, **FINE["pendulum"]),
    )
    pendulum = exactly[2]
    assert isinstance(pendulum, PendulumReading)
    period = pendulum.mean_s / 20 / amplitude_factor(5.0)
    arm = 238.0 - 30.0
    inertia = 228 * GRAVITY_MM_S2 * arm * (period / (2 * np.pi)) ** 2 / 1e5
    body = calibrate(PARTS, exactly).body
    assert body.values[2] == pytest.approx(inertia - 228 * arm**2 / 1e5, rel=1e-4)
    assert swing_of(body.values, 30.0) == pytest.approx(inertia, rel=1e-5)


def test_units_do_not_matter() -> None:
    """The same racquet written in ounces and inches."""
    metric = [
        parse_reading("weight", "228, sd 0.5g"),
        parse_reading("balance", "238, sd 1mm"),
        parse_reading("machine", "swing 109 at 50mm, sd 0.5"),
    ]
    other = [
        parse_reading("weight", f"{228 / 28.349523125:.9f}oz, sd {0.5 / 28.349523125:.9f}oz"),
        parse_reading("balance", f"{238 / 25.4:.9f}in, sd {1 / 25.4:.9f}in"),
        parse_reading("machine", f"swing {109 / 10:.4f} g·m² at 5cm, sd 0.05g·m²"),
    ]
    want, got = calibrate(PARTS, metric).body, calibrate(PARTS, other).body
    assert got.values == pytest.approx(want.values, rel=1e-7)
    assert got.cov == pytest.approx(want.cov, rel=1e-5, abs=1e-10)


def test_a_checked_scale_corrects_every_weight() -> None:
    """A scale that shows 202 g for 200 g makes 228 g read on it 228 / 1.01."""
    check = parse_reading("scale_check", "200g shows 202.0g, sd 0.02g")
    weight = calibrate(PARTS, (WEIGHT, BALANCE, check)).body
    assert weight.values[0] == pytest.approx(228 / 1.01, abs=0.05)
    assert np.sqrt(weight.cov[0, 0]) == pytest.approx(np.hypot(0.5, 228 * 0.02 / 200), rel=0.02)


def test_two_scales_alone_give_weight_and_balance_with_their_own_sds() -> None:
    """The weight errs by both scales' 0.2 g; the balance, 10 + 370 U / (U + L), by places, tilt, scales."""
    body = calibrate(PARTS, (parse_reading("two_scales", "10mm 91.8g, 380mm 139.2g"),)).body
    assert body.values[:2] == pytest.approx([231.0, 10 + 370 * 139.2 / 231], abs=0.15)  # the prior pulls
    share = 139.2 / 231
    placed = math.hypot(share, 1 - share)  # of 1 mm at either end
    tilted, scales = 10 * math.radians(0.5), 370 / 231 * 0.2 * math.hypot(share, 1 - share)
    want = [0.2 * math.sqrt(2), math.hypot(placed, tilted, scales)]
    assert np.sqrt(np.diag(body.cov))[:2] == pytest.approx(want, rel=0.01)


def test_a_tape_measure_moves_the_outline() -> None:
    found = calibrate(PARTS, (*BOTH, reading("length", value=411.6, sd=0.01)))
    change, _ = found.size_changes()
    assert change.value == pytest.approx(1.6 / 410, rel=0.01)
    assert change.sd == pytest.approx(0.01 / 410, rel=0.02)


def test_tight_scale_doubt_tightens_inertia() -> None:
    unsure = parts_of(paddle(), HANDLE_TOP, prior_for("solid"), replace(SIZE, across_relative_sd=0.05))
    taped = calibrate(unsure, (*BOTH, parse_reading("width", "190")))
    assert sds(taped)[3] < 0.75 * sds(calibrate(unsure, BOTH))[3]


def test_against_a_sampler_with_a_pendulum_and_threads() -> None:
    """Values and sds against draws from the prior weighted by the likelihood written out here."""
    pendulum, threads = reading("pendulum", time_sd_s=0.3), reading("bifilar twist", time_sd_s=1.0)
    given_readings = (
        WEIGHT.model_copy(update={"sd": 4.0}),
        BALANCE.model_copy(update={"sd": 4.0}),
        pendulum,
        threads,
    )
    found = calibrate(PARTS, given_readings)
    draws, weights = _weighted_draws(given_readings)
    mean = weights @ draws
    spread = np.sqrt(weights @ (draws - mean) ** 2)
    assert 1 / (weights**2).sum() > 400  # enough draws count
    assert found.body.values == pytest.approx(mean, abs=0.25 * spread.max(), rel=0.01)
    assert (np.abs(found.body.values - mean) < 0.2 * spread).all()
    assert np.sqrt(np.diag(found.body.cov)) == pytest.approx(spread, rel=0.12)


def _weighted_draws(readings: tuple[Reading, ...], count: int = 60_000) -> tuple[Array, Array]:
    """The body's figures (count, 5) of states drawn from the prior, and their posterior weights."""
    rng = np.random.default_rng(8)
    n, k = len(PARTS.names), len(PARTS.modes)
    # Drawn wider than the estimate and weighed by prior × likelihood / density: importance sampling.
    found = calibrate(PARTS, readings)
    factor = np.linalg.cholesky(found.cov[: n + k, : n + k]) * 1.15
    steps = rng.standard_normal((count, n + k))
    states = found.state[: n + k] + steps @ factor.T
    mass = np.exp(states[:, :n])
    unit = PARTS.unit + np.tensordot(states[:, n:], PARTS.modes, axes=1)
    totals = np.concatenate([mass.sum(1, keepdims=True), np.einsum("sp,spc->sc", mass, unit)], axis=1)
    body = np.array([body_values(row) for row in totals])
    off = states[:, :n] - PARTS.log_mass
    log = -0.5 * np.einsum("si,ij,sj->s", off, np.linalg.inv(PARTS.log_mass_cov), off)
    log += -0.5 * (states[:, n:] ** 2).sum(1) + 0.5 * (steps**2).sum(1)
    sd = {o.reading: o.sd for o in found.seen}
    arm = body[:, 1] - 30.0
    swing = 20 * 2 * np.pi * np.sqrt((body[:, 2] * 1e5 / body[:, 0] + arm**2) / (GRAVITY_MM_S2 * (arm + 2)))
    turn = 20 * 2 * np.pi * np.sqrt(body[:, 3] * 1e5 * 4 * 900 / (body[:, 0] * GRAVITY_MM_S2 * 100**2))
    longer = amplitude_factor(5.0)
    shown = (228.0, 238.0, 19.1, 39.0)
    for i, want in enumerate((body[:, 0], body[:, 1], swing * longer, turn * longer)):
        log += -0.5 * ((shown[i] - want) / sd[i]) ** 2
    weights = np.exp(log - log.max())
    return body, weights / weights.sum()


def test_readings_that_contradict_each_other_still_have_an_answer() -> None:
    """A weight of one racquet, a balance of another, a swing weight of a third: the least misfit is found."""
    odd = [
        parse_reading("weight", "120"),
        parse_reading("balance", "180"),
        parse_reading("machine", "swing 130 at 50mm"),
        parse_reading("machine", "twist 2"),
        parse_reading("component", "butt cap 60g"),
    ]
    found = calibrate(PARTS, odd)
    assert np.isfinite(found.body.values).all()
    assert (found.mass_g > 0).all()
    slopes = found.seen_by_state / np.array([[o.sd] for o in found.seen])
    off = np.array([(o.observed - o.predicted) / o.sd for o in found.seen])
    mean, cov = PARTS.prior()
    downhill = slopes.T @ off
    downhill[:-1] -= np.linalg.solve(cov, found.state[:-1] - mean)
    downhill[-1] -= found.state[-1]
    assert np.abs(found.cov @ downhill).max() < 0.02  # sds of what is unknown


def test_a_length_tells_the_width_where_their_errors_go_together() -> None:
    """Conditional normal: the width moves by correlation × sd_w / sd_l of the length's move."""
    tied = parts_of(
        paddle(),
        HANDLE_TOP,
        prior_for("solid"),
        replace(SIZE, across_relative_sd=0.006, size_correlation=0.8),
    )
    along, across = calibrate(tied, (*BOTH, reading("length", value=411.6, sd=0.01))).size_changes()
    assert along.value == pytest.approx(1.6 / 410, rel=0.01)
    assert across.value == pytest.approx(0.8 * 0.006 / 0.004 * 1.6 / 410, rel=0.05)
    assert across.sd == pytest.approx(0.6 * 0.006, rel=0.05)


def test_a_published_swing_weight_is_no_weight() -> None:
    notes = calibrate(PARTS, [parse_reading("published", "swing 110 at 50mm")]).notes
    assert any("no weight reading" in note for note in notes)
    assert any("no balance reading" in note for note in notes)
    told = calibrate(PARTS, [parse_reading("published", "weight 228")]).notes
    assert not any("no weight reading" in note for note in told)
