"""Filters of straightened pictures: against scipy's of any shape, and by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d, maximum_filter1d

from digitise.band_filters import COLOUR_WEIGHT, blurred, colour_distance, colour_steps, highest_near


def noise(rows: int, cols: int) -> np.ndarray:
    return np.random.default_rng(4).normal(size=(rows, cols, 3)).astype(np.float32)


@pytest.mark.parametrize(("along", "across"), [(1.5, 0.0), (0.0, 1.6), (3.0, 0.8)])
def test_blur_goes_round_the_rows_and_past_the_last_columns(along: float, across: float) -> None:
    picture = noise(40, 21)
    wanted = picture.astype(float)
    if along:
        wanted = gaussian_filter1d(wanted, along, axis=0, mode="wrap")
    if across:
        wanted = gaussian_filter1d(wanted, across, axis=1, mode="nearest")
    assert np.abs(blurred(picture, along, across) - wanted).max() < 2e-6


def test_blur_of_fewer_rows_than_it_reaches_still_goes_round() -> None:
    picture = noise(5, 7)
    wanted = gaussian_filter1d(picture.astype(float), 3.0, axis=0, mode="wrap")
    assert np.abs(blurred(picture, 3.0) - wanted).max() < 2e-6


def test_a_step_counts_its_colours_by_weight_in_the_middle_of_both_windows() -> None:
    picture = np.zeros((3, 20, 3), np.float32)
    picture[:, 10:] = (0.3, 0.2, -0.1)
    step = colour_steps(picture, 3)
    # The means of three places, two before and two after each: at 9 and 10 all on either side of the step.
    whole = np.hypot(0.3, 1.5 * np.hypot(0.2, 0.1))
    assert step[1, 9] == pytest.approx(whole, rel=1e-5)
    assert step[1, 10] == pytest.approx(whole, rel=1e-5)
    assert step[1, 8] == pytest.approx(2 / 3 * whole, rel=1e-5)
    assert step[1, 6] == 0
    assert step[1, 13] == 0
    assert not step[:, :4].any()
    assert not step[:, -4:].any()


def test_steps_along_the_rows_are_those_along_the_columns_turned() -> None:
    picture = noise(24, 18)
    turned = np.ascontiguousarray(picture.swapaxes(0, 1))
    assert np.abs(colour_steps(picture, 4, axis=0) - colour_steps(turned, 4).T).max() < 1e-6


def test_a_band_too_narrow_for_both_windows_shows_no_step() -> None:
    assert not colour_steps(noise(6, 8), 4).any()


def test_distance_from_a_look() -> None:
    picture = noise(6, 5)
    look = np.array([0.4, -0.2, 0.1])
    wanted = np.sqrt((((picture - look) * COLOUR_WEIGHT) ** 2).sum(axis=2))
    assert np.abs(colour_distance(picture, look) - wanted).max() < 1e-6


def test_highest_near_is_a_maximum_along_the_columns() -> None:
    picture = noise(9, 30)[..., 0]
    assert np.array_equal(highest_near(picture, 5), maximum_filter1d(picture, 5, axis=1))
