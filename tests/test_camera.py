from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from digitise.camera import Camera, Plane, focal_px_from_equivalent, plane_jacobian, straightened

STRAIGHT_DOWN = np.diag([1.0, -1.0, -1.0])


def camera_above(x_mm: float, y_mm: float, height_mm: float, focal_px: float = 1000.0) -> Camera:
    centre = np.array([x_mm, y_mm, height_mm])
    return Camera(focal_px, 400.0, 300.0, STRAIGHT_DOWN, -STRAIGHT_DOWN @ centre)


def test_straight_down_by_hand() -> None:
    camera = camera_above(10.0, -20.0, 800.0)
    # 40 mm right of and 30 mm above the nadir at z = 50: 1000 / 750 px per mm, y down in the picture
    seen = camera.project(np.array([[50.0, 10.0, 50.0]]))
    assert seen[0] == pytest.approx([400 + 40 * 1000 / 750, 300 - 30 * 1000 / 750])
    assert camera.height_mm == pytest.approx(800.0)
    assert camera.tilt_deg == pytest.approx(0.0, abs=1e-9)
    assert camera.nadir_mm == pytest.approx([10.0, -20.0])


def test_tilt_is_the_angle_from_straight_down() -> None:
    lean = Rotation.from_euler("x", 7.0, degrees=True).as_matrix()
    assert Camera(1000, 0, 0, lean @ STRAIGHT_DOWN, np.array([0, 0, 500.0])).tilt_deg == pytest.approx(7.0)


def test_radial_term_by_hand() -> None:
    camera = Camera(1000.0, 0.0, 0.0, STRAIGHT_DOWN, np.array([0.0, 0.0, 500.0]), k1=0.02)
    # 100 mm at 500 mm is 0.2 focal lengths: 0.2 * (1 + 0.02 * 0.04) * 1000
    assert camera.project(np.array([[100.0, 0.0, 0.0]]))[0, 0] == pytest.approx(200 * (1 + 0.02 * 0.04))


def test_focal_length_is_defined_on_the_diagonal() -> None:
    expected = 26 * math.hypot(4000, 3000) / math.hypot(36, 24)
    assert focal_px_from_equivalent(26, 4000, 3000) == pytest.approx(expected)
    assert focal_px_from_equivalent(26, 3000, 4000) == pytest.approx(expected)


def test_points_behind_and_rays_that_miss_are_nan() -> None:
    camera = camera_above(0.0, 0.0, 800.0)
    assert np.isnan(camera.project(np.array([[0.0, 0.0, 900.0]]))).all()
    assert np.isnan(camera.to_plane(np.array([[400.0, 300.0]]), Plane(900.0))).all()
    upright = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    on_plane = camera.project_plane(np.zeros(3), upright, np.array([[0.0, 900.0], [5.0, 20.0]]))
    assert np.isnan(on_plane[0]).all()
    assert on_plane[1] == pytest.approx([400 + 5 * 1000 / 780, 300.0])


@given(
    lean=st.tuples(st.floats(-20, 20), st.floats(-20, 20), st.floats(-180, 180)),
    plane=st.tuples(st.floats(0, 40), st.floats(-0.1, 0.1), st.floats(-0.1, 0.1)),
    k1=st.floats(-0.03, 0.03),
    place=st.tuples(st.floats(-200, 200), st.floats(-200, 200)),
)
def test_a_point_of_a_plane_is_found_again(
    lean: tuple[float, float, float],
    plane: tuple[float, float, float],
    k1: float,
    place: tuple[float, float],
) -> None:
    rotation = Rotation.from_euler("xyz", lean, degrees=True).as_matrix() @ STRAIGHT_DOWN
    camera = Camera(900.0, 610.0, 420.0, rotation, np.array([20.0, -10.0, 700.0]), k1)
    surface = Plane(*plane)
    x, y = place
    world = np.array([[x, y, surface.at_origin_mm + surface.slope_x * x + surface.slope_y * y]])
    back = camera.to_plane(camera.project(world), surface)
    assert back[0] == pytest.approx([x, y], abs=1e-3)


