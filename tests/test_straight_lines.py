"""Long lines put together from pieces of edges: by hand, and whatever their order."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitise.straight_lines import MOST_LINES, long_lines

SIZE = (700, 525)


def pieces(*lines: tuple[float, float, float, float]) -> np.ndarray:
    return np.array(lines, float).reshape(-1, 4)


def test_pieces_in_line_are_one_line_from_end_to_end() -> None:
    found = long_lines(pieces((50, 100, 200, 100), (260, 100.4, 400, 100.4)), SIZE)
    assert found.shape == (1, 4)
    assert sorted(found[0, [0, 2]]) == pytest.approx([50, 400], abs=0.01)
    assert found[0, [1, 3]] == pytest.approx([100.2, 100.2], abs=0.3)


def test_a_line_mostly_hidden_or_short_is_none() -> None:
    assert len(long_lines(pieces((50, 100, 110, 100), (350, 100, 400, 100)), SIZE)) == 0  # 110 of 350 seen
    assert len(long_lines(pieces((50, 100, 259, 100)), SIZE)) == 0  # 209 of the 210 asked for
    assert len(long_lines(pieces((50, 100, 261, 100)), SIZE)) == 1
    assert len(long_lines(pieces(), SIZE)) == 0


def test_pieces_on_top_of_each_other_count_once() -> None:
    twice = pieces((50, 100, 150, 100), (60, 100.5, 150, 100.5), (330, 100, 400, 100))
    assert len(long_lines(twice, SIZE)) == 1  # 170 of 350
    assert (
        len(long_lines(pieces((50, 100, 120, 100), (50, 100.5, 120, 100.5), (330, 100, 400, 100)), SIZE)) == 1
    )
    assert (
        len(long_lines(pieces((50, 100, 110, 100), (50, 100.5, 110, 100.5), (340, 100, 400, 100)), SIZE)) == 0
    )


def test_lines_that_a_lens_bends_most_come_first() -> None:
    middle, far, short = (50, 262, 650, 262), (50, 20, 650, 20), (50, 500, 300, 500)
    found = long_lines(pieces(middle, short, far), SIZE)
    assert found[:, 1] == pytest.approx([20, 500, 262])


def test_turned_pieces_are_other_lines() -> None:
    crossing = pieces((100, 100, 400, 100), (100, 120, 400, 80))
    assert len(long_lines(crossing, SIZE)) == 2


@given(st.permutations(range(6)))
def test_the_order_of_pieces_does_not_matter(order: list[int]) -> None:
    lines = pieces(
        (10, 30, 300, 33), (320, 33, 500, 35), (40, 60, 45, 500), (600, 40, 620, 480), (100, 400, 390, 380),
        (30, 450, 640, 450),
    )  # fmt: skip
    found = long_lines(lines[order], SIZE)
    assert found == pytest.approx(long_lines(lines, SIZE), abs=1e-9)
    assert len(found) == 5


def test_at_most_so_many() -> None:
    assert len(long_lines(pieces(*((10, y, 650, y) for y in range(20, 500, 20))), SIZE)) == MOST_LINES
