from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitise.tone import LIGHT_OF_BYTE, light_of_colour, log_colour, to_linear, to_stored


def test_known_values_of_the_curve() -> None:
    stored = np.array([0.0, 0.04045, 0.5, 1.0])
    expected = [0.0, 0.04045 / 12.92, ((0.5 + 0.055) / 1.055) ** 2.4, 1.0]
    assert to_linear(stored) == pytest.approx(expected, abs=1e-12)


def test_middle_grey_is_byte_118() -> None:
    # 18 % grey: 1.055 * 0.18 ** (1 / 2.4) - 0.055 = 0.4613, times 255 = 117.6
    assert float(to_stored(np.array([0.18]))[0]) * 255 == pytest.approx(117.6, abs=0.1)
    assert LIGHT_OF_BYTE[117] < 0.18 < LIGHT_OF_BYTE[118]


def test_light_beyond_white_is_clipped() -> None:
    assert to_stored(np.array([-0.2, 1.4])) == pytest.approx([0.0, 1.0])


@given(st.floats(0, 1))
def test_there_and_back(stored: float) -> None:
    assert float(to_stored(to_linear(np.array([stored])))[0]) == pytest.approx(stored, abs=1e-6)


@given(st.lists(st.floats(0, 2), min_size=6, max_size=6))
def test_colour_there_and_back(light: list[float]) -> None:
    rgb = np.array(light).reshape(2, 3)
    assert light_of_colour(log_colour(rgb)) == pytest.approx(rgb, abs=1e-12)


def test_what_is_darker_than_any_light_is_black() -> None:
    """e to the -10th is 0.00005, less than the floor that is added to all light."""
    assert light_of_colour(np.array([-10.0, 0.0, 0.0])).tolist() == [0.0, 0.0, 0.0]
