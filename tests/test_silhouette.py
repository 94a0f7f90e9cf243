"""Which drawn thing is the racquet, and the reasons for finding none."""

from __future__ import annotations

import re
from typing import Any

import cv2
import numpy as np
import pytest

from digitise.axis import edge_field
from digitise.flat import FlatView
from digitise.refusal import Reason, Refused
from digitise.silhouette import find_silhouettes
from digitise.table_model import Mask, model_table
from digitise.tone import FloatArray
from tests.drawn_view import PADDLE_LIGHT, axis_at, cover, empty_view, paddle_ring, paint, roughen


def paddle_at(x_mm: float, y_mm: float, turn_deg: float) -> FloatArray:
    """A paddle's ring in the world, its middle at (x, y)."""
    return axis_at(x_mm, y_mm, turn_deg).moved(0.0, 0.0, -200.0).to_world(paddle_ring())


def silhouettes(view: FlatView) -> tuple[Mask, Mask]:
    roughen(view, 0.02, 3)
    table = model_table(view, np.zeros_like(view.inside))
    return find_silhouettes(table, edge_field(table.unlike), view.inside, view.cell_mm)


def overlap(a: Mask, b: Mask) -> float:
    return float((a & b).sum() / (a | b).sum())


@pytest.mark.parametrize("turn_deg", [5.0, 70.0])
def test_one_paddle_and_a_small_thing(turn_deg: float) -> None:
    view = empty_view()
    ring = paddle_at(20.0, 0.0, turn_deg)
    paint(view, ring, PADDLE_LIGHT)
    coin = 14.0 * np.array([[np.cos(a), np.sin(a)] for a in np.linspace(0, 6.2, 40)])
    paint(view, coin + np.array([-250.0, 200.0]), (0.1, 0.05, 0.02))
    settled, odd = silhouettes(view)
    truth = cover(view, ring) > 0.5
    assert overlap(settled, truth) >= 0.97
    assert overlap(odd, truth) >= 0.95


def test_openings_are_filled() -> None:
    view = empty_view()
    ring = paddle_at(0.0, 0.0, 0.0)
    paint(view, ring, PADDLE_LIGHT)
    hole = 30.0 * np.array([[np.cos(a), np.sin(a)] for a in np.linspace(0, 6.2, 60)])
    paint(view, hole + np.array([0.0, 60.0]), (0.42, 0.36, 0.30))
    settled, _ = silhouettes(view)
    assert overlap(settled, cover(view, ring) > 0.5) >= 0.97


@pytest.mark.parametrize(
    ("places", "reason"),
    [
        ([(-130.0, 0.0, 0.0), (130.0, 0.0, 8.0)], Reason.SEVERAL_RACQUETS),
        ([], Reason.NO_RACQUET),
        ([(0.0, 230.0, 4.0)], Reason.RACQUET_CUT),
        ([(0.0, -230.0, 4.0)], Reason.RACQUET_CUT),
    ],
)
def test_reasons(places: list[tuple[float, float, float]], reason: Reason) -> None:
    view = empty_view()
    for place in places:
        paint(view, paddle_at(*place), PADDLE_LIGHT)
    with pytest.raises(Refused) as refused:
        silhouettes(view)
    assert refused.value.reason is reason
    assert re.search(r"\(.*\d.*\)\.$", str(refused.value))  # the number that led to it


def test_a_card_sized_thing_is_no_racquet() -> None:
    view = empty_view()
    card = np.array([[0.0, 0.0], [85.6, 0.0], [85.6, 54.0], [0.0, 54.0]])
    paint(view, card, (0.9, 0.9, 0.9))
    with pytest.raises(Refused) as refused:
        silhouettes(view)
    assert refused.value.reason is Reason.NO_RACQUET
    assert re.search(r"\(.*\d.*\)\.$", str(refused.value))


def test_a_large_patch_of_light_is_no_second_racquet() -> None:
    view = empty_view()
    ring = paddle_at(120.0, 0.0, 0.0)
    y, x = np.mgrid[0 : view.inside.shape[0], 0 : view.inside.shape[1]] * view.cell_mm
    away = np.hypot((x - 130.0) / 110.0, (y - 320.0) / 190.0)
    view.light[:] *= (1 + 2.0 / (1 + np.exp((away - 1) * 12)))[..., None].astype(np.float32)
    paint(view, ring, PADDLE_LIGHT)
    settled, _ = silhouettes(view)
    assert overlap(settled, cover(view, ring) > 0.5) >= 0.97


@pytest.mark.parametrize("cuts", [1, 4])
def test_a_border_is_cut_as_often_as_is_asked(cuts: int, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []
    cut = cv2.grabCut

    def counted(*given: Any) -> Any:
        asked.append(given[5])
        return cut(*given)

    monkeypatch.setattr(cv2, "grabCut", counted)
    view = empty_view()
    ring = paddle_at(20.0, 0.0, 5.0)
    paint(view, ring, PADDLE_LIGHT)
    roughen(view, 0.02, 3)
    table = model_table(view, np.zeros_like(view.inside))
    settled, _ = find_silhouettes(table, edge_field(table.unlike), view.inside, view.cell_mm, cuts)
    assert asked == [cuts]
    assert overlap(settled, cover(view, ring) > 0.5) >= 0.97
