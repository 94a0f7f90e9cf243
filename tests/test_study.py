"""Before, after and change."""

from __future__ import annotations

import numpy as np
import pytest

from model.figures import FIGURE_NAMES, Body, body_values
from model.study import Study, study
from tests.model_samples import EXACT_SIZE

KGCM2 = 1e5
BOTH = 0.01**2 * np.ones((2, 2))  # length and width may be 1 % larger, together
BAR = 300 * np.array([1, 0, 340, 400.0, 340**2 + 680**2 / 12, 30])
BODY = Body(body_values(BAR), np.diag([0.5, 1.0, 1.5, 0.2, 1.6]) ** 2)
POINT = 5 * np.array([1.0, 100, 500, 100**2, 500**2, 16])


def values(result: Study, which: str) -> list[float]:
    return [getattr(getattr(result, which), name).value for name in FIGURE_NAMES]


def test_after_is_the_sum_of_the_mass_integrals() -> None:
    result = study(BODY, POINT, 100.0, EXACT_SIZE)
    weight, balance, recoil, twist, spin = body_values(BAR + POINT)
    swing = recoil + weight * (balance - 100) ** 2 / KGCM2
    assert values(result, "after") == pytest.approx([weight, balance, swing, twist, recoil, spin], rel=1e-12)


def test_change_is_after_minus_before() -> None:
    result = study(BODY, POINT, 100.0, BOTH)
    want = np.array(values(result, "after")) - np.array(values(result, "before"))
    assert values(result, "change") == pytest.approx(want, rel=1e-12)


def test_a_point_mass_in_closed_form() -> None:
    change = study(BODY, POINT, 50.0, EXACT_SIZE).change
    assert change.swing_weight_kgcm2.value == pytest.approx(5 * ((500 - 50) ** 2 + 16) / KGCM2)
    assert change.twist_weight_kgcm2.value == pytest.approx(5 * (100**2 + 16) / KGCM2)
    reduced = 300 * 5 / 305  # two bodies about their common centre
    assert change.recoil_weight_kgcm2.value == pytest.approx((reduced * (500 - 340) ** 2 + 5 * 16) / KGCM2)
    assert change.spin_weight_kgcm2.value == pytest.approx(reduced * ((500 - 340) ** 2 + 100**2) / KGCM2)


def test_what_depends_on_geometry_alone_is_sure() -> None:
    change = study(BODY, POINT, 50.0, EXACT_SIZE).change
    assert change.weight_g.sd == pytest.approx(0.0, abs=1e-9)
    assert change.swing_weight_kgcm2.sd == pytest.approx(0.0, abs=1e-7)
    assert change.twist_weight_kgcm2.sd == pytest.approx(0.0, abs=1e-9)
    by_weight = 5 * (500 - 340) / 305**2
    assert change.balance_mm.sd == pytest.approx(np.hypot(5 / 305 * 1.0, by_weight * 0.5), rel=1e-6)


def test_doubt_about_scale_reaches_the_change() -> None:
    change = study(BODY, POINT, 0.0, BOTH).change
    assert change.twist_weight_kgcm2.sd == pytest.approx(0.01 * 2 * 5 * 100**2 / KGCM2, rel=1e-6)
    assert change.swing_weight_kgcm2.sd == pytest.approx(0.01 * 2 * 5 * 500**2 / KGCM2, rel=1e-6)


def test_doubt_about_the_width_is_doubt_about_twist_and_of_the_length_about_swing() -> None:
    """The centre of mass is known here, so that spin's change is that of both."""
    size_cov = np.array([[0.01**2, 0.5 * 0.01 * 0.03], [0.5 * 0.01 * 0.03, 0.03**2]])
    change = study(Body(BODY.values, 0 * BODY.cov), POINT, 0.0, size_cov).change
    assert change.twist_weight_kgcm2.sd == pytest.approx(0.03 * 2 * 5 * 100**2 / KGCM2, rel=1e-6)
    assert change.swing_weight_kgcm2.sd == pytest.approx(0.01 * 2 * 5 * 500**2 / KGCM2, rel=1e-6)
    reduced = 300 * 5 / 305
    along, across = 0.01 * 2 * reduced * (500 - 340) * 500 / KGCM2, 0.03 * 2 * reduced * 100**2 / KGCM2
    spin_sd = np.sqrt(along**2 + across**2 + 2 * 0.5 * along * across)
    assert change.spin_weight_kgcm2.sd == pytest.approx(spin_sd, rel=1e-5)


def test_sds_against_drawn_bodies() -> None:
    rng = np.random.default_rng(3)
    drawn = rng.multivariate_normal(BODY.values, BODY.cov, 4000)
    results = np.array(
        [values(study(Body(v, 0 * BODY.cov), POINT, 50.0, EXACT_SIZE), "after") for v in drawn]
    )
    got = study(BODY, POINT, 50.0, EXACT_SIZE).after
    assert [getattr(got, n).sd for n in FIGURE_NAMES] == pytest.approx(results.std(axis=0), rel=0.05)


def test_per_gram_the_mass_cancels_out_of_what_it_moves_in_proportion() -> None:
    """Of a piece of uncertain mass: weight per gram is 1 and twist per gram its own, whatever it weighs."""
    placed = 0.1**2 * np.outer(POINT / 5, POINT / 5)
    per_gram = study(BODY, POINT, 50.0, EXACT_SIZE, placed).per_gram
    assert (per_gram.weight_g.value, per_gram.weight_g.sd) == pytest.approx((1.0, 0.0), abs=1e-8)
    assert per_gram.twist_weight_kgcm2.value == pytest.approx((100**2 + 16) / KGCM2)
    assert per_gram.twist_weight_kgcm2.sd == pytest.approx(0.0, abs=1e-8)
    exact = study(BODY, POINT, 50.0, EXACT_SIZE).per_gram
    by_mass = 0.1 * (500 - 340) / 305**2  # of (y - balance) / (weight + mass)
    assert per_gram.balance_mm.sd == pytest.approx(np.hypot(by_mass, exact.balance_mm.sd), rel=1e-5)


def test_per_gram_against_drawn_pieces_that_err_in_mass_and_place() -> None:
    rng = np.random.default_rng(8)
    by_place = 5 * np.array([0, 3.0, 2.0, 2 * 100 * 3, 2 * 500 * 2, 0])
    placed = 0.3**2 * np.outer(POINT / 5, POINT / 5) + np.outer(by_place, by_place)
    drawn = [
        values(study(Body(BODY.values, 0 * BODY.cov), added, 50.0, EXACT_SIZE), "per_gram")
        for added in rng.multivariate_normal(POINT, placed, 1500)
    ]
    got = study(Body(BODY.values, 0 * BODY.cov), POINT, 50.0, EXACT_SIZE, placed).per_gram
    sds = [getattr(got, n).sd for n in FIGURE_NAMES]
    assert sds == pytest.approx(np.std(drawn, axis=0), rel=0.07, abs=1e-7)


def test_nothing_added_changes_nothing() -> None:
    assert values(study(BODY, np.zeros(6), 50.0, BOTH), "change") == pytest.approx(np.zeros(6), abs=1e-12)
