"""Which edges look like a clicked one, on pictures with two of them side by side."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from digitise.page.likeness import edges_of

CELL_MM = 0.5
SIZE = 120
OUTER, INNER = 60.0, 50.0
"""Columns at which the table meets the rim (a faint edge) and the rim the face (a strong one)."""
TABLE, RIM, FACE = (90.0, 85.0, 80.0), (70.0, 74.0, 80.0), (220.0, 215.0, 200.0)


def banded() -> npt.NDArray[np.uint8]:
    """Face, rim and table side by side, a cell of blur between them, with noise."""
    x = np.arange(SIZE, dtype=float)[None, :, None]
    inner, outer = (np.clip(x - at + 0.5, 0, 1) for at in (INNER, OUTER))
    clean = np.array(FACE) * (1 - inner) + np.array(RIM) * (inner - outer) + np.array(TABLE) * outer
    noise = np.random.default_rng(5).normal(0, 1.0, (SIZE, SIZE, 3))
    return np.asarray(np.clip(np.round(clean + noise), 0, 255), np.uint8)


def test_a_click_takes_the_edge_that_goes_on_to_the_next() -> None:
    """A strong line crosses the faint rim just where the click is; the person goes on along the rim."""
    picture = banded()
    picture[58:60, 62:] = 255
    clicks = np.array([62.0, 60.0]), np.array([59.0, 100.0])
    for cell, click in zip(edges_of(picture, CELL_MM).clicked(*clicks), clicks, strict=True):
        assert abs(cell[0] - OUTER) <= 1
        assert abs(cell[1] - click[1]) <= 2


def test_the_faint_edge_is_cheap_where_it_was_clicked_and_the_strong_one_dear() -> None:
    edges = edges_of(banded(), CELL_MM)
    cost, normal = edges.like(edges.clicked(np.array([61.0, 20.0]), np.array([59.0, 100.0])))
    rows = slice(10, SIZE - 10)
    outer = cost[rows, 59:62].min(axis=1)
    inner = cost[rows, 49:52].min(axis=1)
    flat = cost[rows, 80:110]
    assert np.median(outer) < 0.1
    assert np.median(inner) > 0.2
    assert flat.mean() > 0.9
    assert np.abs(np.median(normal[rows, 60, 0])) > 0.95


def test_any_of_several_clicked_edges_will_do() -> None:
    edges = edges_of(banded(), CELL_MM)
    cost, _ = edges.like([(round(OUTER), 60), (round(INNER), 60)])
    assert np.median(cost[10:-10, 59:62].min(axis=1)) < 0.1
    assert np.median(cost[10:-10, 49:52].min(axis=1)) < 0.1


def test_of_two_edges_near_a_click_the_one_like_the_other_clicks_is_meant() -> None:
    """The second click lies nearly as near to the strong inner edge as to the faint one of the first."""
    picture = banded()
    inward = np.array([57.5, 100.0])
    first, last = edges_of(picture, CELL_MM).clicked(np.array([61.0, 20.0]), inward)
    assert abs(first[0] - OUTER) <= 1
    assert abs(last[0] - OUTER) <= 1
