"""Fitting curves to dense rings: as few points as the noise justifies, corners kept, distances honest."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LinearRing

from model.errors import OutlineError
from model.spline import Array, curve_through, dense_ring
from model.spline_fit import WORST_SDS, fit_curve, ring_distances_mm
from tests.test_spline import CIRCLE_RADIUS_MM, SQUARE, circle

SD_MM = 0.1


def noisy(ring: Array, seed: int = 1) -> Array:
    return np.asarray(ring + np.random.default_rng(seed).normal(0, SD_MM, ring.shape))


def even_square(step_mm: float = 1.0) -> Array:
    count = round(100 / step_mm)
    t = np.arange(count)[:, None] / count
    after = np.roll(SQUARE, -1, axis=0)
    return np.vstack([a + t * (b - a) for a, b in zip(SQUARE, after, strict=True)])


def test_distances_from_a_circle() -> None:
    """Points on circles 0.5 mm inside and outside are 0.5 mm away."""
    curve = fit_curve(circle(600), 0.01)
    for radius_mm in (99.5, 100.5):
        np.testing.assert_allclose(ring_distances_mm(curve, circle(50, radius_mm)), 0.5, atol=0.03)


def test_an_exact_circle_takes_few_points() -> None:
    curve = fit_curve(circle(600), 0.02)
    assert len(curve.points_mm) <= 16
    assert not curve.corners.any()
    off = np.abs(np.linalg.norm(dense_ring(curve), axis=1) - 100.0)
    assert off.max() <= WORST_SDS * 0.02


def test_noise_is_smoothed_not_followed() -> None:
    """The curve through a noisy ellipse lies nearer to the ellipse than the ring it was fitted to."""
    true = circle(900) * np.array([1.0, 2.0])
    curve = fit_curve(noisy(true), SD_MM)
    assert len(curve.points_mm) < 60
    fine = circle(20000) * np.array([1.0, 2.0])
    ring = dense_ring(curve, 0.01)
    nearest = np.array([np.linalg.norm(fine - point, axis=1).min() for point in ring])
    assert np.sqrt(np.mean(nearest**2)) < 0.8 * SD_MM


def test_less_noise_takes_more_points() -> None:
    angle = np.arange(900) / 900 * 2 * np.pi
    wavy = circle(900) * (1 + 0.01 * np.cos(12 * angle))[:, None]
    assert len(fit_curve(wavy, 0.02).points_mm) > len(fit_curve(wavy, 0.5).points_mm)


@pytest.mark.parametrize("turn", [0, 37])
def test_corners_of_a_square_are_kept(turn: int) -> None:
    """Wherever the ring starts, the four corners come out exactly and little else is needed."""
    curve = fit_curve(np.roll(even_square(), turn, axis=0), 0.05)
    assert curve.corners.sum() == 4
    kept = curve.points_mm[curve.corners]
    for corner in SQUARE:
        assert np.linalg.norm(kept - corner, axis=1).min() < 1e-9
    assert ring_distances_mm(curve, even_square()).max() < 0.05


def test_a_round_of_four_mm_is_no_corner() -> None:
    """A rounded square stays smooth: a butt cap's rounded edge may not turn into a kink."""
    inner = SQUARE * 0.92 + np.array([0.0, 4.0])
    angle = np.linspace(0, np.pi / 2, 8)
    arcs = [
        centre + 4.0 * np.column_stack([np.cos(angle + start), np.sin(angle + start)])
        for centre, start in zip(inner, np.array([2, 3, 0, 1]) * np.pi / 2, strict=True)
    ]
    closed = np.vstack([*arcs, arcs[0][:1]])
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    at = np.arange(0, along[-1] - 0.3, 0.8)
    ring = np.column_stack([np.interp(at, along, closed[:, k]) for k in range(2)])
    curve = fit_curve(ring, 0.05)
    assert not curve.corners.any()
    assert ring_distances_mm(curve, ring).max() <= WORST_SDS * 0.05


