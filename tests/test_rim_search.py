"""A rim of nearly the table's colour round a head that is plain to see."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.axis import edge_field
from digitise.half_width import STEP_MM, SymmetricShape
from digitise.rim_search import with_rim
from tests.drawn_view import axis_at, cover, empty_view, paddle_half_width, paddle_ring


def rimmed(width_mm: float, unlike_table: float, turn_deg: float) -> SymmetricShape | None:
    """What is made of a paddle with a rim of this width, ``unlike_table`` spreads off the table, from its
    inner border."""
    view = empty_view()
    truth = axis_at(0.0, 0.0, turn_deg).moved(0.0, 0.0, -200.0)
    inner = paddle_ring()
    head = inner[:, 1:] > 140
    middle = np.array([0.0, 290.0])
    away = inner - middle
    outer = np.where(
        head, middle + away * (1 + width_mm / np.linalg.norm(away, axis=1, keepdims=True)), inner
    )
    unlike = np.zeros((*view.inside.shape, 3), np.float32)
    unlike[..., 0] = unlike_table * cover(view, truth.to_world(outer))
    unlike[..., 0] += 25.0 * cover(view, truth.to_world(inner))
    unlike += np.asarray(np.random.default_rng(5).normal(0, 0.4, unlike.shape), np.float32)
    y_mm = np.arange(0.0, 400.0, STEP_MM)
    shape = SymmetricShape(truth, y_mm, paddle_half_width(y_mm), 1.0, 17.0, 130.0)
    return with_rim(view, edge_field(unlike, soft_too=True), shape)


@pytest.mark.parametrize("turn_deg", [0.0, 23.0])
@pytest.mark.parametrize("width_mm", [8.0, 10.0])
def test_a_faint_rim_is_put_round_the_head(width_mm: float, turn_deg: float) -> None:
    found = rimmed(width_mm, 5.0, turn_deg)
    assert found is not None
    assert found.rim_mm == pytest.approx(width_mm, abs=1.5)
    assert found.half_width_mm.max() == pytest.approx(95.0 + width_mm, abs=2.0)
    assert found.length_mm == pytest.approx(400.0 + width_mm, abs=3.0)
    assert np.median(found.half_width_mm[:50]) == pytest.approx(17.0, abs=0.5)


def test_no_rim_where_there_is_none() -> None:
    assert rimmed(0.0, 0.0, 0.0) is None
