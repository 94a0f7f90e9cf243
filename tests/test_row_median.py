"""The median over neighbouring rows, against scipy's filter of any shape."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import median_filter

from digitise.row_median import column_median, row_median


def test_a_column_worked_by_hand() -> None:
    # windows round 5 1 4 2 9 of three rows: (9 5 1) (5 1 4) (1 4 2) (4 2 9) (2 9 5)
    values = np.array([[5.0], [1.0], [4.0], [2.0], [9.0]])
    assert row_median(values, 3)[:, 0].tolist() == [5, 4, 2, 4, 5]


@pytest.mark.parametrize(
    ("count", "cols", "rows"), [(1300, 105, 11), (600, 40, 25), (9, 3, 3), (6, 2, 1), (4, 2, 7)]
)
def test_it_is_what_a_filter_of_any_shape_finds(count: int, cols: int, rows: int) -> None:
    values = np.random.default_rng(1).integers(0, 40, (count, cols)).astype(np.float32)
    before = values.copy()
    assert np.array_equal(row_median(values, rows), median_filter(values, (rows, 1), mode="wrap"))
    assert np.array_equal(values, before)


@pytest.mark.parametrize(("count", "cols", "rows"), [(360, 86, 7), (9, 3, 3), (6, 2, 1)])
def test_past_its_ends_a_column_may_go_on_as_its_mirror_image(count: int, cols: int, rows: int) -> None:
    values = np.random.default_rng(2).integers(0, 40, (count, cols)).astype(np.float32)
    assert np.array_equal(column_median(values, rows), median_filter(values, (rows, 1), mode="reflect"))
