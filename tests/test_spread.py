"""What one standard deviation of each unknown does to the length: slopes against whole recasts."""

from __future__ import annotations

import numpy as np
import pytest

from digitise import resting
from digitise.axis import Axis
from digitise.band import even_ring, ring_normals
from digitise.body import body_of
from digitise.camera import Camera
from digitise.contour import Contour
from digitise.landmarks import HandleMarks
from digitise.recast import recast_ring, seen_px
from digitise.spread import _by_butt_radius

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


def test_the_butt_s_rounding_against_a_recast(monkeypatch: pytest.MonkeyPatch) -> None:
    contour, body = boxed(), body_of("solid", 400.0, MARKS, 14.0, 29.0)
    rim_px, normal = seen_px(CAMERA, contour, body), ring_normals(contour.ring_mm)
    claimed = _by_butt_radius(CAMERA, contour)
    assert claimed[1] == 0.0
    more = resting.BUTT_RADIUS_MM + resting.BUTT_RADIUS_SD_MM
    monkeypatch.setattr(resting, "BUTT_RADIUS_MM", more)
    ring = recast_ring(CAMERA, contour.resting, body, rim_px, normal)
    end = (np.abs(contour.ring_mm[:, 0]) < 10) & (contour.ring_mm[:, 1] < 1)
    assert abs(ring[end, 1].mean()) == pytest.approx(claimed[0], rel=0.05)
