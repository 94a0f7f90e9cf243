"""What readings should show, against the formulas, and their slopes against steps."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from model.figures import slopes_by_steps
from model.moments import Array
from model.observe import PARTS_FROM, View, observations
from model.reading_text import parse_reading
from model.readings import Reading
from model.supports import scale_shows_g
from model.swinging import amplitude_factor, bifilar_lever_mm, bifilar_period_s, pendulum_period_s

BODY = np.array([231.0, 238.0, 28.0, 6.2, 34.0])
VIEW = View(BODY, 0.002, 0.001, -0.002, ("face", "butt_cap"), np.array([190.0, 41.0]), 410.0, 200.0)

READINGS = [
    parse_reading(kind, text)
    for kind, text in (
        ("weight", "231"),
        ("balance", "238"),
        ("scale_check", "200g shows 200.4g"),
        ("two_supports", "block 10mm, scale 380mm, reads 139.2g, tilt 3deg"),
        ("two_scales", "10mm 91.8g, 380mm 139.2g"),
        ("pendulum", "pivot 30mm, 20 swings, 18.6s, pivot radius 3mm"),
        ("pendulum", "pivot 400mm, 20 swings, 18.6s, edge first"),
        ("bifilar", "twist, threads 900mm, spacing 150mm, 20 swings, 31.2s"),
        ("bifilar", "recoil, threads 900mm, spacing 250mm, 20 swings, 31.2s"),
        ("machine", "swing 110 at 50mm"),
        ("machine", "spin 34"),
        ("published", "weight 230"),
        ("component", "butt cap 5g"),
        ("length", "409mm"),
        ("width", "201mm"),
    )
]


def with_values(values: Array) -> View:
    n = len(VIEW.names)
    return replace(
        VIEW,
        body=values[:5],
        scale=values[5],
        along=values[6],
        across=values[7],
        mass_g=values[PARTS_FROM : PARTS_FROM + n],
    )


@pytest.mark.parametrize("reading", READINGS, ids=lambda r: str(r.kind))
def test_slopes_are_derivatives(reading: Reading) -> None:
    at = np.concatenate([BODY, [VIEW.scale, VIEW.along, VIEW.across], VIEW.mass_g])

    def predicted(values: Array) -> Array:
        return np.array([o.predicted for o in observations((reading,), with_values(values))])

    got = np.array([o.slopes for o in observations((reading,), VIEW)])
    assert got == pytest.approx(slopes_by_steps(predicted, at), rel=1e-5, abs=1e-7)


def test_predictions_by_the_formulas() -> None:
    seen = {o.name: o for o in observations(tuple(READINGS), VIEW)}
    assert seen["weight"].predicted == pytest.approx(231 * 1.002)
    assert seen["scale check"].predicted == pytest.approx(200 * 1.002)
    assert seen["two supports"].predicted == pytest.approx(
        1.002 * scale_shows_g(231, 238, 10, 380, 3.0, 10.0), rel=1e-12
    )
    assert seen["two scales' sum"].predicted == pytest.approx(231 * 1.002, rel=1e-12)
    assert seen["two scales' difference"].predicted == pytest.approx(
        1.002 * 231 * ((238 - 10) - (380 - 238)) / (380 - 10), rel=1e-12
    )
    assert seen["machine's swing weight at 50 mm"].predicted == pytest.approx(28 + 231 * 188**2 / 1e5)
    assert seen["butt cap"].predicted == 41.0
    assert seen["length"].predicted == pytest.approx(410 * 1.001)
    edgeways = 34.0 + 231 * (400 - 238) ** 2 / 1e5
    assert seen["pendulum"].predicted == pytest.approx(
        20 * pendulum_period_s(edgeways, 231, 162) * amplitude_factor(5), rel=1e-12
    )
    assert seen["bifilar twist"].predicted == pytest.approx(
        20 * bifilar_period_s(6.2, 231, bifilar_lever_mm(900, 150)) * amplitude_factor(5), rel=1e-12
    )


def test_sds_carry_every_doubt() -> None:
    """Sd of a pendulum's time from many drawn pivots, amplitudes and stopwatch errors."""
    rng = np.random.default_rng(3)
    n = 40_000
    reading = parse_reading(
        "pendulum", "pivot 60mm, 10 swings, 9.3s, 9.3s, amplitude 20°, pivot ± 2mm, sd 0.02s"
    )
    arm = 238 - 60 - 2 * rng.standard_normal(n)
    angle = np.radians(20 + 2 * rng.standard_normal(n))
    period = 2 * np.pi * np.sqrt((28e5 + 231 * arm**2) / (231 * 9806.65 * arm)) * (1 + angle**2 / 16)
    times = 10 * period + 0.02 / math.sqrt(2) * rng.standard_normal(n)
    (seen,) = observations((reading,), VIEW)
    assert seen.sd == pytest.approx(times.std(), rel=0.03)


