"""A handle that only its two faint edges show, put on a head whose measure is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from digitise.axis import ComplexImage, edge_field
from digitise.flat import FlatView
from digitise.half_width import STEP_MM, SymmetricShape
from digitise.handle_search import with_handle
from tests.drawn_view import axis_at, cover, empty_view, paddle_half_width, paddle_ring

HEAD_FROM_MM = 140.0


def scene(turn_deg: float, handle_unlike: float) -> tuple[FlatView, ComplexImage, SymmetricShape]:
    """A paddle whose head is plain to see and whose handle differs from the table by ``handle_unlike`` times
    the table's spread, with noise of one spread; and the rough shape of its head alone."""
    view = empty_view()
    truth = axis_at(0.0, 0.0, turn_deg).moved(0.0, 0.0, -200.0)
    ring = paddle_ring()
    grip = ring[np.argsort(ring[:, 1])][:2]
    assert np.abs(grip[:, 0]).max() == 17.0
    unlike = np.zeros((*view.inside.shape, 3), np.float32)
    unlike[..., 0] = handle_unlike * cover(view, truth.to_world(ring))
    head = ring.copy()
    head[:, 1] = np.maximum(head[:, 1], HEAD_FROM_MM)
    unlike[..., 0] += 25.0 * cover(view, truth.to_world(head))
    unlike += np.asarray(np.random.default_rng(5).normal(0, 0.5, unlike.shape), np.float32)
    y_mm = np.arange(0.0, 400.0 - HEAD_FROM_MM, STEP_MM)
    shape = SymmetricShape(
        truth.moved(0.0, 0.0, HEAD_FROM_MM), y_mm, paddle_half_width(y_mm + HEAD_FROM_MM), 1.0
    )
    return view, edge_field(unlike), shape


@pytest.mark.parametrize("turn_deg", [0.0, 37.0])
@pytest.mark.parametrize("from_tip", [False, True])
def test_a_faint_handle_is_found(turn_deg: float, from_tip: bool) -> None:
    view, edges, shape = scene(turn_deg, 4.0)
    if from_tip:  # the same head, told from its other end
        axis = shape.axis.moved(np.pi, 0.0, 0.0).moved(0.0, 0.0, -float(shape.y_mm[-1]))
        shape = replace(shape, axis=axis, half_width_mm=shape.half_width_mm[::-1].copy())
    whole = with_handle(view, edges, shape)
    assert whole.length_mm == pytest.approx(400.0, abs=4.0)
    assert whole.grip_mm == pytest.approx(17.0, abs=1.5)
    assert whole.grip_to_mm == pytest.approx(HEAD_FROM_MM, abs=12.0)
    butt = axis_at(0.0, 0.0, turn_deg).moved(0.0, 0.0, -200.0).origin_mm
    assert whole.axis.origin_mm == pytest.approx(butt, abs=4.0)


def test_nothing_is_put_on_where_nothing_is_seen() -> None:
    view, edges, shape = scene(0.0, 0.0)
    assert with_handle(view, edges, shape) is shape


def test_a_handle_of_the_wrong_width_is_mended_and_the_right_one_kept() -> None:
    view, edges, _ = scene(0.0, 4.0)
    y_mm = np.arange(0.0, 400.0, STEP_MM)
    truth = axis_at(0.0, -200.0, 0.0)
    right = SymmetricShape(truth, y_mm, paddle_half_width(y_mm), 1.0)
    kept = with_handle(view, edges, right)
    assert kept.half_width_mm is right.half_width_mm
    assert kept.grip_mm == pytest.approx(17.0, abs=1.5)
    narrow = np.where(y_mm < 130, 10.0, right.half_width_mm)
    mended = with_handle(view, edges, replace(right, half_width_mm=narrow))
    assert np.median(mended.half_width_mm[:50]) == pytest.approx(17.0, abs=1.5)
    assert mended.length_mm == right.length_mm


@pytest.mark.parametrize("off_mm", [-24.0, 24.0])
def test_an_end_in_a_shadow_or_short_of_a_faint_cap_is_mended(off_mm: float) -> None:
    view, edges, _ = scene(0.0, 4.0)
    y_mm = np.arange(0.0, 400.0 - off_mm, STEP_MM)
    axis = axis_at(0.0, -200.0 + off_mm, 0.0)
    shape = SymmetricShape(axis, y_mm, paddle_half_width(np.maximum(y_mm + off_mm, 0.0)), 1.0)
    mended = with_handle(view, edges, shape)
    assert mended.axis.origin_mm == pytest.approx([0.0, -200.0], abs=4.0)
    assert mended.length_mm == pytest.approx(400.0, abs=5.0)
    assert mended.half_width_mm.max() == pytest.approx(95.0, abs=0.1)
