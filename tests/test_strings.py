"""A drawn string bed as a measurement of how the camera leaned."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest

from digitise.axis import Axis
from digitise.band import even_ring
from digitise.camera import Camera
from digitise.card_pose import CameraEstimate
from digitise.contour import Contour
from digitise.linear import LinearPhoto
from digitise.recast import with_camera
from digitise.resting import Body, rest
from digitise.strings import by_strings
from digitise.tone import FloatArray
from tests.card_drawing import View

SIZE_PX = (2400, 1500)
CAMERA = View(SIZE_PX, 950.0, (0.0, 0.0), 0.0, 0.0, 0.0).camera()
BODY = Body(
    length_mm=685.0,
    handle_top_mm=190.0,
    face_thickness_mm=23.0,
    handle_thickness_mm=29.0,
    butt_thickness_mm=34.0,
    handle_width_mm=33.0,
    rim_radius_mm=11.5,
    rim_half_width_mm=6.0,
    balance_share=0.48,
)
RESTING = rest(Axis(np.array([-350.0, 10.0]), np.array([1.0, 0.0])), BODY)
MIDDLE_MM, HALF_MM = 520.0, (125.0, 165.0)
MAINS_MM, CROSSES_MM = 12.0, 14.0
LEAN_SD = 0.008
Strung = Callable[[FloatArray, FloatArray], tuple[FloatArray, FloatArray]]


def frame() -> FloatArray:
    """An even symmetric ring (n, 2): a narrow handle and an oval hoop."""
    angle = np.linspace(np.radians(-80), np.pi / 2, 200)
    oval = np.column_stack([HALF_MM[0] * np.cos(angle), MIDDLE_MM + HALF_MM[1] * np.sin(angle)])
    right = np.vstack([[[0.0, 0.0], [16.0, 0.0], [16.0, 340.0]], oval])
    return even_ring(np.vstack([right, right[-2:0:-1] * np.array([-1.0, 1.0])]), 1.0)


def straight(x_mm: FloatArray, y_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
    return x_mm, y_mm


def drawn(strung: Strung = straight, shown: bool = True) -> npt.NDArray[np.uint8]:
    """A picture (h, w, 3) of light strings 1.3 mm thick on a table with grain."""
    columns, rows = np.meshgrid(np.arange(SIZE_PX[0]), np.arange(SIZE_PX[1]))
    points = np.column_stack([columns.ravel(), rows.ravel()]).astype(float)
    along, across = strung(*RESTING.from_pixels(CAMERA, points).T)
    apart = np.minimum(_from_lines(along, MAINS_MM), _from_lines(across - MIDDLE_MM, CROSSES_MM))
    inside = np.hypot(along / HALF_MM[0], (across - MIDDLE_MM) / HALF_MM[1]) < 1
    px_mm = CAMERA.height_mm / CAMERA.focal_px
    share = np.clip((0.65 - apart) / px_mm + 0.5, 0, 1) * inside * shown
    grain = np.random.default_rng(3).normal(0, 4.0, share.shape)
    grey = np.clip(np.round(120 + 60 * share + grain), 0, 255).astype(np.uint8)
    return np.repeat(grey.reshape(rows.shape)[..., None], 3, axis=2)


def _from_lines(place_mm: FloatArray, apart_mm: float) -> FloatArray:
    return np.abs(place_mm - apart_mm * np.round(place_mm / apart_mm))


def leaning(turn_x: float = 0.0, turn_y: float = 0.0) -> CameraEstimate:
    """A camera that is off by so much, and whose lean alone is uncertain."""
    change = np.zeros(10)
    change[1:3] = turn_x, turn_y
    covariance = np.diag([1e-6, LEAN_SD**2, LEAN_SD**2, 1e-12, 1e-6, 1e-6, 1e-6, 1e-6, 1e-6, 1e-12])
    return CameraEstimate(CAMERA.moved(change), covariance, 0.05, 0.5, True)


def seen_by(camera: Camera) -> Contour:
    """The contour one gets by taking ``camera`` for the one that took the picture."""
    ring = frame()
    count = len(ring)
    contour = Contour(RESTING, ring, np.ones(count), np.zeros(count), np.zeros(count, bool))
    return with_camera(CAMERA, contour, BODY, camera)


def told(picture: npt.NDArray[np.uint8], estimate: CameraEstimate) -> tuple[CameraEstimate, Contour]:
    return by_strings(picture, LinearPhoto(picture), estimate, seen_by(estimate.camera), BODY)


def leans(camera: Camera) -> FloatArray:
    """By how much (2,), rad, a camera leans against the right one, about its own x and y."""
    apart = camera.rotation @ CAMERA.rotation.T
    return np.array([apart[2, 1] - apart[1, 2], apart[0, 2] - apart[2, 0]]) / 2


@pytest.mark.parametrize(("turn_x", "turn_y"), [(LEAN_SD, 0.0), (0.0, LEAN_SD), (-LEAN_SD, LEAN_SD)])
def test_a_wrong_lean_is_found_from_strings(turn_x: float, turn_y: float) -> None:
    wrong = leaning(turn_x, turn_y)
    found, contour = told(drawn(), wrong)
    left = np.sqrt(np.diagonal(found.covariance)[1:3])
    assert (left < 0.5 * LEAN_SD).all()
    # weighed against what was known: the share of the error that stays is the square of the sd's
    want = np.array([turn_x, turn_y]) * (left / LEAN_SD) ** 2
    np.testing.assert_allclose(leans(found.camera), want, atol=0.12 * LEAN_SD)
    off = np.abs(contour.ring_mm - frame()).max()
    assert off < 0.4 * np.abs(seen_by(wrong.camera).ring_mm - frame()).max()


def test_a_camera_that_is_right_stays() -> None:
    found, contour = told(drawn(), leaning())
    np.testing.assert_allclose(leans(found.camera), 0.0, atol=0.1 * LEAN_SD)
    np.testing.assert_allclose(contour.ring_mm, frame(), atol=0.15)


def test_played_strings_that_bow_do_not_move_the_camera() -> None:
    """Mains that stand 1.5 mm farther out in the middle of the bed."""

    def bowed(x_mm: FloatArray, y_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
        out = 1.5 * (1 - ((y_mm - MIDDLE_MM) / HALF_MM[1]) ** 2)
        return x_mm - out * x_mm / HALF_MM[0], y_mm

    found, _ = told(drawn(bowed), leaning())
    np.testing.assert_allclose(leans(found.camera), 0.0, atol=0.2 * LEAN_SD)


def test_strings_that_differ_tell_less() -> None:
    """Each main turned by its own 1.2 mm or so over the bed's length."""
    turns = np.random.default_rng(5).normal(0, 0.6, 60)

    def uneven(x_mm: FloatArray, y_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
        number = np.clip(np.round(x_mm / MAINS_MM) + 30, 0, 59).astype(int)
        return x_mm - turns[number] * (y_mm - MIDDLE_MM) / HALF_MM[1], y_mm

    even, _ = told(drawn(), leaning())
    found, _ = told(drawn(uneven), leaning())
    along = RESTING.axis.up @ CAMERA.rotation[:2, :2]  # the camera's own direction along the racquet
    about = int(np.argmin(np.abs(along)))  # a lean about the one across it fans the mains
    sds = [float(np.sqrt(each.covariance[1 + about, 1 + about])) for each in (even, found)]
    assert sds[1] > 1.5 * sds[0]
    assert abs(leans(found.camera)[about]) < 2.5 * sds[1]


def test_without_strings_nothing_changes() -> None:
    estimate = leaning(LEAN_SD)
    contour = seen_by(estimate.camera)
    picture = drawn(shown=False)
    same, seen = by_strings(picture, LinearPhoto(picture), estimate, contour, BODY)
    assert same is estimate
    assert seen is contour


def test_an_outline_too_small_for_a_bed_changes_nothing() -> None:
    estimate = leaning()
    contour = seen_by(CAMERA)
    small = replace(contour, ring_mm=0.15 * contour.ring_mm)
    picture = drawn()
    assert by_strings(picture, LinearPhoto(picture), estimate, small, BODY) == (estimate, small)
