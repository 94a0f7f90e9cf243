"""Sums and maxima along rows, against numpy's own."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.running import running
from digitise.tone import Image


@pytest.mark.parametrize("kind", [np.float32, np.float64])
@pytest.mark.parametrize("operation", [np.add, np.maximum])
def test_what_runs_along_rows_is_what_numpy_accumulates(operation: np.ufunc, kind: type) -> None:
    values: Image = np.asarray(np.random.default_rng(3).normal(size=(2, 40, 23)), kind)
    on = running(operation, values)
    assert on.dtype == kind
    assert np.array_equal(on, operation.accumulate(values, axis=-1))
    back = operation.accumulate(values[..., ::-1], axis=-1)[..., ::-1]
    assert np.array_equal(running(operation, values, from_end=True), back)


def test_what_it_is_given_stays_as_it_is() -> None:
    values = np.ones((3, 1, 4), np.float32)
    assert running(np.add, values[:, 0])[:, -1].tolist() == [4.0, 4.0, 4.0]
    assert np.all(values == 1)
    assert running(np.add, values[..., :1]).tolist() == values[..., :1].tolist()


def test_of_nothing_nothing_runs() -> None:
    assert running(np.add, np.zeros((0, 5), np.float32)).shape == (0, 5)
