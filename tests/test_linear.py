"""Light read between a photo's pixels."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from digitise.linear import LinearPhoto
from digitise.tone import LIGHT_OF_BYTE


def noisy(rows: int, cols: int) -> NDArray[np.uint8]:
    return np.random.default_rng(3).integers(0, 256, (rows, cols, 3)).astype(np.uint8)


def test_between_pixels_light_is_interpolated_not_stored_values() -> None:
    pixels = np.zeros((4, 4, 3), np.uint8)
    pixels[:, 2:] = 255
    light = LinearPhoto(pixels).at(np.array([[1.0, 1.0], [1.25, 1.0], [1.5, 1.0], [2.0, 1.0]]))
    np.testing.assert_allclose(light[:, 0], [0.0, 0.25, 0.5, 1.0], atol=1e-4)


def test_every_pixel_has_its_own_light_however_often_and_in_whatever_order_it_is_asked_for() -> None:
    pixels = noisy(300, 410)
    whole = LIGHT_OF_BYTE[pixels]
    photo = LinearPhoto(pixels)
    rng = np.random.default_rng(5)
    for low, high in ((130, 260), (0, 40), (120, 135), (250, 300), (0, 300)):
        points = np.column_stack([rng.integers(low, high, 6000), rng.integers(low, high, 6000)])
        np.testing.assert_allclose(
            photo.at(points.astype(float)), whole[points[:, 1], points[:, 0]], atol=1e-5
        )


def test_outside_the_photo_its_border_goes_on() -> None:
    pixels = noisy(5, 6)
    points = np.array([[-30.0, 2.0], [7.5, 4.0], [3.0, -9.0], [90.0, 90.0]])
    light = LinearPhoto(pixels).at(points)
    np.testing.assert_allclose(light, LIGHT_OF_BYTE[pixels][[2, 4, 0, 4], [0, 5, 3, 5]], atol=1e-5)


def test_light_is_known_within_the_box_that_was_named_and_beyond_it_all_the_same() -> None:
    pixels = noisy(200, 310)
    photo = LinearPhoto(pixels, np.array([[100.7, 60.2], [190.0, 150.0]]))
    rng = np.random.default_rng(7)
    for low, high in (([101, 61], [189, 149]), ([100, 60], [190, 150]), ([-40, -40], [350, 240])):
        points = rng.uniform(low, high, (5000, 2))
        np.testing.assert_array_equal(photo.at(points), LinearPhoto(pixels).at(points))


def test_a_box_beyond_the_photo_is_as_good_as_none() -> None:
    pixels = noisy(40, 50)
    photo = LinearPhoto(pixels, np.array([[-90.0, -20.0], [-60.0, 400.0]]))
    points = np.array([[3.0, 4.0], [49.0, 39.0], [-5.0, 17.0]])
    np.testing.assert_array_equal(photo.at(points), LinearPhoto(pixels).at(points))


def test_places_whose_x_and_y_stand_apart_are_the_same_places() -> None:
    photo = LinearPhoto(noisy(90, 70))
    points = np.random.default_rng(9).uniform(-5, 95, (40, 500, 2)).astype(np.float32)  # more than one row's
    apart = photo.at_apart(np.moveaxis(points, -1, 0).copy())
    np.testing.assert_array_equal(apart.reshape(-1, 3), photo.at(points.reshape(-1, 2)))
