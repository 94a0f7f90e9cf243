"""The joint fit of several references, on exact and noisy points."""

from __future__ import annotations

import math

import numpy as np
import pytest

from digitise.bundle import Place, Pulls, bundle, place_of
from digitise.camera import Camera, Plane, plane_jacobian
from digitise.card_shape import ID1
from digitise.lens_prior import known_pulls, lens_prior
from digitise.tone import FloatArray
from tests.card_drawing import View

SIZE = (4032, 3024)
PRIOR = lens_prior(26.0, *SIZE)
POINT_SD_PX = 0.2
CORNERS = np.column_stack([ID1.corners_mm, np.full(4, ID1.thickness_mm)])
FAR = Place(-180.0, 240.0, 0.7)


def known(camera: Camera) -> FloatArray:
    return known_pulls(camera, PRIOR)


def points(seen_px: FloatArray) -> Pulls:
    """A reference whose four corners were seen at ``seen_px``."""
    return lambda camera: ((camera.project(CORNERS) - seen_px) / POINT_SD_PX).ravel()


def level(rng: np.random.Generator) -> Camera:
    """A camera drawn from what is known beforehand."""
    lean = rng.normal(0, 6, 2)
    view = View(SIZE, 750.0, (-90.0, 120.0), float(rng.uniform(-180, 180)), float(lean[0]), float(lean[1]))
    camera = view.camera()
    return camera.moved(
        np.array(
            [
                PRIOR.focal_sd_px * rng.normal(), 0, 0, 0, 0, 0, 0,
                *(PRIOR.centre_sd_px * rng.normal(size=2)), PRIOR.k1_sd * rng.normal(),
            ]
        )
    )  # fmt: skip


def test_a_place_restates_the_camera() -> None:
    camera = level(np.random.default_rng(1))
    cos, sin = math.cos(FAR.turn_rad), math.sin(FAR.turn_rad)
    world = CORNERS @ np.array([[cos, -sin, 0], [sin, cos, 0], [0, 0, 1]]).T + [FAR.x_mm, FAR.y_mm, 0]
    seen = camera.project(world)
    assert FAR.seen_from(camera).project(CORNERS) == pytest.approx(seen)
    found = place_of(camera, seen, ID1)
    assert (found.x_mm, found.y_mm, found.turn_rad) == pytest.approx((FAR.x_mm, FAR.y_mm, FAR.turn_rad))


def test_exact_points_leave_nothing_over() -> None:
    true = View(SIZE, 750.0, (-90.0, 120.0), 30.0, 0.0, 0.0).camera()
    start = true.moved(np.array([5, 0.002, -0.001, 0.003, 1, 2, 4, 1, -1, 0.001]))
    references = [(points(place.seen_from(true).project(CORNERS)), place) for place in (Place(), FAR)]
    references[1] = (references[1][0], FAR.moved(np.array([3.0, -2.0, 0.02])))
    fit = bundle(start, references, known)
    assert fit.chi_square == pytest.approx(0, abs=1e-6)
    assert fit.places[1].x_mm == pytest.approx(FAR.x_mm, abs=1e-3)
    assert fit.camera.rotation == pytest.approx(true.rotation, abs=1e-6)


def test_the_covariance_is_that_of_many_trials() -> None:
    """Errors at a place far from both cards spread as claimed, and far less than with one card."""
    rng = np.random.default_rng(3)
    surprises, shares = [], []
    for _ in range(60):
        true = level(rng)
        seen = [
            p.seen_from(true).project(CORNERS) + rng.normal(0, POINT_SD_PX, (4, 2)) for p in (Place(), FAR)
        ]
        start = true.moved(np.r_[PRIOR.focal_px - true.focal_px, np.zeros(9)])
        both = bundle(start, [(points(seen[0]), Place()), (points(seen[1]), FAR)], known)
        one = bundle(start, [(points(seen[0]), Place())], known)
        target = np.array([[-200.0, 250.0, 0.0]])
        pixel = true.project(target)
        error = both.camera.to_plane(pixel)[0] - target[0, :2]
        variances = [along_both(b.camera, b.covariance, pixel) for b in (both, one)]
        surprises.append(error @ np.linalg.solve(variances[0], error))
        shares.append(np.trace(variances[0]) / np.trace(variances[1]))
    assert np.mean(surprises) == pytest.approx(2, abs=3 * 2 / math.sqrt(60))  # chi-square of two
    assert np.median(shares) < 0.25


def along_both(camera: Camera, covariance: FloatArray, pixel: FloatArray) -> FloatArray:
    """Covariance (2, 2) of the table point seen at ``pixel``."""
    jacobian = plane_jacobian(camera, pixel, Plane(0.0)).reshape(2, -1)
    return np.asarray(jacobian @ covariance @ jacobian.T)


def test_no_reference_is_an_error() -> None:
    with pytest.raises(ValueError, match="at least one"):
        bundle(View().camera(), [], known)
