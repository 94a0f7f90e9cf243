"""Hoops that hardly show in places, filled all the same."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.hoop import _hits_along, filled, hoop_bridged, hoop_closed, largest_part
from digitise.table_model import Mask


def test_largest_part_and_filled_by_hand() -> None:
    mask = np.array(
        [
            [1, 0, 0, 0, 0, 0],
            [0, 0, 1, 1, 1, 0],
            [0, 0, 1, 0, 1, 0],
            [0, 0, 1, 1, 1, 0],
            [0, 0, 0, 0, 0, 0],
        ],
        bool,
    )
    ring = largest_part(mask)
    assert ring.sum() == 8
    assert filled(ring).sum() == 9
    assert not largest_part(np.zeros((3, 3), bool)).any()


def hoop(gap_cells: int, gaps: int = 1) -> Mask:
    """A hoop 3 cells thick and 60 wide, open at so many places, evenly spaced, for some cells."""
    rows, cols = np.mgrid[:90, :80]
    away = np.hypot(rows - 45, cols - 40)
    turn = np.angle(np.exp(1j * gaps * np.arctan2(cols - 40, rows - 45))) / gaps
    return np.asarray((np.abs(away - 30) < 1.5) & (np.abs(turn) * 30 >= gap_cells / 2))


@pytest.mark.parametrize(("gap_cells", "gaps"), [(0, 1), (5, 1), (16, 1), (24, 1), (10, 2), (9, 3)])
def test_a_hoop_that_is_open_in_places_is_filled(gap_cells: int, gaps: int) -> None:
    area = int(hoop_closed(hoop(gap_cells, gaps)).sum())
    assert area == pytest.approx(np.pi * 30**2, rel=0.15)


@pytest.mark.parametrize(("gap_cells", "gaps"), [(94, 1), (40, 2)])
def test_what_is_half_open_is_no_hoop(gap_cells: int, gaps: int) -> None:
    """Half of one, and two quarters."""
    arcs = hoop(gap_cells, gaps)
    assert np.array_equal(hoop_closed(arcs), arcs)


def test_a_bridged_hoop_is_what_shows_of_it_and_its_convex_inside() -> None:
    whole, opened = hoop_closed(hoop(0)), hoop(24)
    bridged = hoop_bridged(opened)
    assert not (bridged & ~whole).any()
    assert (opened & ~bridged).sum() == 0
    inner = np.hypot(*(np.mgrid[:90, :80] - np.array([45, 40])[:, None, None])) < 24
    assert bridged[inner].all()


def test_hits_by_hand() -> None:
    """Of four walls about 5 x 5 cells one is away: where it would be only the one opposite is seen, from
    within three, and from a wall itself it counts as seen."""
    walls = np.zeros((5, 5), bool)
    walls[0, 1:4] = walls[1:4, 0] = walls[4, 1:4] = True
    assert _hits_along(walls)[2].tolist() == [4, 3, 3, 3, 1]


def test_closing_hoops_leaves_other_shapes_as_they_are() -> None:
    """A neck's hollows are no hoop's inside."""
    neck = np.zeros((80, 80), bool)
    neck[10:40, 10:70] = True
    neck[40:75, 36:44] = True
    assert np.array_equal(hoop_closed(neck), neck)
