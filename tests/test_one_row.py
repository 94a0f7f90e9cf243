"""A program of one row: by hand, and against a general solver."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.optimize import linprog

from model.one_row import one_row

ROOM = np.array([2.0, 3.0, 5.0])


def test_the_cheapest_for_what_it_brings_is_filled_first() -> None:
    """10 of the row are asked: 3 x 2 from the second at 1/2 each, then 4 x 1 from the third at 3/4 each."""
    x, price = one_row(np.array([4.0, 1.0, 0.75]), np.array([-3.0, -2.0, -1.0]), -10.0, ROOM) or (None, 0)
    assert x == pytest.approx([0.0, 3.0, 4.0])
    assert price == pytest.approx(0.75)


def test_what_pays_is_put_on_until_the_row_is_full() -> None:
    """All would take 2 + 6 + 10 of the row: the third gains least for it, so of its 10 only 7 are left."""
    x, price = one_row(np.array([-4.0, -5.0, -2.0]), np.array([1.0, 2.0, 2.0]), 15.0, ROOM) or (None, 0)
    assert x == pytest.approx([2.0, 3.0, 3.5])
    assert price == pytest.approx(1.0)


def test_a_row_that_does_not_bind_has_no_price() -> None:
    x, price = one_row(np.array([-1.0, 1.0, 0.0]), np.ones(3), 2.0, ROOM) or (None, 1)
    assert x == pytest.approx([2.0, 0.0, 0.0])
    assert price == 0


@pytest.mark.parametrize(("side", "there"), [(-10.0, True), (-10.0 - 1e-12, True), (-10.001, False)])
def test_no_more_than_all_there_is(side: float, there: bool) -> None:
    answer = one_row(np.ones(3), -np.ones(3), side, ROOM)
    assert (answer is not None) == there
    if answer is not None:
        assert answer[0] == pytest.approx(ROOM)


def test_a_row_of_nothing_can_not_be_lowered() -> None:
    assert one_row(np.ones(3), np.zeros(3), -1.0, ROOM) is None


numbers = st.integers(-40, 40).map(lambda k: k / 8)


@settings(max_examples=200, deadline=None)
@given(
    arrays(np.float64, 6, elements=numbers),
    arrays(np.float64, 6, elements=numbers),
    numbers,
    arrays(np.float64, 6, elements=st.integers(1, 40).map(lambda k: k / 8)),
)
def test_as_a_general_solver_has_it(
    cost: np.ndarray[tuple[int], np.dtype[np.float64]],
    row: np.ndarray[tuple[int], np.dtype[np.float64]],
    side: float,
    room: np.ndarray[tuple[int], np.dtype[np.float64]],
) -> None:
    want = linprog(cost, row[None], [side], bounds=np.column_stack([np.zeros(6), room]))
    answer = one_row(cost, row, side, room)
    assert (answer is None) == (want.status != 0)
    if answer is None:
        return
    x, price = answer
    assert (x >= 0).all()
    assert (x <= room).all()
    assert row @ x <= side + 1e-9
    assert cost @ x == pytest.approx(want.fun, abs=1e-9)
    # Its price proves it: no x is cheaper once the row is priced in.
    assert price >= 0
    assert np.minimum(cost + price * row, 0) @ room - price * side == pytest.approx(want.fun, abs=1e-9)
