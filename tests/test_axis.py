"""The racquet's frame, edges as doubled angles, and the mirror axis of drawn shapes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitise.axis import EDGE_HALF_STRENGTH, SOFT_SHARE, Axis, edge_field, find_axes
from digitise.tone import Image
from tests.drawn_view import axis_at, cover, empty_view, paddle_ring


@given(st.floats(-500, 500), st.floats(-500, 500), st.floats(0, 360))
def test_points_go_to_the_racquet_and_back(x: float, y: float, turn_deg: float) -> None:
    axis = axis_at(x, y, turn_deg)
    points = np.array([[0.0, 0.0], [12.0, -40.0], [-300.0, 250.0]])
    np.testing.assert_allclose(axis.to_world(axis.to_racquet(points)), points, atol=1e-9)
    np.testing.assert_allclose(np.linalg.norm(axis.to_world(points) - axis.origin_mm, axis=1),
                               np.linalg.norm(points, axis=1), atol=1e-9)  # fmt: skip


def test_frame_by_hand() -> None:
    along_x = Axis(np.array([10.0, 20.0]), np.array([1.0, 0.0]))
    np.testing.assert_allclose(along_x.right, [0.0, -1.0])
    # 3 to the racquet's right is 3 down in the world, 7 up the handle is 7 along x.
    np.testing.assert_allclose(along_x.to_world(np.array([[3.0, 7.0]])), [[17.0, 17.0]])
    np.testing.assert_allclose(along_x.to_racquet(np.array([[17.0, 17.0]])), [[3.0, 7.0]])


def test_moved_shifts_in_its_own_frame_then_turns_counter_clockwise() -> None:
    moved = Axis(np.zeros(2), np.array([0.0, 1.0])).moved(np.pi / 2, 4.0, 9.0)
    np.testing.assert_allclose(moved.origin_mm, [4.0, 9.0])
    np.testing.assert_allclose(moved.up, [-1.0, 0.0], atol=1e-12)


def ramp(angle_deg: float, slope: float) -> Image:
    """A picture (40, 40, 3) that rises by ``slope`` per cell towards ``angle_deg`` of the world."""
    rows, cols = np.mgrid[0:40, 0:40].astype(np.float32)
    angle = np.deg2rad(angle_deg)
    picture = np.zeros((40, 40, 3), np.float32)
    picture[..., 1] = slope * (np.cos(angle) * cols - np.sin(angle) * rows)
    return picture


@pytest.mark.parametrize("angle_deg", [0.0, 30.0, 45.0, 90.0, 135.0, 200.0])
def test_an_edge_is_its_angle_doubled_and_half_strong_at_the_half_strength(angle_deg: float) -> None:
    edges = edge_field(ramp(angle_deg, EDGE_HALF_STRENGTH), soft_too=True)
    expected = 0.5 * np.exp(2j * np.deg2rad(angle_deg))
    np.testing.assert_allclose(edges[8:-8, 8:-8], expected, atol=1e-4)


def test_a_slope_counts_less_than_a_step() -> None:
    soft = np.abs(edge_field(ramp(0.0, EDGE_HALF_STRENGTH)))[8:-8, 8:-8]
    np.testing.assert_allclose(soft, SOFT_SHARE / 2, atol=1e-3)
    picture = np.zeros((40, 40, 3), np.float32)
    picture[:, 20:, 0] = 100.0
    whole, sharp = (np.abs(edge_field(picture, soft_too=soft_too))[20].max() for soft_too in (True, False))
    assert sharp > 0.9 * whole


def test_dark_to_light_equals_light_to_dark() -> None:
    picture = ramp(25.0, 5.0)
    np.testing.assert_allclose(edge_field(-picture), edge_field(picture), atol=1e-6)


def test_the_strongest_channel_speaks() -> None:
    picture = ramp(0.0, 2.0)
    picture[..., 2] = ramp(90.0, 6.0)[..., 1]
    # A slope of 6 counts 6 / (6 + 3), and points along y: its doubled angle is 180°.
    np.testing.assert_allclose(edge_field(picture, soft_too=True)[8:-8, 8:-8], -6 / 9, atol=1e-4)


@pytest.mark.parametrize("turn_deg", [0.0, 23.0, -68.0])
@pytest.mark.parametrize("inner_weight", [0.15, 1.0])
def test_mirror_axis_of_a_paddle_with_a_shadow_on_one_side(turn_deg: float, inner_weight: float) -> None:
    view = empty_view()
    truth = axis_at(0.0, 0.0, turn_deg).moved(0.0, 7.3, -205.0)
    ring = truth.to_world(paddle_ring())
    paddle, shadow = cover(view, ring), cover(view, ring + np.array([9.0, -7.0]))
    unlike = np.zeros((*view.inside.shape, 3), np.float32)
    unlike[..., 0] = -8.0 * shadow * (1 - paddle) - 25.0 * paddle
    unlike[..., 2] = 12.0 * paddle
    found = find_axes(view, edge_field(unlike), (paddle > 0.5) | (shadow > 0.5), inner_weight)[0]
    turned = np.rad2deg(np.arcsin(found.up[0] * truth.up[1] - found.up[1] * truth.up[0]))
    assert abs(turned) <= 0.3
    middle = found.to_racquet(truth.to_world(np.array([[0.0, 200.0]])))[0, 0]
    assert abs(middle) <= 1.0
