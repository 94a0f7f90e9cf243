"""Timed swings against closed forms: rod, plate, ring."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp
from scipy.optimize import fsolve, minimize_scalar

from model.moments import Array
from model.swinging import (
    GRAVITY_MM_S2,
    amplitude_factor,
    bifilar_inertia_kgcm2,
    bifilar_lever_mm,
    bifilar_period_s,
    pendulum_inertia_kgcm2,
    pendulum_period_s,
)

G = GRAVITY_MM_S2


@pytest.mark.parametrize("degrees", [10.0, 20.0, 30.0])
def test_amplitude_against_the_integral_and_the_series(degrees: float) -> None:
    """T / T0 = 2/π ∫ dφ / √(1 - k² sin² φ), k = sin(θ/2), and its series to the sixth power."""
    k, t = math.sin(math.radians(degrees) / 2), math.radians(degrees)
    integral = quad(lambda phi: 1 / math.sqrt(1 - (k * math.sin(phi)) ** 2), 0, math.pi / 2)[0]
    assert amplitude_factor(degrees) == pytest.approx(2 / math.pi * integral, rel=1e-12)
    series = 1 + t**2 / 16 + 11 * t**4 / 3072 + 173 * t**6 / 737280
    assert amplitude_factor(degrees) == pytest.approx(series, rel=2e-6)


def test_amplitude_against_a_swing_followed_in_time() -> None:
    """A quarter of a swing from 30° of θ'' = -sin θ takes π/2 times the factor."""

    def at_bottom(_: float, y: list[float]) -> float:
        return y[0]

    at_bottom.terminal = True  # type: ignore[attr-defined]
    start = [math.radians(30), 0.0]
    path = solve_ivp(
        lambda _, y: [y[1], -math.sin(y[0])], (0, 3), start, events=at_bottom, rtol=1e-10, atol=1e-12
    )
    assert path.t_events[0][0] == pytest.approx(math.pi / 2 * amplitude_factor(30.0), rel=1e-8)


def test_a_uniform_rod_hung_from_its_end() -> None:
    """T = 2π √(2 L / 3 g), whatever its mass; I = M L² / 3."""
    length, mass = 400.0, 250.0
    period = 2 * math.pi * math.sqrt(2 * length / (3 * G))
    assert pendulum_inertia_kgcm2(mass, length / 2, period) == pytest.approx(
        mass * length**2 / 3 / 1e5, rel=1e-12
    )


def test_a_ring_hung_from_its_rim() -> None:
    """Swinging in its own plane: I = 2 M R², so T = 2π √(2R / g); broadside: 3/2 M R²."""
    radius, mass = 120.0, 130.0
    assert pendulum_period_s(2 * mass * radius**2 / 1e5, mass, radius) == pytest.approx(
        2 * math.pi * math.sqrt(2 * radius / G), rel=1e-12
    )
    assert pendulum_period_s(1.5 * mass * radius**2 / 1e5, mass, radius) == pytest.approx(
        2 * math.pi * math.sqrt(1.5 * radius / G), rel=1e-12
    )


def test_a_plate_hung_from_its_upper_side() -> None:
    """A plate of height h swinging broadside: I = M h² / 3, T = 2π √(2 h / 3 g)."""
    height, mass = 300.0, 200.0
    inertia = pendulum_inertia_kgcm2(mass, height / 2, 2 * math.pi * math.sqrt(2 * height / (3 * G)))
    assert inertia == pytest.approx(mass * height**2 / 3 / 1e5, rel=1e-12)


def test_a_round_pivot_against_the_lagrangian() -> None:
    """A flat resting on a round bar: energies to second order in the turn, by finite differences."""
    mass, arm, radius, central = 231.0, 208.0, 4.0, 40.0

    def height(
        turn: float,
    ) -> float:  # of the balance point; contact at (r sin, r cos), moved along the flat by r turn
        return radius * math.cos(turn) + radius * turn * math.sin(turn) - arm * math.cos(turn)

    step = 1e-3
    bend = (height(step) - 2 * height(0.0) + height(-step)) / step**2
    inertia = central + mass * arm**2 / 1e5
    want = 2 * math.pi * math.sqrt(inertia * 1e5 / (mass * G * bend))
    assert pendulum_period_s(inertia, mass, arm, radius) == pytest.approx(want, rel=1e-6)
    assert pendulum_period_s(inertia, mass, arm, radius) < pendulum_period_s(inertia, mass, arm)


def test_a_rod_on_two_parallel_threads() -> None:
    """I = M L² / 12 and T = 2π (L / d) √(h / 3 g) for threads d apart and h long."""
    length, mass, apart, threads = 500.0, 180.0, 300.0, 900.0
    period = 2 * math.pi * length / apart * math.sqrt(threads / (3 * G))
    lever = bifilar_lever_mm(threads, apart)
    assert bifilar_inertia_kgcm2(mass, lever, period) == pytest.approx(mass * length**2 / 12 / 1e5, rel=1e-12)


def test_a_plate_and_a_ring_on_two_threads() -> None:
    """Hung flat: plate M (a² + b²) / 12, ring M R²; the period scales with the root of either."""
    mass, lever = 200.0, bifilar_lever_mm(800.0, 160.0)
    assert lever == pytest.approx(160.0**2 / (4 * 800.0))
    for inertia in (mass * (200.0**2 + 300.0**2) / 12 / 1e5, mass * 120.0**2 / 1e5):
        want = 2 * math.pi * math.sqrt(inertia * 1e5 * 4 * 800.0 / (mass * G * 160.0**2))
        assert bifilar_period_s(inertia, mass, lever) == pytest.approx(want, rel=1e-12)


@pytest.mark.parametrize(("bottom", "top"), [(150.0, 150.0), (150.0, 230.0), (240.0, 100.0)])
def test_threads_that_lean_against_the_geometry(bottom: float, top: float) -> None:
    """The rise of a body turned by a small angle on threads of unequal spacing, by finite differences."""
    thread, step = 700.0, 1e-3

    def drop(turn: float) -> float:
        across = (top**2 + bottom**2 - 2 * top * bottom * math.cos(turn)) / 4
        return -math.sqrt(thread**2 - across)

    bend = (drop(step) - 2 * drop(0.0) + drop(-step)) / step**2
    assert bifilar_lever_mm(thread, bottom, top) == pytest.approx(bend, rel=1e-6)


def test_a_balance_point_off_the_middle() -> None:
    """Parallel threads at d1 and d2 from the balance point: λ = d1 d2 / h."""
    assert bifilar_lever_mm(900.0, 200.0, offset_mm=30.0) == pytest.approx(130.0 * 70.0 / 900.0, rel=1e-12)


def energy_lever_mm(thread: float, bottom: float, top: float, offset: float) -> float:
    """λ from the height of a body, its balance point level with the threads' lower ends, that is turned
    a little on the spot where it hangs lowest, tilted as both threads' lengths want it."""

    def height(turn: float, x: float) -> float:
        def too_long(place: Array) -> list[float]:
            z, tilt = place
            found = []
            for side in (-1, 1):
                u = side * bottom / 2 - offset
                flat, up = u * math.cos(tilt), z - u * math.sin(tilt)
                away = (x + flat * math.cos(turn) - side * top / 2, flat * math.sin(turn), up)
                found.append(math.hypot(*away) - thread)
            return found

        return float(fsolve(too_long, [-thread, 0.0], xtol=1e-12)[0])

    hangs = minimize_scalar(lambda x: height(0.0, x), bounds=(0.0, top / 2), method="bounded").x
    step = 0.03
    return (height(step, hangs) - 2 * height(0.0, hangs) + height(-step, hangs)) / step**2


