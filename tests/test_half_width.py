"""The symmetric shape under drawn masks and edges: a known half width for every place."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.axis import edge_field
from digitise.flat import CELL_MM
from digitise.half_width import Sight, SymmetricShape, masked_shape, symmetric_shape
from digitise.tone import FloatArray
from tests.drawn_view import axis_at, cover, empty_view, paddle_half_width, paddle_ring


def shape_of(
    turn_deg: float, stray: FloatArray | None = None, flip: bool = False, by_mask: bool = False
) -> SymmetricShape:
    """The shape found of a paddle turned so, with a stray thing (ring in its frame) lying against it."""
    view = empty_view()
    truth = axis_at(0.0, 0.0, turn_deg).moved(0.0, 0.0, -200.0)
    paddle = cover(view, truth.to_world(paddle_ring()))
    unlike = np.zeros((*view.inside.shape, 3), np.float32)
    unlike[..., 0] = 25.0 * paddle
    mask = paddle > 0.5
    if stray is not None:
        thing = cover(view, truth.to_world(stray))
        unlike[..., 0] += 25.0 * thing * (1 - paddle)
        mask |= thing > 0.5
    start = truth.moved(np.pi if flip else 0.0, 0.0, 200.0)
    edges = np.abs(edge_field(unlike)).astype(np.float32)
    if by_mask:
        return masked_shape(view, edges, [2 * mask.astype(np.float32) - 1], [start])
    odd = mask.astype(np.float32)
    everywhere = np.ones_like(odd)
    return symmetric_shape(view, Sight(edges, odd, 1 - odd, odd, everywhere, unlike / 25), [start])


@pytest.mark.parametrize("by_mask", [False, True])
@pytest.mark.parametrize("flip", [False, True])
@pytest.mark.parametrize("turn_deg", [0.0, 31.0])
def test_half_widths_of_a_drawn_paddle(turn_deg: float, flip: bool, by_mask: bool) -> None:
    shape = shape_of(turn_deg, flip=flip, by_mask=by_mask)
    assert shape.length_mm == pytest.approx(400.0, abs=4 * CELL_MM)  # two cells at either end
    # Whichever end the axis started from, the shape starts at the butt and points to the tip.
    np.testing.assert_allclose(shape.axis.up, axis_at(0, 0, turn_deg).up, atol=1e-9)
    butt = axis_at(0.0, 0.0, turn_deg).to_racquet(shape.axis.origin_mm[None])[0]
    np.testing.assert_allclose(butt, [0.0, -200.0], atol=3.0)
    off = shape.half_width_mm - paddle_half_width(shape.y_mm + butt[1] + 200.0)
    within = (shape.y_mm > 6) & (shape.y_mm < 385)
    # The view knows no more than its cells, and the neck widens by 1.3 mm in every mm.
    assert np.abs(off[within]).max() <= 2.5 * CELL_MM
    assert abs(np.median(off[within])) <= 1.0


def test_what_lies_against_one_side_is_outvoted() -> None:
    pencil = np.array([[10.0, 60.0], [80.0, 60.0], [80.0, 68.0], [10.0, 68.0]])
    bare, with_pencil = shape_of(12.0), shape_of(12.0, pencil)
    beside = (with_pencil.y_mm > 50) & (with_pencil.y_mm < 80)
    np.testing.assert_allclose(with_pencil.half_width_mm[beside], 17.0, atol=CELL_MM)
    assert with_pencil.length_mm == pytest.approx(bare.length_mm, abs=1.0)


def test_ring_is_counter_clockwise_and_mirrored() -> None:
    y_mm = np.array([0.0, 1.0, 2.0, 3.0])
    shape = SymmetricShape(axis_at(0, 0, 0), y_mm, np.array([2.0, 2.0, 2.0, 2.0]), 0.0)
    ring = shape.ring_mm()
    after = np.roll(ring, -1, axis=0)
    area = (ring[:, 0] * after[:, 1] - ring[:, 1] * after[:, 0]).sum() / 2
    assert area == pytest.approx(4.0 * 3.0)
    np.testing.assert_allclose(ring[:4] * [-1, 1], ring[:3:-1])


def test_no_shape_under_an_empty_picture() -> None:
    view = empty_view()
    nothing = np.zeros(view.inside.shape, np.float32)
    speck = nothing > 0
    speck[100, 100] = True
    colour = np.zeros((*nothing.shape, 3), np.float32)
    sight = Sight(nothing, nothing, nothing + 1, speck.astype(np.float32), nothing + 1, colour)
    shape = symmetric_shape(view, sight, [axis_at(0, 0, 0)])
    assert shape.length_mm == 0.0
    assert shape.score <= 0.0
