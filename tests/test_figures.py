"""The six figures of simple bodies, and their derivatives."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from model.figures import Body, body_slopes, body_values, figures_of, six, six_slopes, slopes_by_steps
from model.moments import Array

KGCM2 = 1e5  # g mm²


def rod(mass: float, length: float) -> Array:
    """Mass integrals of a thin rod along the axis from the butt."""
    return mass * np.array([1, 0, length / 2, 0, length**2 / 3, 0])


def plate(mass: float, width: float, length: float, thickness: float) -> Array:
    """Mass integrals of a flat slab standing on the butt."""
    return mass * np.array([1, 0, length / 2, width**2 / 12, length**2 / 3, thickness**2 / 12])


TOTALS = st.tuples(
    st.floats(50, 500),
    st.floats(-5, 5),
    st.floats(200, 350),
    st.floats(50, 90),
    st.floats(300, 500),
    st.floats(1, 15),
).map(
    lambda t: np.array(
        [t[0], t[0] * t[1], t[0] * t[2], t[0] * t[3] ** 2, t[0] * (t[2] ** 2 + t[4] ** 2), t[5]]
    )
)


def test_rod() -> None:
    m, length = 300.0, 680.0
    f = figures_of(Body(body_values(rod(m, length)), np.zeros((5, 5))), 100.0)
    assert f.weight_g.value == m
    assert f.balance_mm.value == pytest.approx(length / 2)
    assert f.recoil_weight_kgcm2.value == pytest.approx(m * length**2 / 12 / KGCM2)
    assert f.spin_weight_kgcm2.value == pytest.approx(m * length**2 / 12 / KGCM2)
    assert f.twist_weight_kgcm2.value == 0.0
    assert f.swing_weight_kgcm2.value == pytest.approx(m * (length**2 / 12 + (length / 2 - 100) ** 2) / KGCM2)


def test_plate() -> None:
    m, width, length, t = 230.0, 190.0, 410.0, 14.0
    f = figures_of(Body(body_values(plate(m, width, length, t)), np.zeros((5, 5))), 50.0)
    assert f.twist_weight_kgcm2.value == pytest.approx(m * (width**2 + t**2) / 12 / KGCM2)
    assert f.recoil_weight_kgcm2.value == pytest.approx(m * (length**2 + t**2) / 12 / KGCM2)
    assert f.spin_weight_kgcm2.value == pytest.approx(m * (length**2 + width**2) / 12 / KGCM2)


def test_spin_is_about_the_balance_point_across_too() -> None:
    off_axis = np.array([10.0, 10 * 3, 10 * 200, 10 * 3**2, 10 * 200**2, 0])
    assert body_values(off_axis)[4] == pytest.approx(0.0, abs=1e-12)


@given(TOTALS, st.floats(0, 200), st.floats(0, 200))
def test_both_swing_axes_by_parallel_axes(totals: Array, one: float, other: float) -> None:
    values = body_values(totals)
    mass, balance = values[:2]
    between = mass * ((balance - other) ** 2 - (balance - one) ** 2) / KGCM2
    assert six(values, other)[2] - six(values, one)[2] == pytest.approx(between, rel=1e-9, abs=1e-9)


@given(TOTALS, st.floats(0, 200))
def test_slopes_are_derivatives(totals: Array, axis: float) -> None:
    scale = np.abs(body_slopes(totals)).max(axis=1, keepdims=True)
    got = slopes_by_steps(body_values, totals)
    assert got / scale == pytest.approx(body_slopes(totals) / scale, abs=1e-4)
    values = body_values(totals)
    steps = slopes_by_steps(lambda v: six(v, axis), values)
    assert steps == pytest.approx(six_slopes(values, axis), rel=1e-5, abs=1e-7)


def test_sds_combine_weight_and_balance_as_they_should() -> None:
    values = body_values(rod(300.0, 680.0))
    cov = np.diag([0.5**2, 1.0**2, 0, 0, 0])
    f = figures_of(Body(values, cov), 100.0)
    d = 680 / 2 - 100
    want = np.hypot(0.5 * d**2, 1.0 * 2 * 300 * d) / KGCM2
    assert f.swing_weight_kgcm2.sd == pytest.approx(want, rel=1e-12)
    assert f.weight_g.sd == 0.5
