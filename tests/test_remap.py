"""Values of a picture at and between its pixels, and its smaller copies."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from digitise.remap import halved, remap_apart, remap_linear, remap_nearest, shrunk, values_nearest

RNG = np.random.default_rng(3)


def test_between_pixels_values_are_interpolated() -> None:
    picture = np.array([[0.0, 10.0], [20.0, 30.0]], np.float32)
    where = np.array([[[0.5, 0.0], [0.5, 0.5], [1.0, 1.0], [5.0, 0.0]]], np.float32)
    assert remap_linear(picture, where).tolist() == [[5, 15, 30, 10]]
    assert remap_linear(picture, where, beyond=-1.0)[0, 3] == -1


@pytest.mark.parametrize("count", [0, 1, 500, 40_000])
def test_the_nearest_pixel_and_outside_the_border_goes_on(count: int) -> None:
    picture = RNG.random((30, 40, 2)).astype(np.float32)
    points = (RNG.random((count, 2)) * [60, 50] - 10).astype(np.float32)
    col, row = np.clip(np.rint(points).astype(int), 0, [39, 29]).T
    np.testing.assert_array_equal(values_nearest(picture, points), picture[row, col])


@pytest.mark.parametrize("factor", [1, 2, 4, 3, 6])
def test_a_shrunk_picture_holds_the_means_of_its_blocks(factor: int) -> None:
    picture = RNG.integers(0, 256, (24, 36, 3)).astype(np.uint8)
    small = shrunk(picture, (36 // factor, 24 // factor), halved_from=4.0)
    blocks = picture.reshape(24 // factor, factor, 36 // factor, factor, 3).mean(axis=(1, 3))
    rounded_twice = 1.0
    np.testing.assert_allclose(small, blocks, atol=rounded_twice)


@pytest.mark.parametrize("size_px", [(40, 30), (36, 26), (18, 13), (7, 5)])
def test_a_known_half_saves_the_first_halving_and_changes_nothing(size_px: tuple[int, int]) -> None:
    picture = RNG.integers(0, 256, (53, 72, 3)).astype(np.uint8)
    small = shrunk(picture, size_px)
    np.testing.assert_array_equal(shrunk(picture, size_px, half=halved(picture)), small)
    other = np.zeros_like(halved(picture))  # and it is that half which is taken, where any is
    assert (shrunk(picture, size_px, half=other) == 0).all() == (size_px[0] <= 36)


def test_points_that_stand_apart_are_the_same_points() -> None:
    image = np.random.default_rng(2).integers(0, 255, (9, 8, 3)).astype(np.uint8)
    where = np.random.default_rng(3).uniform(-2, 10, (5, 6, 2)).astype(np.float32)
    apart = where[..., 0].copy(), where[..., 1].copy()
    np.testing.assert_array_equal(remap_apart(image, *apart), remap_linear(image, where))
    np.testing.assert_array_equal(remap_apart(image, *apart, cv2.INTER_NEAREST), remap_nearest(image, where))
