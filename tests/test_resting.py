"""How a racquet lies and how its rim is seen: contacts by hand, shifts against a brute-force outline."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from digitise.axis import Axis
from digitise.camera import Camera
from digitise.resting import Body, Resting, rest, rim_narrower_mm, rim_shift_mm, seen_rim_shift_mm
from digitise.tone import FloatArray

UP = Axis(np.zeros(2), np.array([0.0, 1.0]))
PLATE = Body(400.0, 130.0, 14.0, 30.0, 30.0, 34.0, 4.0, None, 0.58)
HEIGHT_MM = 700.0


def camera_above(x_mm: float, y_mm: float, height_mm: float = HEIGHT_MM) -> Camera:
    """A camera that looks straight down."""
    rotation = np.diag([1.0, -1.0, -1.0])
    return Camera(2000.0, 1000.0, 800.0, rotation, -rotation @ np.array([x_mm, y_mm, height_mm]))


def test_it_rests_on_the_grip_s_end_and_near_the_tip() -> None:
    # Half thicknesses 15 at the grip's end (130) and 7 at the tip, whose last 3 mm are rounded away.
    resting = rest(UP, PLATE)
    assert resting.slope == pytest.approx(-(15 - 7) / (397 - 130))
    assert resting.height_mm == pytest.approx(15 + 130 * (15 - 7) / (397 - 130))


def test_balanced_in_the_grip_it_rests_on_the_butt_cap_and_the_grip() -> None:
    # The cap's last place with half thickness 18 is at 14 mm; the grip's end, half 15, at 130 mm.
    resting = rest(UP, replace(PLATE, butt_thickness_mm=36.0, balance_share=0.2))
    assert resting.slope == pytest.approx(-(18 - 15) / (130 - 14))
    assert resting.height_mm + 14 * resting.slope == pytest.approx(18.0)


def test_an_even_body_lies_level() -> None:
    resting = rest(UP, replace(PLATE, handle_thickness_mm=14.0, butt_thickness_mm=14.0))
    assert (resting.height_mm, resting.slope) == pytest.approx((7.0, 0.0))


def test_with_the_card_on_the_face_the_middle_lies_half_a_thickness_below_it() -> None:
    resting = rest(UP, replace(PLATE, card_on_face=True))
    assert (resting.height_mm, resting.slope) == (-7.0, 0.0)


def test_a_millimetre_of_racquet_is_one_in_space() -> None:
    resting = Resting(Axis(np.array([20.0, -30.0]), np.array([0.6, 0.8])), 18.0, -0.03)
    assert resting.foreshortening == pytest.approx(1 / math.sqrt(1 + 0.03**2))
    ends = resting.to_world(np.array([[0.0, 0.0], [0.0, 250.0], [40.0, 0.0]]))
    assert np.linalg.norm(ends[1] - ends[0]) == pytest.approx(250.0)
    assert np.linalg.norm(ends[2] - ends[0]) == pytest.approx(40.0)
    plane = resting.plane
    on_plane = plane.at_origin_mm + ends[:, :2] @ [plane.slope_x, plane.slope_y]
    np.testing.assert_allclose(ends[:, 2], on_plane)


def test_to_pixels_and_back() -> None:
    resting = Resting(Axis(np.array([20.0, -30.0]), np.array([0.6, 0.8])), 18.0, -0.03)
    points = np.array([[0.0, 0.0], [90.0, 310.0], [-17.0, 100.0]])
    camera = camera_above(50.0, 60.0)
    back = resting.from_pixels(camera, resting.to_pixels(camera, points))
    np.testing.assert_allclose(back, points, atol=1e-9)


def test_moved_up_its_own_slope_keeps_its_plane() -> None:
    resting = Resting(UP, 18.0, -0.03)
    moved = resting.moved(0.0, 5.0, 100.0)
    np.testing.assert_allclose(
        moved.to_world(np.array([[0.0, 0.0]])), resting.to_world(np.array([[5.0, 100.0]]))
    )


def shift_at(x_mm: float, body: Body) -> float:
    points, normals = np.array([[x_mm, 300.0]]), np.array([[1.0, 0.0]])
    camera = camera_above(0.0, 300.0)
    return float(rim_shift_mm(camera, Resting(UP, 7.0, 0.0), body, points, normals)[0])


def farthest_seen(x_mm: float, across_mm: FloatArray, up_mm: FloatArray) -> float:
    """How far outside x of a level plane 7 mm up the farthest of a section's points is seen, by projection.

    The camera is above x = 0: what lies ``up`` above the plane is seen on it at H / (H - up) times its x.
    """
    height_mm = HEIGHT_MM - 7.0
    return float(((x_mm + across_mm) * height_mm / (height_mm - up_mm)).max() - x_mm)


@pytest.mark.parametrize("x_mm", [-150.0, 0.0, 60.0, 150.0])
def test_rim_of_a_plate_against_its_section(x_mm: float) -> None:
    # The section is a rounded corner of radius 4 on a half thickness of 7, its side at 0.
    angle = np.linspace(-np.pi / 2, np.pi / 2, 100_001)
    across = 4 * np.cos(angle) - 4
    up = 4 * np.sin(angle) + 3 * np.sign(np.sin(angle))
    assert shift_at(x_mm, PLATE) == pytest.approx(farthest_seen(x_mm, across, up), abs=1e-6)


@pytest.mark.parametrize("x_mm", [-150.0, 0.0, 60.0, 150.0])
def test_rim_of_a_tube_against_its_section(x_mm: float) -> None:
    angle = np.linspace(-np.pi, np.pi, 100_001)
    tube = replace(PLATE, rim_half_width_mm=5.5)
    across, up = 5.5 * np.cos(angle) - 5.5, 7 * np.sin(angle)
    assert shift_at(x_mm, tube) == pytest.approx(farthest_seen(x_mm, across, up), abs=1e-6)


@pytest.mark.parametrize("at_mm", [(0.0, 0.0), (110.0, 300.0), (-17.0, 60.0), (0.0, 400.0)])
def test_outline_to_rim_and_back_is_the_outline(at_mm: tuple[float, float]) -> None:
    points = np.array([at_mm])
    normals = np.array([[np.sign(at_mm[0]), 0.0]]) if at_mm[0] else np.array([[0.0, at_mm[1] / 200 - 1]])
    camera, resting = camera_above(40.0, 230.0), rest(UP, PLATE)
    seen = points + rim_shift_mm(camera, resting, PLATE, points, normals)[:, None] * normals
    back = seen - seen_rim_shift_mm(camera, resting, PLATE, seen, normals)[:, None] * normals
    np.testing.assert_allclose(back, points, atol=1e-4)


@pytest.mark.parametrize("x_mm", [-150.0, 0.0, 60.0, 150.0])
def test_a_rim_looks_narrower_by_how_much_its_edge_is_rounded(x_mm: float) -> None:
    """Beside the lens's foot the upper side, 7 mm up, is seen at H / (H - 7) times its place."""
    height_mm = HEIGHT_MM - 7.0
    points, normals = np.array([[x_mm, 300.0]]), np.array([[np.sign(x_mm) or 1.0, 0.0]])
    out = abs(x_mm) * (height_mm / (height_mm - 7.0) - 1)
    narrower = rim_narrower_mm(camera_above(0.0, 300.0), Resting(UP, 7.0, 0.0), PLATE, points, normals)
    assert narrower[0] == pytest.approx(out - shift_at(abs(x_mm), PLATE), abs=1e-6)
    assert 0 <= narrower[0] < 4.0 * 150 / height_mm


def test_straight_below_the_lens_the_rim_is_seen_in_its_place() -> None:
    assert shift_at(0.0, PLATE) == 0.0
