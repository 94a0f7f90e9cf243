"""From outline and readings to a racquet file."""

from __future__ import annotations

import numpy as np
import pytest

from model.build import Known, Traced, body_of, build_racquet, outline_of, relative_size_cov, site_in
from model.errors import ModelError, ReadingError
from model.figures import figures_of
from model.reading_text import balance_reading, parse_reading, weight_reading
from model.readings import BalanceReading, Reading, WeightReading
from tests.model_samples import HANDLE_TOP, STRUNG_TOPS, paddle, paddle_file, perforated, strung

READINGS = (weight_reading("228"), balance_reading("238"))


def known(*readings: Reading, face: float | None = 14.0, axis: float | None = None) -> Known:
    return Known("solid", face, 29.0, readings, axis)


def test_the_file_says_what_was_read() -> None:
    file = paddle_file()
    assert file.readings == [WeightReading(value=228.0, sd=0.5), BalanceReading(value=238.0, sd=1.0)]
    assert file.figures.weight_g.value == pytest.approx(228.0, abs=0.1)
    assert sum(part.mass_g.value for part in file.parts) == pytest.approx(file.figures.weight_g.value)
    assert file.thickness.face_source == "stated"


def test_swing_is_recoil_and_mass_at_the_balance_point() -> None:
    f = paddle_file().figures
    d = f.balance_mm.value - 50
    want = f.recoil_weight_kgcm2.value + f.weight_g.value * d**2 / 1e5
    assert f.swing_weight_kgcm2.value == pytest.approx(want, rel=1e-12)


def test_the_swing_axis_can_be_chosen_and_restated() -> None:
    at_100 = build_racquet(paddle(), HANDLE_TOP, known(*READINGS, axis=100.0)).figures.swing_weight_kgcm2
    again = figures_of(
        body_of(build_racquet(paddle(), HANDLE_TOP, known(*READINGS))), 100.0
    ).swing_weight_kgcm2
    assert at_100.axis_mm == 100.0
    assert (at_100.value, at_100.sd) == pytest.approx((again.value, again.sd), rel=1e-9)


def test_each_construction_is_built() -> None:
    for outline, marks, name, axis in (
        (paddle(), HANDLE_TOP, "solid", 50.0),
        (perforated(), HANDLE_TOP, "perforated", 50.0),
        (strung(), STRUNG_TOPS, "strung", 100.0),
    ):
        file = build_racquet(outline, marks, Known(name))
        assert file.figures.swing_weight_kgcm2.axis_mm == axis
        assert file.thickness.face_source == "default"
        assert any("no weight reading" in note for note in file.notes)
    assert file.landmarks.throat_top_mm is not None


def test_unknown_thickness_widens_twist() -> None:
    stated = build_racquet(perforated(), HANDLE_TOP, Known("perforated", 36.0, 31.0, READINGS)).figures
    unstated = build_racquet(perforated(), HANDLE_TOP, Known("perforated", None, 31.0, READINGS)).figures
    assert unstated.twist_weight_kgcm2.value == pytest.approx(stated.twist_weight_kgcm2.value, rel=1e-6)
    assert unstated.twist_weight_kgcm2.sd > stated.twist_weight_kgcm2.sd


def test_a_weight_makes_every_figure_surer() -> None:
    guess = build_racquet(paddle(), HANDLE_TOP, known()).figures
    weighed = build_racquet(paddle(), HANDLE_TOP, known(weight_reading("228"))).figures
    both = build_racquet(paddle(), HANDLE_TOP, known(*READINGS)).figures
    for name in ("weight_g", "swing_weight_kgcm2", "twist_weight_kgcm2"):
        assert getattr(guess, name).sd > getattr(weighed, name).sd
    assert both.swing_weight_kgcm2.sd < weighed.swing_weight_kgcm2.sd / 2


@pytest.mark.parametrize("balance", ["500", "5"])
def test_impossible_balance(balance: str) -> None:
    with pytest.raises(ReadingError, match="must be between"):
        build_racquet(paddle(), HANDLE_TOP, known(weight_reading("228"), balance_reading(balance)))


@pytest.mark.parametrize("face", [0.0, -3.0, 1400.0])
def test_impossible_thickness(face: float) -> None:
    with pytest.raises(ModelError, match="face thickness must be between 2 and 100 mm"):
        build_racquet(paddle(), HANDLE_TOP, known(face=face))


def test_back_from_the_file() -> None:
    traced = Traced(length_sd_mm=0.82, width_sd_mm=0.57, size_correlation=0.5)
    file = build_racquet(paddle(), HANDLE_TOP, known(*READINGS), traced)
    assert outline_of(file).outer_mm == pytest.approx(paddle().outer_mm)
    assert relative_size_cov(file) == pytest.approx(np.array([[4e-6, 3e-6], [3e-6, 9e-6]]))
    assert site_in(file).centre_mm == (0.0, 270.0)
    assert np.sqrt(body_of(file).cov[0, 0]) == pytest.approx(file.figures.weight_g.sd)


def test_a_tape_measure_on_the_length_leaves_the_width_s_own_doubt() -> None:
    """Of normal laws: what the width's sd was beside the length stays, the rest shrinks with the length's."""
    traced = Traced(length_sd_mm=0.82, width_sd_mm=0.57, size_correlation=0.5)
    readings = (*READINGS, parse_reading("length", "410, sd 0.82"))
    cov = relative_size_cov(build_racquet(paddle(), HANDLE_TOP, known(*readings), traced))
    slope = 0.5 * 3e-3 / 2e-3
    assert cov[0, 0] == pytest.approx(4e-6 / 2, rel=0.01)
    assert cov[0, 1] == pytest.approx(slope * cov[0, 0], rel=0.01)
    assert cov[1, 1] == pytest.approx(9e-6 * (1 - 0.5**2) + slope**2 * cov[0, 0], rel=0.01)


@pytest.mark.parametrize("axis", [9999.0, -500.0, float("nan"), float("inf")])
def test_a_swing_axis_nowhere_near_the_racquet_is_refused(axis: float) -> None:
    with pytest.raises(ModelError, match=rf"swing axis {axis:g} mm is nowhere near this racquet of 410 mm"):
        build_racquet(paddle(), HANDLE_TOP, known(*READINGS, axis=axis))
    for near in (-410.0, 820.0):
        file = build_racquet(paddle(), HANDLE_TOP, known(*READINGS, axis=near))
        assert file.figures.swing_weight_kgcm2.axis_mm == near


@pytest.mark.parametrize("sd", [1e-5, 1e-6])
def test_readings_of_any_exactness_make_a_file(sd: float) -> None:
    """Of so small variances rounding leaves a covariance that differs in its last digits both ways round."""
    exact = (WeightReading(value=228.0, sd=sd), BalanceReading(value=238.0, sd=sd))
    file = build_racquet(paddle(), HANDLE_TOP, known(*exact))
    matrix = np.array(file.figures_covariance.matrix)
    assert (matrix == matrix.T).all()
    assert file.figures.weight_g.sd == pytest.approx(sd, rel=0.05)
