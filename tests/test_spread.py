"""What one standard deviation of each unknown does to the length: slopes against whole recasts."""

from __future__ import annotations

import math

import numpy as np
import pytest

from digitise import resting
from digitise.axis import Axis
from digitise.band import even_ring, ring_normals
from digitise.body import body_of
from digitise.camera import Camera
from digitise.card_pose import CameraEstimate
from digitise.contour import Contour
from digitise.landmarks import HandleMarks
from digitise.recast import recast_ring, seen_px
from digitise.spread import other_bodies, outline_spread

MARKS = HandleMarks(width_mm=33.0, butt_width_mm=39.0, top_mm=130.0, top_sd_mm=3.0)
ROTATION = np.diag([1.0, -1.0, -1.0])
CAMERA = Camera(3000.0, 2000.0, 1500.0, ROTATION, -ROTATION @ np.array([20.0, 210.0, 720.0]))


def boxed() -> Contour:
    """A racquet with straight ends, 400 mm long, that lies level on its axis."""
    half = np.array([[19.5, 0.0], [19.5, 14.0], [16.5, 24.0], [16.5, 130.0], [95.0, 200.0], [95.0, 400.0]])
    ring = even_ring(np.vstack([[[0.0, 0.0]], half, half[::-1] * [-1.0, 1.0]]), 1.0)
    lying = resting.Resting(Axis(np.zeros(2), np.array([0.0, 1.0])), 18.0, 0.0)
    return Contour(lying, ring, np.ones(len(ring)), np.zeros(len(ring)), np.zeros(len(ring), bool))


def test_a_butt_cap_stands_out_alike_all_round() -> None:
    body = body_of("solid", 400.0, MARKS, 14.0, 29.0)
    assert body.butt_thickness_mm == pytest.approx(29.0 + (39.0 - 33.0))
    assert body.handle_thickness_mm == 29.0


def test_an_outline_seen_and_put_back_is_the_same() -> None:
    contour, body = boxed(), body_of("solid", 400.0, MARKS, 14.0, 29.0)
    normal = ring_normals(contour.ring_mm)
    back = recast_ring(CAMERA, contour.resting, body, seen_px(CAMERA, contour, body), normal)
    straight = np.abs(contour.ring_mm[:, 0]) < 15
    np.testing.assert_allclose(back[straight], contour.ring_mm[straight], atol=1e-3)


def test_what_the_butt_s_rounding_does_to_the_length() -> None:
    """The section's farthest point moves by the lean less what the arc gives back."""
    contour, body = boxed(), body_of("solid", 400.0, MARKS, 14.0, 29.0)
    exact = CameraEstimate(CAMERA, np.zeros((10, 10)), 0.0, 0.0, True)
    other = next(other_bodies(body, (0.3, 0.3), "solid"))
    assert other.butt_radius_mm == pytest.approx(4.0 + 4.0 / math.sqrt(12))
    shared = outline_spread(exact, contour, body, [other]).shared_mm
    lean = (210.0 + body.butt_thickness_mm / 2 * 0.3) / (720.0 - 18.0)  # where it is seen, 7 mm further out
    assert shared[0, 0] == pytest.approx((lean + 1 - math.hypot(1, lean)) * 4.0 / math.sqrt(12), rel=0.02)
    assert shared[0, 1] == pytest.approx(0.0, abs=1e-9)
