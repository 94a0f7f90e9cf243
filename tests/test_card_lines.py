"""The sums that a card's sides are measured by, against numpy's own and against hand-made lines."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitise.card_lines import median, robust_line
from digitise.card_sides import straightness


@given(st.integers(0, 10_000), st.integers(1, 30), st.sampled_from([(), (4,), (3, 2)]))
def test_the_median_is_numpys(seed: int, count: int, rest: tuple[int, ...]) -> None:
    values = np.random.default_rng(seed).normal(size=(count, *rest))
    np.testing.assert_array_equal(median(values), np.median(values, axis=0))


def test_a_line_is_found_among_strays_and_what_does_not_count() -> None:
    along = np.arange(101.0)
    shift = 0.3 + 0.02 * (along - 50)
    shift[::10] += 5.0  # strays
    shift[1::10] = 40.0  # not counted at all
    base = np.ones(101)
    base[1::10] = 0.0
    level, slope, weight = robust_line(along, shift, base)
    assert level == pytest.approx(0.3, abs=1e-9)
    assert slope == pytest.approx(0.02, abs=1e-9)
    assert not weight[::10].any()
    assert not weight[1::10].any()


def test_straightness_by_hand() -> None:
    assert straightness([0.9, 0.8], [0.0, 0.0]) == 1.0
    assert straightness([0.35, 0.9], [0.0, 0.5]) == pytest.approx(0.25 * np.exp(-0.5))
