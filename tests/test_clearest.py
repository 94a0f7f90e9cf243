"""Between outlines with and without a rim or a shadow the edges' clearness and what lies between decide."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.band import even_ring
from digitise.clearest import Rival, clearest
from tests.drawn_view import empty_view


def rival(half_mm: float, length_mm: float, clearness: float, edge: float = 0.5) -> Rival:
    """A rectangle about the origin, all of it on as strong an edge."""
    x, y = half_mm, length_mm / 2
    world_mm = even_ring(np.array([[-x, -y], [x, -y], [x, y], [-x, y]]), 1.0)
    return Rival(world_mm, np.full(len(world_mm), edge), length_mm, clearness)


def chosen(rivals: list[Rival], foreign: float) -> int:
    """Which is chosen where all but the smallest's inside is ``foreign`` so much."""
    view = empty_view()
    return clearest(rivals, view, np.full(view.inside.shape, foreign))


@pytest.mark.parametrize(
    ("clearness", "foreign", "index"), [(8.6, 0.1, 1), (8.4, 0.1, 0), (8.6, 0.02, 0), (9.9, 0.02, 0)]
)
def test_a_larger_one_takes_in_a_rim_but_no_shadow(clearness: float, foreign: float, index: int) -> None:
    """A tenth larger, with an edge 0.84 to 0.99 times as clear."""
    assert chosen([rival(100.0, 400.0, 10.0), rival(110.0, 400.0, clearness)], foreign) == index


@pytest.mark.parametrize(("edge", "index"), [(0.32, 1), (0.27, 0)])
def test_a_larger_one_lies_on_an_edge_however_faint(edge: float, index: int) -> None:
    """0.40 and 0.34 of an edge of 0.8."""
    assert chosen([rival(100.0, 400.0, 10.0, 0.8), rival(110.0, 400.0, 9.0, edge)], 1.0) == index


def test_only_where_the_larger_one_leaves_the_other_its_edge_counts() -> None:
    """Both are the same on the left, where the larger one's edge is strong."""
    inner, outer = rival(100.0, 400.0, 10.0), rival(115.0, 400.0, 9.0)
    outer.world_mm[:, 0] = np.maximum(outer.world_mm[:, 0], -100.0)
    outer.edge[:] = np.where(outer.world_mm[:, 0] < -99.0, 1.0, 0.1)
    assert chosen([inner, outer], 1.0) == 0
    outer.edge[:] = np.where(outer.world_mm[:, 0] < -99.0, 0.0, 0.3)
    assert chosen([inner, outer], 1.0) == 1


def test_a_much_longer_one_took_a_shadow_for_its_end() -> None:
    assert chosen([rival(100.0, 400.0, 10.0), rival(106.0, 420.0, 9.8)], 1.0) == 1
    assert chosen([rival(100.0, 400.0, 10.0), rival(106.0, 425.0, 9.8)], 1.0) == 0


def test_a_little_larger_one_must_be_clearer() -> None:
    assert chosen([rival(100.0, 400.0, 10.0), rival(104.0, 400.0, 9.9)], 1.0) == 0
    assert chosen([rival(100.0, 400.0, 10.0), rival(104.0, 400.0, 10.4)], 1.0) == 1


def test_of_two_alike_the_shorter_is_taken() -> None:
    assert chosen([rival(100.0, 410.0, 10.0), rival(101.0, 400.0, 9.95)], 1.0) == 1
    assert chosen([rival(100.0, 410.0, 10.0), rival(101.0, 400.0, 9.85)], 1.0) == 0


def test_of_two_as_long_the_clearer_is_taken() -> None:
    """A hair's breadth less of length is no shadow left out."""
    assert chosen([rival(100.0, 400.0, 10.0), rival(101.0, 399.0, 9.9)], 1.0) == 0
    assert chosen([rival(100.0, 400.0, 9.9), rival(101.0, 399.0, 10.0)], 1.0) == 1


def test_what_leaves_out_a_part_of_the_clearer_one_is_no_rim_round_it() -> None:
    """17 mm farther out on the one side, as in the same picture 1 mm inside of it on the other: 6 % of what
    it takes in."""
    inner, outer = rival(100.0, 400.0, 10.0), rival(108.0, 400.0, 9.9)
    assert chosen([inner, outer], 1.0) == 1
    outer.world_mm[:, 0] += 9.0
    assert chosen([inner, outer], 1.0) == 0
