"""Points near each other and groups of them, against looking at every pair."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from digitise.near_pairs import hanging_together, near_pairs


@given(st.integers(0, 10_000), st.integers(0, 40), st.floats(1.0, 60.0))
def test_pairs_are_those_within_reach(seed: int, count: int, reach: float) -> None:
    points = np.random.default_rng(seed).random((count, 2)) * 100
    apart = np.linalg.norm(points[:, None] - points, axis=2)
    assert near_pairs(points, reach).tolist() == np.argwhere(np.triu(apart <= reach, 1)).tolist()


def test_a_chain_is_one_group_whatever_its_order() -> None:
    first, second = np.array([5, 1, 3]), np.array([3, 5, 0])  # 1 - 5 - 3 - 0
    assert hanging_together(first, second, 7).tolist() == [0, 0, 1, 0, 2, 0, 3]


@given(st.lists(st.tuples(st.integers(0, 19), st.integers(0, 19)), max_size=30))
def test_joined_things_share_a_group_and_others_do_not(pairs: list[tuple[int, int]]) -> None:
    joins = np.array(pairs, int).reshape(-1, 2)
    together = np.eye(20, dtype=bool)
    together[joins[:, 0], joins[:, 1]] = together[joins[:, 1], joins[:, 0]] = True
    for _ in range(5):  # paths of up to 2^5 steps
        together = together @ together
    groups = hanging_together(joins[:, 0], joins[:, 1], 20)
    assert np.array_equal(groups[:, None] == groups, together)
    assert np.array_equal(np.unique(groups), np.arange(groups.max() + 1))