def test_each_point_may_have_its_own_sd() -> None:
    """A bump of 2 mm is followed where the ring is sure, and smoothed away where it is not."""
    ring = circle(800)
    bump = 2.0 * np.exp(-0.5 * ((np.arange(800) - 201) / 4) ** 2)
    ring = ring * (1 + bump / 100)[:, None]
    sd = np.full(800, 0.05)
    followed = ring_distances_mm(fit_curve(ring, sd), ring)[201]
    sd[181:222] = 1.5
    smoothed = ring_distances_mm(fit_curve(ring, sd), ring)[201]
    assert followed <= WORST_SDS * 0.05
    assert smoothed > 1.0


@settings(max_examples=20, deadline=None)
@given(
    st.lists(st.floats(-6, 6), min_size=5, max_size=5),
    st.lists(st.floats(-6, 6), min_size=5, max_size=5),
    st.sampled_from([0.02, 0.1, 0.4]),
    st.integers(400, 900),
    st.integers(0, 9),
)
def test_any_smooth_ring_is_kept_to(
    cosines: list[float], sines: list[float], sd: float, count: int, seed: int
) -> None:
    """Blobs with waves of two to six a round, and noise of half an sd: within one sd rms, four anywhere."""
    angle = np.arange(count) / count * 2 * np.pi
    waves = [
        a * np.cos(n * angle) + b * np.sin(n * angle)
        for n, a, b in zip(range(2, 7), cosines, sines, strict=True)
    ]
    ring = circle(count) * (1 + np.sum(waves, axis=0) / CIRCLE_RADIUS_MM)[:, None]
    ring = ring + np.random.default_rng(seed).normal(0, sd / 2, ring.shape)
    curve = fit_curve(ring, sd)
    off = ring_distances_mm(curve, ring) / sd
    assert np.sqrt(np.mean(off**2)) <= 1.0
    assert off.max() <= WORST_SDS
    assert len(curve.points_mm) < max(count / 2, 60)


def test_points_bunched_in_places() -> None:
    """A ring whose points lie close together here and 10 mm apart there, as another program writes it."""
    around = np.concatenate([np.linspace(0, 0.02, 30), np.linspace(0.1, 2 * np.pi, 60)[:-1]])
    ring = CIRCLE_RADIUS_MM * np.column_stack([np.cos(around), np.sin(around)])
    curve = fit_curve(ring, 0.1)
    assert ring_distances_mm(curve, ring).max() <= WORST_SDS * 0.1
    assert len(curve.points_mm) < 30


def test_distances_are_those_to_a_very_dense_ring() -> None:
    curve = curve_through(circle(9) * np.array([1.0, 2.0]), [True, *[False] * 8])
    points = circle(70, 96.0) * np.array([1.0, 2.0])
    fine = LinearRing(dense_ring(curve, 1e-7))
    found = shapely.distance(fine, shapely.points(points))
    np.testing.assert_allclose(ring_distances_mm(curve, points), found, atol=1e-5)


def test_a_shaft_s_two_sides_are_not_confused() -> None:
    """Two straight sides 7 mm apart: a point in the middle of one lies on the curve, not 7 mm from it."""
    corners = np.array([[-3.5, 0.0], [3.5, 0.0], [3.5, 90.0], [3.5, 200.0], [-3.5, 200.0], [-3.5, 140.0]])
    curve = curve_through(corners, [True, True, False, True, True, False])
    along = np.linspace(5.0, 195.0, 60)
    for side in (-3.5, 3.5):
        points = np.column_stack([np.full(60, side), along])
        np.testing.assert_allclose(ring_distances_mm(curve, points), 0.0, atol=1e-6)


@pytest.mark.parametrize(
    ("ring", "sd", "words"),
    [
        (circle(5), 0.1, "fewer than 8"),
        (circle(20), 0.0, "more than zero"),
        (np.full((20, 2), np.nan), 0.1, "list of"),
    ],
)
def test_unusable_rings(ring: Array, sd: float, words: str) -> None:
    with pytest.raises(OutlineError, match=words):
        fit_curve(ring, sd)
