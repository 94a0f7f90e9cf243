"""``model.edge``: distances along the edge and clock positions."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from model.edge import clock_hit, edge_of
from model.errors import OutlineError
from model.outline import outline_from_rings
from tests.model_samples import ellipse, paddle, rectangle

R = 100.0
CIRCLE = edge_of(outline_from_rings(ellipse(0, R, R, R, 7200)))
BOX = edge_of(outline_from_rings(rectangle(-40, 0, 40, 200)))


def test_tip_and_perimeter() -> None:
    assert BOX.tip_mm == pytest.approx([0, 200])
    assert BOX.perimeter_mm == pytest.approx(2 * (80 + 200), rel=1e-12)
    assert CIRCLE.perimeter_mm == pytest.approx(2 * math.pi * R, rel=1e-6)


def test_right_is_positive_and_left_negative() -> None:
    assert BOX.point(100.0) == pytest.approx([40, 200 - (100 - 40)])
    assert BOX.point(-100.0) == pytest.approx([-40, 200 - (100 - 40)])


def test_tangent_runs_clockwise_and_the_normal_out() -> None:
    assert BOX.tangent(100.0) == pytest.approx([0, -1])
    assert BOX.normal(100.0) == pytest.approx([1, 0])
    assert BOX.normal(-100.0) == pytest.approx([-1, 0])


@given(st.floats(-300, 300))
def test_points_on_a_circle(s: float) -> None:
    angle = s / R
    assert CIRCLE.point(s) == pytest.approx([R * math.sin(angle), R + R * math.cos(angle)], abs=1e-3)


@given(st.floats(-280, 280), st.floats(1, 500))
def test_a_stretch_has_its_own_length(start: float, length: float) -> None:
    curve = BOX.stretch(start, start + length)
    assert np.hypot(*np.diff(curve, axis=0).T).sum() == pytest.approx(length, rel=1e-9)
    assert curve[0] == pytest.approx(BOX.point(start), abs=1e-9)
    assert curve[-1] == pytest.approx(BOX.point(start + length), abs=1e-9)


def test_a_stretch_longer_than_the_edge_is_refused() -> None:
    with pytest.raises(OutlineError, match="does not fit"):
        BOX.stretch(0, 561)


@given(st.floats(0, 12))
def test_clock_on_a_circle_is_arc_length(hours: float) -> None:
    hit = clock_hit(CIRCLE, (0.0, R), -1.0, hours)
    assert hit.s_mm is not None
    want = math.radians(30 * hours) * R
    miss = (hit.s_mm - want + math.pi * R) % (2 * math.pi * R) - math.pi * R
    assert miss == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize(
    ("hours", "x", "y"),
    [
        (0, 0, 410),
        (12, 0, 410),
        (3, 95, 270),
        (9, -95, 270),
        (2, 95, 270 + 95 / math.tan(math.radians(60))),
        (3.5, 95, 270 - 95 * math.tan(math.radians(15))),
    ],
)
def test_clock_on_a_paddle(hours: float, x: float, y: float) -> None:
    assert clock_hit(edge_of(paddle()), (0.0, 270.0), 130.0, hours).point_mm == pytest.approx(
        (x, y), abs=1e-9
    )


def test_six_o_clock_is_the_throat() -> None:
    hit = clock_hit(edge_of(paddle()), (0.0, 270.0), 130.0, 6.0)
    assert hit.s_mm is None
    assert hit.point_mm == pytest.approx((0, 130), abs=1e-9)


def test_a_centre_outside_is_refused() -> None:
    with pytest.raises(OutlineError, match="outside"):
        clock_hit(BOX, (0.0, 300.0), 0.0, 0.0)
