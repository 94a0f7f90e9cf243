"""Least-squares problems side by side: a line's closed form, a valley that bends, and problems that rest."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest

from digitise.descents import Quadratics, descents
from digitise.tone import FloatArray


def quadratics(pulls: FloatArray, slopes: FloatArray) -> Quadratics:
    across = slopes.swapaxes(1, 2)
    return Quadratics(
        np.sum(pulls**2, axis=1) / 2, (across @ pulls[..., None])[..., 0], np.asarray(across @ slopes)
    )


def valley(parameters: FloatArray, which: npt.NDArray[np.intp]) -> Quadratics:
    """Rosenbrock's bent valley, whose bottom is at (1, 1); problem k is scaled by k + 1."""
    x, y = parameters.T
    scale = (which + 1.0)[:, None]
    pulls = scale * np.stack([10 * (y - x**2), 1 - x], axis=1)
    none = np.zeros_like(x)
    slopes = np.stack([np.stack([-20 * x, none + 10], axis=1), np.stack([none - 1, none], axis=1)], axis=1)
    return quadratics(pulls, scale[..., None] * slopes)


def test_a_line_has_its_closed_form() -> None:
    x = np.array([0.0, 1.0, 2.0, 3.0])
    y = np.array([[1.0, 3.0, 5.0, 7.0], [0.0, 1.0, 1.0, 2.0]])
    columns = np.column_stack([np.ones(4), x])

    def line(parameters: FloatArray, which: npt.NDArray[np.intp]) -> Quadratics:
        return quadratics(parameters @ columns.T - y[which], np.tile(columns, (len(which), 1, 1)))

    found = descents(line, np.zeros((2, 2)), 20, 1e-12)
    # 1 + 2 x exactly; by hand: mean 1, slope (1.5 * 2 + 0.5 * 0) / 5 = 0.6, level 1 - 0.6 * 1.5 = 0.1
    assert found.parameters == pytest.approx(np.array([[1.0, 2.0], [0.1, 0.6]]), abs=1e-5)
    assert found.there.cost == pytest.approx([0.0, 0.1], abs=1e-9)
    assert found.best(1).tolist() == [0]


def test_all_get_down_a_bent_valley() -> None:
    found = descents(valley, np.array([[-1.2, 1.0], [3.0, -2.0], [0.0, 0.0]]), 60, 0.0)
    assert found.parameters == pytest.approx(np.ones((3, 2)), abs=1e-6)


def test_no_step_goes_up_and_none_is_none() -> None:
    start = np.array([[-1.2, 1.0], [3.0, -2.0]])
    costs = [descents(valley, start, steps, 0.0).there.cost for steps in range(8)]
    assert costs[0] == pytest.approx(valley(start, np.arange(2)).cost)
    assert (np.diff(costs, axis=0) <= 0).all()
    assert (costs[-1] < costs[0]).all()


def test_one_that_gains_too_little_rests() -> None:
    resting = descents(valley, np.array([[-1.2, 1.0]]), 60, 1.0)
    once = descents(valley, np.array([[-1.2, 1.0]]), 1, 0.0)
    assert resting.parameters == pytest.approx(once.parameters)


def test_a_parameter_that_moves_nothing_stays_where_it_is() -> None:
    def first_alone(parameters: FloatArray, which: npt.NDArray[np.intp]) -> Quadratics:
        slopes = np.tile([[1e3, 0.0]], (len(which), 1, 1))
        return quadratics(1e3 * (parameters[:, :1] - 5.0), slopes)

    found = descents(first_alone, np.array([[0.0, 7.0]]), 20, 1e-12)
    assert found.parameters == pytest.approx(np.array([[5.0, 7.0]]), abs=1e-6)
