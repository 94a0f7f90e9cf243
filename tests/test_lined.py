"""Lines of the table are made table; what is wider than a line stays, and so does what lies elsewhere."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.axis import edge_field
from digitise.flat import FlatView
from digitise.lined import HALF_MM, ON_BY, lines_in, strips_mm, tiles_left_out
from digitise.silhouette import ODD, find_silhouettes
from digitise.table_model import TableModel, model_table
from digitise.tone import FloatArray
from tests.drawn_view import PADDLE_LIGHT, axis_at, cover, empty_view, paddle_ring, paint, roughen

JOINT_LIGHT = (0.84, 0.72, 0.60)
JOINTS_MM = np.array(
    [[[-250.0, -150.0], [-250.0, 160.0]], [[-60.0, -200.0], [-60.0, 220.0]],
     [[-280.0, -100.0], [280.0, -100.0]], [[-280.0, 120.0], [280.0, 120.0]]]
)  # fmt: skip


def draw(view: FlatView, line_mm: FloatArray) -> None:
    """A light line (2, 2) along the view's rows or columns, three cells wide: 6 mm."""
    (col, row), (last_col, last_row) = np.sort(np.rint(view.to_grid(line_mm)).astype(int), axis=0)
    view.light[row - 1 : last_row + 2, col - 1 : last_col + 2] = JOINT_LIGHT


def tiled(ring: FloatArray) -> tuple[FlatView, TableModel]:
    """A paddle on tiles whose light joints close round one of them beside it."""
    view = empty_view()
    for joint in JOINTS_MM:
        draw(view, joint)
    paint(view, ring, PADDLE_LIGHT)
    roughen(view, 0.02, 3)
    return view, model_table(view, np.zeros_like(view.inside))


def overlap(view: FlatView, table: TableModel, ring: FloatArray) -> float:
    """Area that mask and truth share, of the area of both."""
    settled, _ = find_silhouettes(table, edge_field(table.unlike), view.inside, view.cell_mm)
    truth = cover(view, ring) > 0.5
    return float((settled & truth).sum() / (settled | truth).sum())


def test_a_tile_that_joints_close_round_is_no_part_of_the_racquet() -> None:
    ring = axis_at(20.0, 0.0, 0.0).moved(0.0, 0.0, -200.0).to_world(paddle_ring())
    view, table = tiled(ring)
    assert overlap(view, table, ring) < 0.8  # a tile is taken in
    plain = tiles_left_out(table, view.cells_in(strips_mm(JOINTS_MM)) > 0)
    assert overlap(view, plain, ring) > 0.95
    # a line that closes round nothing is left as it is
    elsewhere = view.cells_in(strips_mm([np.array([[200.0, -280.0], [300.0, -280.0]])])) > 0
    assert tiles_left_out(table, elsewhere) is table


def test_only_thin_things_under_a_line_become_table() -> None:
    view = empty_view()
    line = np.array([[-100.0, 0.0], [0.0, 0.0]])
    for y_mm in (0.0, 60.0):
        draw(view, line + np.array([0.0, y_mm]))
    wide = np.array([[20.0, -20.0], [60.0, -20.0], [60.0, 20.0], [20.0, 20.0]])
    paint(view, wide, JOINT_LIGHT)
    table = model_table(view, np.zeros_like(view.inside))
    under = view.cells_in(strips_mm([np.array([[-90.0, 0.0], [70.0, 0.0]])])) > 0
    plain = table.made_bare(lines_in(table, under))
    assert table.oddness[under].max() > ODD
    assert plain.oddness[under & (cover(view, wide) == 0)].max() < ODD
    kept = cover(view, wide) > 0.9
    assert np.array_equal(plain.oddness[kept], table.oddness[kept])
    changed = plain.oddness != table.oddness
    assert changed.any()
    assert not (changed & ~under).any()
    assert np.all(plain.bare[changed] == 1)
    assert np.all(plain.unlike[changed] == 0)


def test_a_strip_goes_on_past_both_ends() -> None:
    (strip,) = strips_mm([np.array([[0.0, 10.0], [100.0, 10.0]])])
    assert strip[:, 0].min() == pytest.approx(-100 * ON_BY)
    assert strip[:, 0].max() == pytest.approx(100 * (1 + ON_BY))
    assert np.ptp(strip[:, 1]) == pytest.approx(2 * HALF_MM)
    assert strip[:, 1].mean() == pytest.approx(10.0)
