"""Effective mass, steadiness area, centre of percussion: closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from model.face import with_hoop
from model.figures import Body, body_values
from model.impact import (
    FreeBody,
    effective_mass_g,
    free_body,
    has_percussion,
    hitting_face,
    percussion_mm,
    steadiness,
)
from model.study import triple
from tests.model_samples import EXACT_SIZE, HANDLE_TOP, STRUNG_TOPS, paddle, strung

ROD = FreeBody(300.0, 0.0, 340.0, 300 * 680**2 / 12, 300 * 200**2 / 12)


def test_at_the_centre_of_mass_the_whole_mass_is_met() -> None:
    assert effective_mass_g(ROD, np.array([0.0, 340.0])) == pytest.approx(300)


def test_at_the_end_of_a_uniform_rod_a_quarter_is_met() -> None:
    """1/m + (L/2)² 12 / (m L²) = 4/m."""
    assert effective_mass_g(ROD, np.array([0.0, 680.0])) == pytest.approx(75)
    assert effective_mass_g(ROD, np.array([[100.0, 340.0], [100, 680]])) == pytest.approx([75, 300 / 7])


def test_off_axis_mass_moves_the_twist_axis() -> None:
    values = np.array([200.0, 300.0, 50.0, 12.0, 60.0])
    body = free_body(values, 2.0)
    assert body.twist_gmm2 == pytest.approx(12e5 - 200 * 4)


def test_steadiness_area_is_an_ellipse() -> None:
    """Within 10 %: 1/(0.9 M) - 1/M = 1/(9 M), so semi-axes are sqrt(I / (9 M)) each."""
    found = steadiness(ROD, box(-400, 0, 400, 800))
    want = math.pi * math.sqrt(ROD.recoil_gmm2 * ROD.twist_gmm2) / (9 * 300) / 100
    assert found.best_g == pytest.approx(300)
    assert found.best_at_mm == pytest.approx((0, 340))
    assert found.level_g == pytest.approx(270)
    assert found.area_cm2 == pytest.approx(want, rel=1e-6)


def test_steadiness_when_the_balance_point_lies_below_the_face() -> None:
    found = steadiness(ROD, box(-100, 500, 100, 700))
    best = 1 / (1 / 300 + 160**2 / ROD.recoil_gmm2)
    assert found.best_at_mm == pytest.approx((0, 500))
    assert found.best_g == pytest.approx(best)
    points = np.array(found.area.exterior.coords)
    on_border = points[(points[:, 1] > 500.001)]
    assert effective_mass_g(ROD, on_border) == pytest.approx(np.full(len(on_border), 0.9 * best), rel=1e-4)


def test_a_level_of_ones_own() -> None:
    face = box(-400, 0, 400, 800)
    assert steadiness(ROD, face, 270.0).area_cm2 == pytest.approx(steadiness(ROD, face).area_cm2)
    assert steadiness(ROD, face, 301.0).area_cm2 == 0.0


@settings(deadline=None)
@given(st.floats(-150, 150), st.floats(10, 650))
def test_effective_mass_by_collision(x: float, y: float) -> None:
    """Momentum and energy of an elastic hit by a ball give the same effective mass."""
    ball, speed = 60.0, 1.0
    free = float(effective_mass_g(ROD, np.array([x, y])))
    impulse = 2 * speed / (1 / ball + 1 / free)
    racquet = impulse / ROD.mass_g
    turn, twist = impulse * (y - 340) / ROD.recoil_gmm2, impulse * x / ROD.twist_gmm2
    energy = (
        ball * (speed - impulse / ball) ** 2
        + ROD.mass_g * racquet**2
        + ROD.recoil_gmm2 * turn**2
        + ROD.twist_gmm2 * twist**2
    )
    assert energy == pytest.approx(ball * speed**2, rel=1e-9)


def test_centre_of_percussion_of_a_rod_held_at_its_end() -> None:
    totals = 300 * np.array([1, 0, 340, 0, 680**2 / 3, 0.0])
    assert percussion_mm(body_values(totals), 0.0) == pytest.approx(680 * 2 / 3)
    assert percussion_mm(body_values(totals), 340.0) == math.inf
    far = {
        axis: has_percussion(body_values(totals), axis) for axis in (0.0, 330.0, 339.0, 340.0, 342.0, 350.0)
    }
    assert [axis for axis, there in far.items() if not there] == [339.0, 340.0, 342.0]


def test_hitting_faces() -> None:
    face = hitting_face(paddle(), HANDLE_TOP, strung=False)
    assert face.bounds == pytest.approx((-95, 130, 95, 410))
    bed = hitting_face(strung(), with_hoop(strung(), STRUNG_TOPS), strung=True)
    assert bed.equals(Polygon(strung().openings_mm[1]))


def test_quantities_carry_their_sd() -> None:
    values = body_values(300 * np.array([1, 0, 340, 3000.0, 680**2 / 3, 0.0]))
    cov = np.diag([0.5, 1.0, 1.5, 0.2, 1.6]) ** 2
    at = np.array([20.0, 500.0])

    def quantity(body: np.ndarray, x: float) -> np.ndarray:
        return np.array([effective_mass_g(free_body(body, x), at)])

    added = 5 * np.array([1.0, 100, 500, 100**2, 500**2, 16])
    got = triple(quantity, Body(values, cov), added, EXACT_SIZE)
    rng = np.random.default_rng(5)
    drawn = np.array([quantity(v, 0.0)[0] for v in rng.multivariate_normal(values, cov, 4000)])
    assert got.before_sd[0] == pytest.approx(drawn.std(), rel=0.05)
    assert got.change[0] == pytest.approx(got.after[0] - got.before[0])
    assert got.after[0] > got.before[0]