@given(
    lean=st.tuples(st.floats(-30, 30), st.floats(-30, 30), st.floats(-180, 180)),
    sides=st.lists(st.floats(-1, 1), min_size=6, max_size=6),
    k1=st.floats(-0.03, 0.03),
)
def test_points_of_a_plane_are_projected_as_any_others(
    lean: tuple[float, float, float], sides: list[float], k1: float
) -> None:
    rotation = Rotation.from_euler("xyz", lean, degrees=True).as_matrix() @ STRAIGHT_DOWN
    camera = Camera(900.0, 610.0, 420.0, rotation, np.array([20.0, -10.0, 700.0]), k1)
    origin, along = np.array([30.0, -40.0, 12.0]), np.reshape(sides, (2, 3))
    points = np.array([[0.0, 0.0], [100.0, 0.0], [-20.0, 90.0], [70.0, -80.0]])
    expected = camera.project(origin + points @ along)
    assert camera.project_plane(origin, along, points) == pytest.approx(expected, abs=1e-8)
    assert camera.project_apart(origin, along, *points.T) == pytest.approx(expected.T, abs=1e-8)


@pytest.mark.parametrize("count", [1, 8, 9, 217])
@given(turn=st.floats(min_value=-math.pi, max_value=math.pi), lean=st.floats(min_value=0, max_value=0.4))
def test_points_of_short_lines_are_projected_as_any_others(count: int, turn: float, lean: float) -> None:
    leaning = Rotation.from_euler("xz", [lean, turn]).as_matrix() @ STRAIGHT_DOWN
    camera = Camera(3000.0, 2000.0, 1500.0, leaning, -leaning @ np.array([20.0, -30.0, 400.0]), k1=0.05)
    origin, along = np.array([5.0, 7.0, 12.0]), np.array([[0.6, 0.8, 0.0], [-0.8, 0.6, 0.01]])
    starts, ways = (
        np.array([[0.0, 0.0], [60.0, 90.0]]),
        np.array([[1.0, 0.0], [math.cos(turn), math.sin(turn)]]),
    )
    away = np.linspace(-24.0, 30.0, count)
    points = starts[:, None] + away[:, None] * ways[:, None]
    expected = camera.project_plane(origin, along, points.reshape(-1, 2)).reshape(2, count, 2)
    stored_to = 2e-4 * np.abs(expected).max() / 2000  # px, in float32
    seen = np.moveaxis(camera.project_lines(origin, along, starts, ways, away), 0, -1)
    np.testing.assert_allclose(seen, expected, atol=stored_to + 1e-4)


@given(st.floats(-0.04, 0.04), st.floats(0, 0.8), st.floats(0, 6.3))
def test_straightening_undoes_the_bend(k1: float, radius: float, angle: float) -> None:
    flat = radius * np.array([[math.cos(angle), math.sin(angle)]])
    bent = flat * (1 + k1 * radius**2)
    assert straightened(bent, k1) == pytest.approx(flat, abs=1e-6)


def test_jacobian_of_a_level_camera_by_hand() -> None:
    height, focal = 800.0, 1000.0
    camera = camera_above(0.0, 0.0, height, focal)
    pixel = np.array([[400.0 + 250.0, 300.0]])
    jacobian = plane_jacobian(camera, pixel)[0]
    # x = (u - cx) * t_z / f - t_x, with the camera at height t_z
    assert jacobian[0, 0] == pytest.approx(-250 * height / focal**2, rel=1e-5)
    assert jacobian[0, 4] == pytest.approx(-1.0, rel=1e-6)
    assert jacobian[0, 6] == pytest.approx(250 / focal, rel=1e-6)
    assert jacobian[0, 7] == pytest.approx(-height / focal, rel=1e-6)
    # k1 pulls the point in by x r², r = 0.25 focal lengths
    assert jacobian[0, 9] == pytest.approx(-(0.25**3) * height, rel=1e-4)
    assert jacobian[1, [0, 4, 6, 7]] == pytest.approx(0.0, abs=1e-9)


def test_a_moved_camera_is_moved_by_as_much() -> None:
    camera = camera_above(0.0, 0.0, 800.0)
    change = np.array([5.0, 0.0, 0.0, 0.01, 1.0, 2.0, 3.0, -4.0, 6.0, 0.002])
    moved = camera.moved(change)
    assert (moved.focal_px, moved.cx_px, moved.cy_px, moved.k1) == pytest.approx((1005, 396, 306, 0.002))
    assert moved.translation_mm == pytest.approx(camera.translation_mm + np.array([1.0, 2.0, 3.0]))
    turned = moved.rotation @ camera.rotation.T
    assert math.atan2(turned[1, 0], turned[0, 0]) == pytest.approx(0.01)
