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
