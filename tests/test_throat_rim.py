"""The rim of a deep opening, on pictures of a prism cut through a face 38 mm thick."""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt
import pytest
from shapely.geometry import Polygon

from digitise.axis import Axis
from digitise.camera import Camera
from digitise.linear import LinearPhoto
from digitise.resting import Resting
from digitise.throat_rim import throat_rim
from digitise.tone import FloatArray
from tests.page_samples import camera as above

UPPER = Resting(Axis(np.array([0.0, 0.0]), np.array([0.0, 1.0])), 38.0, 0.0)
LOWER = Resting(UPPER.axis, 0.0, 0.0)
FACE, WALL, TABLE = 200, 150, 90
FINE = 4  # pixels are drawn so much finer, then averaged
AREA_SHARE, OFF_MM = 0.006, 0.4

OPENING = Polygon([(0.0, 180.0), (65.0, 240.0), (-65.0, 240.0)]).buffer(-3.0).buffer(3.0)


def photo(opening: Polygon, shift_mm: float = 0.0) -> tuple[npt.NDArray[np.uint8], Camera]:
    """A picture of the prism below ``opening``, which lies ``shift_mm`` beside the axis."""
    camera = Camera(2400.0, 800.0, 600.0, above().camera.rotation, np.array([0.0, 200.0, 750.0]))
    ring = np.asarray(opening.exterior.coords)[:-1] + np.array([shift_mm, 0.0])
    whole = np.full((1200 * FINE, 1600 * FINE), FACE, np.uint8)
    rims = []
    for plane in (UPPER, LOWER):
        mask = np.zeros_like(whole)
        px = (plane.to_pixels(camera, ring) + 0.5) * FINE - 0.5
        cv2.fillPoly(mask, [np.round(px * 16).astype(np.int32)], 1, shift=4)
        rims.append(mask > 0)
    whole[rims[0]] = WALL
    whole[rims[0] & rims[1]] = TABLE
    small = cv2.resize(whole, (1600, 1200), interpolation=cv2.INTER_AREA)
    return np.repeat(small[..., None], 3, axis=2), camera


def off(ring_mm: FloatArray, opening: Polygon) -> float:
    return float(Polygon(ring_mm).exterior.hausdorff_distance(opening.exterior))


@pytest.mark.parametrize("off_mm", [-2.5, -1.5, 1.5, 3.0])
def test_the_rim_is_found_from_rough_rings_too_small_and_too_large(off_mm: float) -> None:
    """Of those too small the sharp corners are cut off, by 6 mm where all round 2.5 mm are missing."""
    pixels, camera = photo(OPENING)
    found = throat_rim(LinearPhoto(pixels), camera, UPPER, LOWER, OPENING.buffer(off_mm)).ring_mm
    assert Polygon(found).area == pytest.approx(OPENING.area, rel=AREA_SHARE)
    assert off(found, OPENING) < OFF_MM


def test_an_opening_beside_the_axis_is_found_where_it_is() -> None:
    pixels, camera = photo(OPENING, shift_mm=0.6)
    found = throat_rim(LinearPhoto(pixels), camera, UPPER, LOWER, OPENING.buffer(-2.0)).ring_mm
    middle = Polygon(found).centroid
    assert middle.x == pytest.approx(0.6, abs=0.1)
    assert middle.y == pytest.approx(OPENING.centroid.y, abs=0.1)
    assert Polygon(found).area == pytest.approx(OPENING.area, rel=AREA_SHARE)


def test_a_rim_shows_where_there_is_an_opening_and_not_on_a_bare_face() -> None:
    pixels, camera = photo(OPENING)
    there = throat_rim(LinearPhoto(pixels), camera, UPPER, LOWER, OPENING)
    bare = throat_rim(LinearPhoto(np.full_like(pixels, FACE)), camera, UPPER, LOWER, OPENING)
    assert there.shown > 0.6
    assert bare.shown < 0.05
