"""Light lines and patches that run out of the picture are made table; a racquet is not."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.axis import edge_field
from digitise.flat import FlatView
from digitise.lit import without_light
from digitise.refusal import Reason, Refused
from digitise.silhouette import ODD, find_silhouettes
from digitise.table_model import TableModel, model_table
from digitise.tone import FloatArray
from tests.drawn_view import PADDLE_LIGHT, axis_at, cover, empty_view, paddle_ring, paint, roughen


def paddle_at(x_mm: float, y_mm: float) -> FloatArray:
    """A paddle's ring in the world, its middle at (x, y)."""
    return axis_at(x_mm, y_mm, 0.0).moved(0.0, 0.0, -200.0).to_world(paddle_ring())


def table_of(view: FlatView) -> TableModel:
    roughen(view, 0.02, 3)
    return model_table(view, np.zeros_like(view.inside))


def with_joints(ring: FloatArray) -> tuple[FlatView, TableModel]:
    """A paddle on tiles whose light joints, 14 mm wide, pass under it and out of the picture."""
    view = empty_view()
    for x_mm in (-60.0, 150.0):
        joint = np.array([[x_mm, -900.0], [x_mm + 14, -900.0], [x_mm + 14, 900.0], [x_mm, 900.0]])
        paint(view, joint, (0.84, 0.72, 0.60))
    paint(view, ring, PADDLE_LIGHT)
    return view, table_of(view)


def test_light_joints_do_not_cut_the_racquet_off() -> None:
    ring = paddle_at(0.0, 0.0)
    view, table = with_joints(ring)
    with pytest.raises(Refused) as refused:
        find_silhouettes(table, edge_field(table.unlike), view.inside, view.cell_mm)
    assert refused.value.reason is Reason.RACQUET_CUT
    plain = without_light(table, view.inside)
    settled, _ = find_silhouettes(plain, edge_field(plain.unlike), view.inside, view.cell_mm)
    truth = cover(view, ring) > 0.5
    assert (settled & truth).sum() / (settled | truth).sum() > 0.95


def test_a_racquet_that_is_cut_off_stays_so() -> None:
    view, table = with_joints(paddle_at(0.0, 230.0))
    plain = without_light(table, view.inside)
    with pytest.raises(Refused) as refused:
        find_silhouettes(plain, edge_field(plain.unlike), view.inside, view.cell_mm)
    assert refused.value.reason is Reason.RACQUET_CUT


def test_a_light_thing_inside_the_picture_stays_odd() -> None:
    view = empty_view()
    patch = np.array([[-40.0, -40.0], [40.0, -40.0], [40.0, 40.0], [-40.0, 40.0]])
    paint(view, patch, (0.84, 0.72, 0.60))
    table = table_of(view)
    inside = cover(view, patch) > 0.99
    assert (without_light(table, view.inside).oddness[inside] > ODD).mean() > 0.9
