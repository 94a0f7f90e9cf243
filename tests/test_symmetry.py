"""The two sides as a measurement of the camera's lean, on an outline seen by a camera that is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from digitise.axis import Axis
from digitise.band import even_ring, ring_normals
from digitise.camera import Camera
from digitise.card_pose import CameraEstimate
from digitise.contour import Contour
from digitise.recast import recast_ring, seen_px
from digitise.resting import Body, rest
from digitise.symmetry import evened
from digitise.tone import FloatArray
from tests.card_drawing import View

BODY = Body(
    length_mm=400.0,
    handle_top_mm=120.0,
    face_thickness_mm=14.0,
    handle_thickness_mm=28.0,
    butt_thickness_mm=32.0,
    handle_width_mm=32.0,
    rim_radius_mm=3.0,
    rim_half_width_mm=None,
    balance_share=0.58,
)
CAMERA = View((4000, 3000), 750.0, (0.0, 0.0), 0.0, 0.0, 0.0).camera()
UPRIGHT = Axis(np.array([-30.0, -200.0]), np.array([0.0, 1.0]))
LEAN_SD = 0.01


def paddle() -> FloatArray:
    """An even symmetric ring (n, 2) from the butt's middle, counter-clockwise, with an even count."""
    right = np.array(
        [[0, 0], [16, 0], [16, 120], [60, 170], [95, 240], [95, 330], [60, 390], [0, 400]], float
    )
    whole = np.vstack([right, right[-2:0:-1] * np.array([-1.0, 1.0])])
    ring = even_ring(whole, 1.0)
    ring = even_ring(ring, 1.0) if len(ring) % 2 == 0 else ring
    twin = np.roll(ring[::-1], 1, axis=0) * np.array([-1.0, 1.0])
    return np.asarray((ring + twin) / 2)


def contour_of(ring: FloatArray) -> Contour:
    count = len(ring)
    return Contour(rest(UPRIGHT, BODY), ring, np.ones(count), np.zeros(count), np.zeros(count, bool))


def estimate(camera: Camera) -> CameraEstimate:
    """A camera whose lean about the racquet's axis alone is uncertain."""
    covariance = np.diag([1e-6, 1e-12, LEAN_SD**2, 1e-12, 1e-6, 1e-6, 1e-6, 1e-6, 1e-6, 1e-12])
    return CameraEstimate(camera, covariance, 0.05, 0.5, True)


def as_seen_by(wrong: Camera, contour: Contour) -> Contour:
    """The contour one gets by taking ``wrong`` for the camera that took the picture."""
    rim_px = seen_px(CAMERA, contour, BODY)
    ring = recast_ring(wrong, contour.resting, BODY, rim_px, ring_normals(contour.ring_mm))
    return replace(contour, ring_mm=ring)


def test_a_symmetric_outline_leaves_the_camera_where_it_was() -> None:
    found = evened(estimate(CAMERA), contour_of(paddle()), BODY)
    assert found.apart_mm == pytest.approx(0.0, abs=1e-6)
    assert found.estimate.camera.rotation == pytest.approx(CAMERA.rotation, abs=1e-9)
    assert np.ptp(found.contour.ring_mm, axis=0) == pytest.approx([190.0, 400.0], abs=0.2)


def test_a_wrong_lean_is_found_from_the_sides_and_its_sd_shrinks() -> None:
    lean = np.zeros(10)
    lean[2] = LEAN_SD
    wrong = CAMERA.moved(lean)
    skew = as_seen_by(wrong, contour_of(paddle()))
    found = evened(estimate(wrong), skew, BODY)
    back = float(
        np.arccos(np.clip((np.trace(found.estimate.camera.rotation @ CAMERA.rotation.T) - 1) / 2, -1, 1))
    )
    left = float(np.sqrt(found.estimate.covariance[2, 2]))
    assert left < 0.8 * LEAN_SD
    # what the sides tell is weighed against the card: the part that stays is the square of the sd's share
    assert back == pytest.approx(LEAN_SD * (left / LEAN_SD) ** 2, rel=0.1)


def test_what_the_camera_cannot_explain_is_reported() -> None:
    ring = paddle()
    right_side = (ring[:, 0] > 90) & (ring[:, 1] > 250) & (ring[:, 1] < 320)
    ring[right_side, 0] -= 3.0  # a piece broken out of one edge
    found = evened(estimate(CAMERA), contour_of(ring), BODY)
    pieces = 2 * right_side.sum() / len(ring)
    assert found.apart_mm == pytest.approx(1.5 * np.sqrt(pieces), rel=0.15)
    assert found.estimate.camera.rotation == pytest.approx(CAMERA.rotation, abs=0.2 * LEAN_SD)


def test_a_turned_axis_is_laid_through_the_middle() -> None:
    turn = 0.01
    cos, sin = np.cos(turn), np.sin(turn)
    ring = paddle() @ np.array([[cos, sin], [-sin, cos]])  # counter-clockwise about the butt
    found = evened(estimate(CAMERA), contour_of(ring), BODY)
    assert found.contour.resting.axis.up == pytest.approx([-np.sin(turn), np.cos(turn)], abs=1e-4)
    assert found.apart_mm < 0.02
