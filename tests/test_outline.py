"""The polygon gate."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given

from model.errors import OutlineError
from model.moments import Array
from model.outline import outline_from_rings
from tests.model_samples import ellipse, rectangle, star_rings

BOX = rectangle(-10, 0, 10, 50)


def signed_area(ring: Array) -> float:
    x, y = ring.T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2)


@pytest.mark.parametrize("step", [1, -1])
def test_rings_come_out_counter_clockwise(step: int) -> None:
    outline = outline_from_rings(BOX[::step], [rectangle(-5, 10, 5, 20)[::step]])
    assert signed_area(outline.outer_mm) == 20 * 50
    assert signed_area(outline.openings_mm[0]) == 10 * 10
    assert outline.polygon.area == 20 * 50 - 10 * 10
    assert (outline.length_mm, outline.width_mm) == (50, 20)


def test_repeated_points_are_dropped_and_the_result_is_read_only() -> None:
    outline = outline_from_rings(np.vstack([BOX[:1], BOX, BOX[:1]]))
    assert len(outline.outer_mm) == 4
    with pytest.raises(ValueError, match="read-only"):
        outline.outer_mm[0, 0] = 1.0


@given(star_rings())
def test_the_gate_keeps_the_area(ring: Array) -> None:
    centred = ring - ring.mean(axis=0)
    outline = outline_from_rings(centred)
    assert outline.filled.area == pytest.approx(abs(signed_area(centred)), rel=1e-9)


@pytest.mark.parametrize(
    ("outer", "openings", "words"),
    [
        ([[0, 0], [1, 1]], [], "fewer than 3"),
        ([], [], "shape"),
        ([[0, 0, 0]] * 4, [], "shape"),
        ("nonsense", [], "numbers in mm"),
        ([[0, 0], [1, "x"], [2, 2]], [], "numbers in mm"),
        ([[-1, 0], [1, 0], [np.nan, 5]], [], "not a finite number"),
        ([[-5, 0], [5, 10], [5, 0], [-5, 10]], [], "crosses or touches itself .*x, y = 0, 5 mm"),
        ([[-0.1, 0], [0.1, 0], [0, 0.1]], [], "encloses only"),
        ([[-1, 0], [0, 0], [1, 0]], [], "outline"),
        (rectangle(10, 0, 30, 50), [], "long axis"),
        (BOX, [rectangle(50, 10, 60, 20)], "openings must lie inside"),
        (BOX, [rectangle(5, 10, 15, 20)], "openings must lie inside"),
        (BOX, [ellipse(0, 20, 5, 5), ellipse(3, 20, 5, 5)], "apart from each other"),
        (BOX, [[[0, 0]]], "opening 1 has fewer than 3"),
    ],
)
def test_bad_rings_are_refused_in_one_sentence(outer: Any, openings: Any, words: str) -> None:
    with pytest.raises(OutlineError, match=words) as caught:
        outline_from_rings(outer, openings)
    assert "\n" not in str(caught.value)
