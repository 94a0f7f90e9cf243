"""A handle beside the axis that its racquet and the shadow of it have in common, drawn at known places."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.axis import edge_field
from digitise.half_width import STEP_MM, SymmetricShape
from digitise.handle_axis import axes_by_handle, turned_about
from tests.drawn_view import axis_at, cover, empty_view, paddle_half_width, paddle_ring

TRUTH = axis_at(0.0, -200.0, 0.0)
AT_GRIP = np.array([[0.0, 60.0]])


def shape_about(right_mm: float, turn_deg: float) -> SymmetricShape:
    """The paddle's rough shape about an axis that misses it by so much at the grip."""
    y_mm = np.arange(0.0, 400.0, STEP_MM)
    return SymmetricShape(
        turned_about(TRUTH, float(np.deg2rad(turn_deg)), 60.0, right_mm), y_mm, paddle_half_width(y_mm), 1.0
    )


@pytest.mark.parametrize(("right_mm", "turn_deg"), [(8.0, 0.0), (-6.0, 1.0), (5.0, -1.5)])
def test_axes_go_through_the_handle(right_mm: float, turn_deg: float) -> None:
    view = empty_view()
    unlike = np.zeros((*view.inside.shape, 3), np.float32)
    unlike[..., 0] = 20.0 * cover(view, TRUTH.to_world(paddle_ring()))
    axes = axes_by_handle(view, edge_field(unlike), shape_about(right_mm, turn_deg))
    off_mm = [float(axis.to_racquet(TRUTH.to_world(AT_GRIP))[0, 0]) for axis in axes]
    assert off_mm == pytest.approx([0.0] * len(off_mm), abs=1.1)
    turns = [float(np.rad2deg(np.arctan2(*(-axis.up[:1], axis.up[1:]))[0])) for axis in axes]
    assert min(np.abs(turns)) < 0.4
    assert np.ptp(turns) == pytest.approx(2.4, abs=1e-6)


def test_a_handle_on_the_axis_or_none_gives_nothing() -> None:
    view = empty_view()
    unlike = np.zeros((*view.inside.shape, 3), np.float32)
    assert axes_by_handle(view, edge_field(unlike), shape_about(6.0, 0.0)) == []
    unlike[..., 0] = 20.0 * cover(view, TRUTH.to_world(paddle_ring()))
    assert axes_by_handle(view, edge_field(unlike), shape_about(0.0, 0.0)) == []
    assert axes_by_handle(view, edge_field(unlike), shape_about(1.0, 0.5)) == []


def test_turning_about_a_place_keeps_it() -> None:
    turned = turned_about(TRUTH, 0.3, 60.0)
    assert turned.to_world(AT_GRIP) == pytest.approx(TRUTH.to_world(AT_GRIP))
    moved = turned_about(TRUTH, 0.3, 60.0, 5.0)
    assert moved.to_world(AT_GRIP) == pytest.approx(TRUTH.to_world(AT_GRIP + np.array([[5.0, 0.0]])))
