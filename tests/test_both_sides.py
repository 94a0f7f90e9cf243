"""One smooth outline from two sides: known curves, with what an edge finder does to them."""

from __future__ import annotations

import numpy as np

from digitise.best_line import best_lines
from digitise.both_sides import common_offsets
from digitise.tone import FloatArray

COUNT = 1000
ROWS = np.arange(COUNT)
ALIKE = np.abs(ROWS - COUNT / 2)  # the same at i and -i
SLOW = np.cos(2 * np.pi * ALIKE / 250.0)


def fitted(offset_mm: FloatArray) -> FloatArray:
    return common_offsets(offset_mm, np.ones(COUNT), 1.0)


def test_a_slow_curve_comes_back() -> None:
    np.testing.assert_allclose(fitted(SLOW), SLOW, atol=0.1)


def test_noise_is_averaged_over_both_sides_and_along() -> None:
    noise = 0.3 * np.random.default_rng(1).standard_normal(COUNT)
    assert np.std(fitted(SLOW + noise) - SLOW) < 0.3 * 0.4


def test_what_one_side_shows_alone_counts_for_little() -> None:
    disturbed = SLOW.copy()
    disturbed[200:215] += 3.0
    assert np.abs(fitted(disturbed) - SLOW).max() < 0.5


def test_both_sides_are_the_same() -> None:
    line = fitted(SLOW + 0.2 * np.random.default_rng(2).standard_normal(COUNT))
    np.testing.assert_allclose(line, np.roll(line[::-1], 1))


def test_the_best_of_several_lines_is_found_in_each_picture() -> None:
    gain = np.zeros((2, 4, 5), np.float32)
    gain[0, :, 1] = 1.0
    gain[1, [0, 1, 2, 3], [0, 1, 2, 3]] = 2.0
    lines = best_lines(gain, 0.5, 1)
    np.testing.assert_array_equal(lines, [[1, 1, 1, 1], [0, 1, 2, 3]])


def test_a_jump_is_paid_once() -> None:
    gain = np.zeros((1, 6, 40), np.float32)
    gain[0, :3, 2] = 5.0
    gain[0, 3:, 35] = 5.0
    assert best_lines(gain, 1.0, 2, 4.0)[0].tolist() == [2, 2, 2, 35, 35, 35]
