"""The air with a face, against closed forms and integrals."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import ellipe, ellipk

from model.air import AIR_G_MM3, RELATIVE_SD, air_of
from model.calibrate import calibrate
from model.figures import figures_of
from model.parts import parts_of
from model.priors import prior_for
from model.reading_text import made_reading, parse_reading, weight_reading
from model.swinging import bifilar_lever_mm, bifilar_period_s, pendulum_period_s
from tests.model_samples import STRUNG_TOPS, strung
from tests.test_calibrate_readings import BOTH, PARTS, SIZE


def test_a_disc_and_a_long_plate() -> None:
    """8/3 ρ r³ for a disc; for a long ellipse the sum of π ρ b² over its strips."""
    assert air_of(100.0, 300.0, 200.0, 1.0).mass_g == pytest.approx(8 / 3 * AIR_G_MM3 * 100**3, rel=1e-9)
    y = np.linspace(-500, 500, 20001)
    strips = np.trapezoid(math.pi * AIR_G_MM3 * 5.0**2 * (1 - (y / 500) ** 2), y)
    assert air_of(0.0, 1000.0, 10.0, 1.0).mass_g == pytest.approx(strips, rel=1e-3)


@pytest.mark.parametrize(("height", "width"), [(280.0, 190.0), (190.0, 280.0)])
def test_an_ellipse_by_the_elliptic_integral(height: float, width: float) -> None:
    a, b = max(height, width) / 2, min(height, width) / 2
    want = 4 / 3 * math.pi * AIR_G_MM3 * a * b * b / ellipe(1 - (b / a) ** 2)
    air = air_of(130.0, 130.0 + height, width, 0.9)
    assert air.mass_g == pytest.approx(0.9 * want, rel=1e-12)
    assert air.inertia_kgcm2(50.0) == pytest.approx(
        air.mass_g * ((80 + height / 2) ** 2 + 2 / 15 * (height / 2) ** 2) / 1e5
    )


def test_turned_about_its_own_axes() -> None:
    """A disc: 16/45 ρ r⁵. An ellipse about its long axis: 4/15 π ρ a b⁴ / (E + D), D = (E - k'² K) / k², from
    Lamb's ellipsoid of vanishing thickness; the disc's share misses it by less than air is doubted."""
    disc = air_of(100.0, 300.0, 200.0, 1.0)
    assert disc.twist_kgcm2 == pytest.approx(16 / 45 * AIR_G_MM3 * 100**5 / 1e5, rel=1e-9)
    assert disc.inertia_kgcm2(200.0) == pytest.approx(disc.twist_kgcm2, rel=1e-12)
    a, b = 140.0, 95.0
    m = 1 - (b / a) ** 2
    e, d = ellipe(m), (ellipe(m) - (1 - m) * ellipk(m)) / m
    exact = 4 / 15 * math.pi * AIR_G_MM3 * a * b**4 / (e + d) / 1e5
    assert exact == pytest.approx(0.0525, abs=0.0001)
    assert air_of(130.0, 410.0, 190.0, 1.0).twist_kgcm2 == pytest.approx(exact, rel=RELATIVE_SD / 2)


@pytest.mark.parametrize("figure", ["twist", "recoil", "spin"])
def test_threads_in_air_are_put_right(figure: str) -> None:
    """Timed with the air's inertia in it, the reading gives the figure without; a spin carries none."""
    bare, balance = calibrate(PARTS, BOTH).body.values, 238.0
    own = dict(zip(("recoil", "twist", "spin"), bare[2:], strict=True))[figure]
    air = PARTS.outline.air
    added = {"twist": air.twist_kgcm2, "recoil": air.inertia_kgcm2(balance), "spin": 0.0}[figure]
    raw = {"kind": "bifilar", "figure": figure, "thread_mm": 900.0, "spacing_mm": 100.0, "swings": 20}
    exact = {"amplitude_deg": 0.0, "amplitude_sd_deg": 0.0, "thread_sd_mm": 0.0, "spacing_sd_mm": 0.0}
    period = bifilar_period_s(own + added, 228.0, bifilar_lever_mm(900.0, 100.0))
    raw |= exact | {"times_s": [20 * period], "time_sd_s": 0.001}
    weighed = BOTH[0].model_copy(update={"sd": 0.01})
    plain, in_air = (
        calibrate(PARTS, (weighed, BOTH[1], made_reading({**raw, "in_air": said}))).body
        for said in (False, True)
    )
    place = ("recoil", "twist", "spin").index(figure) + 2
    assert in_air.values[place] == pytest.approx(own, rel=5e-4)
    assert plain.values[place] - in_air.values[place] == pytest.approx(added, rel=0.02, abs=1e-9)
    doubt = [math.sqrt(body.cov[place, place]) for body in (plain, in_air)]
    assert doubt[1] ** 2 - doubt[0] ** 2 == pytest.approx((RELATIVE_SD * added) ** 2, rel=0.1, abs=1e-12)


def test_a_pendulum_in_air_is_put_right() -> None:
    """Timed with the air's inertia in it, the reading gives the racquet's own swing weight, less surely."""
    recoil, arm = 28.0, 238.0 - 50.0
    own = recoil + 228 * arm**2 / 1e5
    air = PARTS.outline.air.inertia_kgcm2(50.0)
    assert 1.0 < air < 3.0
    times = [20 * pendulum_period_s(own + air, 228, arm)]
    raw = {"kind": "pendulum", "pivot_mm": 50.0, "swings": 20, "times_s": times, "time_sd_s": 0.01}
    exact = {"amplitude_deg": 0.0, "amplitude_sd_deg": 0.0, "pivot_sd_mm": 0.0}
    plain, in_air = (
        figures_of(
            calibrate(PARTS, (*BOTH, made_reading({**raw, **exact, "in_air": said}))).body, 50.0
        ).swing_weight_kgcm2
        for said in (False, True)
    )
    assert in_air.value == pytest.approx(own, abs=0.3)
    assert plain.value - in_air.value == pytest.approx(air, rel=0.25)
    assert in_air.sd > plain.sd


def test_a_broad_face_swung_broadside_is_warned_of() -> None:
    face = parse_reading("pendulum", "pivot 50mm, 20 swings, 20.2s")
    for text, warned in (("", True), (", in air", False), (", edge first", False)):
        notes = calibrate(
            PARTS, (*BOTH, parse_reading("pendulum", f"pivot 50mm, 20 swings, 20.2s{text}"))
        ).notes
        assert any("of air along" in note for note in notes) == warned
    for text, warned in (("twist", True), ("recoil", True), ("spin", False), ("twist, in air", False)):
        threads = parse_reading("bifilar", f"{text}, threads 900mm, spacing 100mm, 20 swings, 39s")
        notes = calibrate(PARTS, (*BOTH, threads)).notes
        assert any(f"to the {text} weight by two threads" in note for note in notes) == warned
    both_ways = (face, parse_reading("bifilar", "twist, threads 900mm, spacing 100mm, 20 swings, 39s"))
    assert sum("'in air'" in note for note in calibrate(PARTS, (*BOTH, *both_ways)).notes) == 2
    open_face = parts_of(strung(), STRUNG_TOPS, prior_for("strung"), SIZE)
    assert not any("of air" in note for note in calibrate(open_face, (weight_reading("310"), face)).notes)
