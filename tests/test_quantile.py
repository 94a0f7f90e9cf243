from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitise.quantile import median_of, quantile_of, quantile_of_rows


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=40), st.floats(0, 1))
def test_they_are_numpy_s(values: list[float], share: float) -> None:
    assert median_of(np.array(values)) == float(np.median(values))
    assert quantile_of(np.array(values), share) == pytest.approx(
        np.quantile(values, share), rel=1e-12, abs=1e-9
    )


@pytest.mark.parametrize("shape", [(30_000,), (151, 101), (4, 5, 6)])
def test_they_are_numpy_s_in_32_bits_and_leave_the_values_as_they_are(shape: tuple[int, ...]) -> None:
    values = np.random.default_rng(5).normal(size=shape).astype(np.float32)
    before = values.copy()
    assert median_of(values) == float(np.median(values))
    for share in (0.0, 0.5, 0.8, 1.0):
        assert quantile_of(values, share) == pytest.approx(float(np.quantile(values, share)), abs=1e-6)
    np.testing.assert_array_equal(values, before)


@pytest.mark.parametrize("share", [0.0, 0.25, 0.6, 1.0])
@pytest.mark.parametrize("columns", [1, 2, 45])
def test_each_row_s_is_numpy_s(share: float, columns: int) -> None:
    values = np.random.default_rng(6).normal(size=(30, columns)).astype(np.float32)
    want = np.quantile(values, share, axis=1)
    np.testing.assert_allclose(quantile_of_rows(values, share), want, rtol=1e-5, atol=1e-6)
