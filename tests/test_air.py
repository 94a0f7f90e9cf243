"""The air with a face, against closed forms and integrals."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import ellipe

from model.air import AIR_G_MM3, air_of
from model.calibrate import calibrate
from model.figures import figures_of
from model.parts import parts_of
from model.priors import prior_for
from model.reading_text import made_reading, parse_reading, weight_reading
from model.swinging import pendulum_period_s
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
    open_face = parts_of(strung(), STRUNG_TOPS, prior_for("strung"), SIZE)
    assert not any("of air" in note for note in calibrate(open_face, (weight_reading("310"), face)).notes)
