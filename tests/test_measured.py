"""A value with its sd."""

from __future__ import annotations

import pytest

from model.errors import ModelError
from model.measured import Measured


def test_zero_sd_is_allowed() -> None:
    assert Measured(-3.5, 0.0).value == -3.5


@pytest.mark.parametrize(("value", "sd"), [(1.0, -0.1), (float("nan"), 1.0), (1.0, float("inf"))])
def test_nonsense_is_refused(value: float, sd: float) -> None:
    with pytest.raises(ModelError):
        Measured(value, sd)
