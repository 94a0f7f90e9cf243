"""A hole's rim told from its wall, and an opening's from what is seen through it."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from digitise.axis import Axis
from digitise.camera import Camera
from digitise.face_throat import with_walls
from digitise.hole_rims import STEP_MM, commonest, refined, rim_distances, rim_shares
from digitise.linear import LinearPhoto
from digitise.resting import Resting
from digitise.tone import FloatArray
from tests.page_samples import camera as above

UP = Axis(np.array([0.0, 0.0]), np.array([0.0, 1.0]))
UPPER, LOWER = Resting(UP, 38.0, 0.0), Resting(UP, 0.0, 0.0)


def through(camera: Camera, ring_mm: FloatArray) -> Polygon:
    """What is seen through a prism with this rim: upper rim and lower rim, on the upper plane."""
    below = UPPER.from_pixels(camera, LOWER.to_pixels(camera, ring_mm))
    return Polygon(ring_mm).intersection(Polygon(below))


def test_an_opening_is_found_whole_from_what_is_seen_through_it() -> None:
    """A triangle beside the camera's foot, through which two of its three walls narrow the view."""
    camera = above().camera
    ring = np.array([[30.0, 180.0], [95.0, 240.0], [-35.0, 240.0]])
    seen = through(camera, ring)
    assert seen.area < 0.8 * Polygon(ring).area
    whole = with_walls(seen, camera, UPPER, LOWER)
    assert whole.area == pytest.approx(Polygon(ring).area, rel=0.06)
    assert whole.area > seen.area


def test_straight_under_the_camera_a_square_opening_loses_nothing_that_matters() -> None:
    """There the lower rim, farther away, limits the view all round; at its own height it is the whole."""
    camera = above().camera
    ring = np.array([[20.0, -20.0], [20.0, 20.0], [-20.0, 20.0], [-20.0, -20.0]])
    whole = with_walls(through(camera, ring), camera, UPPER, LOWER)
    assert whole.area == pytest.approx(box(-20, -20, 20, 20).area, rel=1e-6)


def test_the_strongest_edge_of_a_ray_is_taken_and_none_where_all_is_even() -> None:
    away = np.arange(4.0, 8.0, STEP_MM)
    light = np.zeros((1, 2, len(away), 3), np.float32)
    light[0, 0] += np.where(away > 5.0, 0.1, 0.0)[:, None]
    light[0, 0] += np.where(away > 6.0, 0.3, 0.0)[:, None]
    found = rim_distances(light, away)
    assert found[0, 0] == pytest.approx(6.0, abs=STEP_MM)
    assert np.isnan(found[0, 1])


def test_the_commonest_value_wins_over_many_scattered_ones() -> None:
    rng = np.random.default_rng(3)
    values = np.concatenate([rng.normal(6.0, 0.03, 300), rng.uniform(4.0, 8.0, 300)])
    assert commonest(values, 5.7) == pytest.approx(6.0, abs=0.05)
    assert commonest(np.zeros(0), 5.7) == 5.7


def test_a_circle_drawn_in_a_photo_is_found_to_a_fraction_of_a_pixel() -> None:
    """Black discs of 24.5 px on white, begun 0.6 mm beside and 0.4 mm too small."""
    camera = Camera(3000.0, 400.0, 300.0, above().camera.rotation, np.array([0.0, 0.0, 750.0]))
    lying = Resting(UP, 0.0, 0.0)
    centre = np.array([[5.0, 12.0]])
    true_mm = 24.5 * 750.0 / 3000.0
    rows, cols = np.mgrid[:600, :800]
    u, v = lying.to_pixels(camera, centre)[0]
    shade = np.clip(np.hypot(cols - u, rows - v) - 24.5 + 0.5, 0, 1)
    picture = np.repeat(np.where(shade > 0.5, 230, 10).astype(np.uint8)[..., None], 3, axis=2)
    found, radius_mm = refined(
        LinearPhoto(picture), camera, lying, centre + np.array([0.6, 0.0]), true_mm - 0.4
    )
    assert radius_mm == pytest.approx(true_mm, abs=0.06)
    np.testing.assert_allclose(found, centre, atol=0.06)


def test_a_rim_shows_where_there_is_a_disc_and_not_on_a_bare_face() -> None:
    """Of two places that a pattern wants, a disc lies 0.8 mm beside the first."""
    camera = Camera(3000.0, 400.0, 300.0, above().camera.rotation, np.array([0.0, 0.0, 750.0]))
    lying = Resting(UP, 0.0, 0.0)
    rows, cols = np.mgrid[:600, :800]
    u, v = lying.to_pixels(camera, np.array([[-20.0, 10.0]]))[0]
    shade = np.where(np.hypot(cols - u, rows - v) > 24.0, 230, 10).astype(np.uint8)
    picture = np.repeat(shade[..., None], 3, axis=2)
    wanted = np.array([[-20.8, 10.0], [30.0, 10.0]])
    shares = rim_shares(LinearPhoto(picture), camera, lying, wanted, 6.0)
    assert shares[0] > 0.9
    assert shares[1] == 0.0
