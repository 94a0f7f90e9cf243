"""Curves through points against closed forms: circle, ellipse, polygons; lengths and places along them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ellipe

from model.errors import OutlineError
from model.spline import Array, along_from_tip, curve_through, dense_ring, place_along, tip_place

CIRCLE_RADIUS_MM = 100.0
SQUARE = np.array([[-50.0, 0.0], [50.0, 0.0], [50.0, 100.0], [-50.0, 100.0]])


def circle(count: int, radius_mm: float = CIRCLE_RADIUS_MM, clockwise: bool = False) -> Array:
    angle = np.arange(count) / count * 2 * np.pi * (-1 if clockwise else 1) + 0.3
    return radius_mm * np.column_stack([np.cos(angle), np.sin(angle)])


def test_curve_passes_through_its_points() -> None:
    curve = curve_through(circle(16))
    np.testing.assert_allclose(curve.pieces(curve.knots[:-1]), circle(16), atol=1e-9)
    np.testing.assert_allclose(curve.pieces(curve.knots[-1]), circle(16)[0], atol=1e-9)


@pytest.mark.parametrize("count", [12, 24])
def test_circle_to_the_fourth_order(count: int) -> None:
    """Cubic interpolation over the chord misses by at most 5/384 h⁴ |f⁗| and a little for the chord."""
    curve = curve_through(circle(count))
    off = np.abs(np.linalg.norm(dense_ring(curve, 1e-4), axis=1) - CIRCLE_RADIUS_MM)
    bound_mm = CIRCLE_RADIUS_MM * 5 / 384 * (2 * np.pi / count) ** 4
    assert 0 < off.max() < bound_mm


def test_curve_is_smooth_to_the_second_derivative() -> None:
    curve = curve_through(circle(10) * np.array([1.0, 2.5]))
    for order in (1, 2):
        slope = curve.pieces.derivative(order)
        for knot in curve.knots[1:-1]:
            np.testing.assert_allclose(slope(knot - 1e-9), slope(knot + 1e-9), atol=1e-6)
        np.testing.assert_allclose(slope(0.0), slope(curve.knots[-1]), atol=1e-9)


def test_corners_between_two_points_are_joined_by_lines() -> None:
    curve = curve_through(SQUARE, [True] * 4)
    ring = dense_ring(curve)
    np.testing.assert_allclose(ring, SQUARE, atol=1e-12)
    assert curve.lengths_mm[-1] == pytest.approx(400.0, abs=1e-9)


def test_a_straight_side_stays_straight_beside_a_round_one() -> None:
    """A half disc: corners at both ends of the diameter keep the arc out of it."""
    arc = CIRCLE_RADIUS_MM * np.column_stack(
        [np.cos(np.linspace(0, np.pi, 13)), np.sin(np.linspace(0, np.pi, 13))]
    )
    curve = curve_through(arc, [True, *[False] * 11, True])
    last = curve.pieces(np.linspace(curve.knots[-2], curve.knots[-1], 20))
    assert np.abs(last[:, 1]).max() < 1e-9
    assert curve.lengths_mm[-1] == pytest.approx(CIRCLE_RADIUS_MM * (np.pi + 2), abs=0.05)


def test_a_moved_curve_is_the_curve_through_moved_points() -> None:
    by_mm = np.array([30.0, -7.0])
    curve = curve_through(circle(9), [True, *[False] * 8])
    moved, anew = curve.moved(by_mm), curve_through(circle(9) + by_mm, curve.corners)
    np.testing.assert_allclose(moved.points_mm, anew.points_mm, atol=1e-12)
    np.testing.assert_allclose(dense_ring(moved), dense_ring(anew), atol=1e-9)
    assert moved.lengths_mm[-1] == pytest.approx(curve.lengths_mm[-1], abs=1e-9)


def test_one_corner_only() -> None:
    curve = curve_through(circle(12), [True, *[False] * 11])
    np.testing.assert_allclose(np.linalg.norm(dense_ring(curve), axis=1), CIRCLE_RADIUS_MM, atol=0.3)


@pytest.mark.parametrize("tolerance_mm", [0.5, 0.05, 0.005])
def test_dense_ring_keeps_its_tolerance(tolerance_mm: float) -> None:
    curve = curve_through(circle(20) * np.array([1.0, 2.0]))
    ring = dense_ring(curve, tolerance_mm)
    fine = dense_ring(curve, 1e-5)
    after = np.roll(ring, -1, axis=0) - ring
    apart = fine[:, None, :] - ring[None, :, :]
    share = np.clip(np.sum(apart * after, axis=2) / np.sum(after**2, axis=1), 0, 1)
    off = np.linalg.norm(apart - share[..., None] * after, axis=2).min(axis=1)
    assert off.max() <= tolerance_mm
    assert len(ring) < len(fine)


def test_bezier_handles_trace_the_same_curve() -> None:
    curve = curve_through(circle(9) * np.array([1.0, 1.7]), [True, *[False] * 8])
    for piece in range(9):
        a, b, c, d = curve.bezier_mm[piece]
        for t in (0.0, 0.3, 1.0):
            u = curve.knots[piece] + t * (curve.knots[piece + 1] - curve.knots[piece])
            bezier = (1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t**2 * (1 - t) * c + t**3 * d
            np.testing.assert_allclose(bezier, curve.pieces(u), atol=1e-9)


def test_length_of_a_circle_and_an_ellipse() -> None:
    assert curve_through(circle(64)).lengths_mm[-1] == pytest.approx(2 * np.pi * CIRCLE_RADIUS_MM, abs=1e-3)
    ellipse = curve_through(circle(200) * np.array([1.0, 2.0]))
    around_mm = 4 * 2 * CIRCLE_RADIUS_MM * float(ellipe(1 - 0.5**2))
    assert ellipse.lengths_mm[-1] == pytest.approx(around_mm, abs=1e-3)


def test_lengths_agree_with_the_dense_ring() -> None:
    curve = curve_through(circle(11) * np.array([1.0, 2.0]), [True, *[False] * 10])
    ring = dense_ring(curve, 1e-6)
    around_mm = np.linalg.norm(np.roll(ring, -1, axis=0) - ring, axis=1).sum()
    assert curve.lengths_mm[-1] == pytest.approx(around_mm, abs=1e-3)


@pytest.mark.parametrize("clockwise", [False, True])
def test_places_from_the_tip_whatever_the_winding(clockwise: bool) -> None:
    """A quarter of a circle to the right of the tip lies at (r, 0), to the left at (-r, 0)."""
    curve = curve_through(circle(48, clockwise=clockwise))
    quarter_mm = np.pi / 2 * CIRCLE_RADIUS_MM
    np.testing.assert_allclose(curve.pieces(tip_place(curve)), [0, CIRCLE_RADIUS_MM], atol=2e-3)
    for sign in (1, -1):
        u = place_along(curve, sign * quarter_mm)
        np.testing.assert_allclose(curve.pieces(u), [sign * CIRCLE_RADIUS_MM, 0], atol=5e-3)
        assert along_from_tip(curve, u) == pytest.approx(sign * quarter_mm, abs=1e-5)


@settings(max_examples=30, deadline=None)
@given(st.floats(-300, 300), st.booleans())
def test_place_and_distance_undo_each_other(s_mm: float, clockwise: bool) -> None:
    curve = curve_through(circle(24, clockwise=clockwise) * np.array([0.9, 1.1]))
    assert along_from_tip(curve, place_along(curve, s_mm)) == pytest.approx(s_mm, abs=1e-5)


@pytest.mark.parametrize(
    ("points", "corners", "words"),
    [
        (SQUARE[:2], None, "at least 3 points"),
        ([[0, 0], [1, np.nan], [2, 0]], None, "not a finite number"),
        ("no points", None, "list of"),
        ([[0, 0], [0, 0], [2, 0]], None, "same spot"),
        (SQUARE, [True], "corner flags"),
    ],
)
def test_unusable_points(points: object, corners: list[bool] | None, words: str) -> None:
    with pytest.raises(OutlineError, match=words):
        curve_through(points, corners)  # type: ignore[arg-type]


def test_a_curve_off_the_axis_has_no_tip() -> None:
    with pytest.raises(OutlineError, match="does not cross its long axis"):
        tip_place(curve_through(circle(8) + np.array([500.0, 0.0])))