@pytest.mark.parametrize("offset", [0.0, 15.0, 25.0])
def test_sd_of_two_threads_against_draws(offset: float) -> None:
    """An offset known to 1 mm outweighs all else, where the balance point is far off the middle."""
    rng = np.random.default_rng(6)
    n = 40_000
    text = f"twist, threads 900mm, spacing 100mm, top 120mm, 20 swings, 39s, offset {offset}mm"
    (seen,) = observations((parse_reading("bifilar", text),), VIEW)
    below, above = (apart + 0.3 * rng.standard_normal(n) for apart in (100, 120))
    threads, off = 900 + rng.standard_normal(n), offset + rng.standard_normal(n)
    lever = below * above / (4 * threads) * (1 - (2 * off / below) ** 2)
    exact = 100 * 120 / (4 * 900) * (1 - (2 * offset / 100) ** 2)
    angle = np.radians(5 + 3 * rng.standard_normal(n))
    longer = (1 + angle**2 / 16) / (1 + np.radians(5) ** 2 / 16)
    times = seen.predicted * np.sqrt(exact / lever) * longer + 0.1 * rng.standard_normal(n)
    assert seen.sd == pytest.approx(times.std(), rel=0.05)


def test_sd_of_supports_against_draws() -> None:
    rng = np.random.default_rng(4)
    n = 40_000
    reading = parse_reading(
        "two_supports", "block 20mm, scale 300mm, reads 180g, sd 0.3g, support 8mm, height 20mm"
    )
    block = 20 + rng.standard_normal(n) + rng.uniform(-4, 4, n)
    scale = 300 + rng.standard_normal(n) + rng.uniform(-4, 4, n)
    tilt = np.radians(0.5 * rng.standard_normal(n))
    shown = 231 * (238 - 20 * np.tan(tilt) - block) / (scale - block) + 0.3 * rng.standard_normal(n)
    (seen,) = observations((reading,), replace(VIEW, scale=0.0))
    assert seen.sd == pytest.approx(shown.std(), rel=0.03)


def test_sds_of_two_scales_against_draws() -> None:
    """A support out of place moves load from one scale to the other; sum and difference err independently."""
    rng = np.random.default_rng(5)
    n = 40_000
    reading = parse_reading("two_scales", "10mm 91.8g, 380mm 139.2g, support 4mm, height 20mm")
    low, high = (place + rng.standard_normal(n) + rng.uniform(-2, 2, n) for place in (10, 380))
    tilt = np.radians(0.5 * rng.standard_normal(n))
    load = 231 * (238 - 20 * np.tan(tilt) - low) / (high - low)
    upper, lower = load + 0.2 * rng.standard_normal(n), 231 - load + 0.2 * rng.standard_normal(n)
    total, apart = observations((reading,), replace(VIEW, scale=0.0))
    assert (total.observed, apart.observed) == pytest.approx((231.0, 47.4))
    assert total.sd == pytest.approx((upper + lower).std(), rel=0.02)
    assert apart.sd == pytest.approx((upper - lower).std(), rel=0.02)
    assert abs(np.corrcoef(upper + lower, upper - lower)[0, 1]) < 0.02


def test_unused_readings_show_nothing() -> None:
    unused = READINGS[0].model_copy(update={"used": False})
    seen = observations((unused, READINGS[1]), VIEW)
    assert [(o.reading, o.name) for o in seen] == [(1, "balance")]