@pytest.mark.parametrize(
    ("thread", "bottom", "top", "offset", "too_small"),
    [
        (900.0, 200.0, 200.0, 30.0, 0.0),
        (900.0, 200.0, 245.0, 40.0, 0.0),
        (300.0, 100.0, 85.0, 30.0, 0.0),
        (300.0, 150.0, 250.0, 30.0, 0.0116),
    ],
)
def test_off_the_middle_on_leaning_threads_is_as_near_as_is_said(
    thread: float, bottom: float, top: float, offset: float, too_small: float
) -> None:
    want = energy_lever_mm(thread, bottom, top, offset)
    assert bifilar_lever_mm(thread, bottom, top, offset) == pytest.approx(want * (1 - too_small), rel=1e-3)


@given(st.floats(50, 400), st.floats(20, 400), st.floats(0, 10), st.floats(20, 300))
def test_there_and_back(mass: float, arm: float, radius: float, central: float) -> None:
    inertia = central + mass * arm**2 / 1e5
    period = pendulum_period_s(inertia, mass, arm, radius)
    assert pendulum_inertia_kgcm2(mass, arm, period, radius) == pytest.approx(inertia, rel=1e-12)
    assert bifilar_inertia_kgcm2(mass, 8.0, bifilar_period_s(inertia, mass, 8.0)) == pytest.approx(inertia)
