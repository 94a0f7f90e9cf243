"""How handle and head join: fillets for a sharp corner, a corner for a narrow fillet, and which of them."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import LineString, Polygon

from digitise.band import even_ring
from digitise.neck import RADII_MM, creased, filleted, joined_otherwise, neck_rows, on_most_edge
from digitise.tone import FloatArray

HALF_MM, NECK_MM, HEAD_MM, LENGTH_MM = 16.0, 120.0, 90.0, 400.0


def paddle(corner: list[list[float]]) -> FloatArray:
    """A handle and an oblong head; between them the points of ``corner`` on the right."""
    right = np.array([[HALF_MM, 0.0], *corner, [HEAD_MM, NECK_MM], [HEAD_MM, LENGTH_MM]])
    return even_ring(np.vstack([[[0.0, 0.0]], right, right[::-1] * np.array([-1.0, 1.0])]), 1.0)


SHARP = paddle([[HALF_MM, NECK_MM]])


def half_width_mm(ring_mm: FloatArray, y_mm: float) -> float:
    across = LineString([(-500.0, y_mm), (500.0, y_mm)])
    return float(Polygon(ring_mm).intersection(across).length) / 2


@pytest.mark.parametrize("radius_mm", [10.0, 18.0, 30.0])
def test_a_sharp_corner_is_filled_by_an_arc_that_touches_both_sides(radius_mm: float) -> None:
    found = filleted(SHARP, radius_mm)
    assert found is not None
    centre = np.array([HALF_MM + radius_mm, NECK_MM - radius_mm])
    for down_mm in (0.25 * radius_mm, 0.5 * radius_mm, 0.75 * radius_mm):
        y_mm = NECK_MM - down_mm
        want = centre[0] - np.sqrt(radius_mm**2 - (y_mm - centre[1]) ** 2)
        assert half_width_mm(found, y_mm) == pytest.approx(want, abs=0.3)
    added = Polygon(found).area - Polygon(SHARP).area
    assert added == pytest.approx(2 * (1 - np.pi / 4) * radius_mm**2, rel=0.03)


def test_the_outline_stays_symmetric_and_begun_at_its_butt() -> None:
    found = filleted(SHARP, 18.0)
    assert found is not None
    ring = found
    np.testing.assert_allclose(ring[0], [0.0, 0.0], atol=1e-9)
    mirror = np.roll(ring[::-1], 1, axis=0) * np.array([-1.0, 1.0])
    np.testing.assert_allclose(ring, mirror, atol=0.02)
    assert ring[1, 0] > 0
    assert half_width_mm(ring, 60.0) == pytest.approx(HALF_MM, abs=0.05)
    assert half_width_mm(ring, 300.0) == pytest.approx(HEAD_MM, abs=0.05)


@pytest.mark.parametrize("first", [0, 5, 9, 300, 700, 1000])
def test_wherever_the_ring_begins_and_however_flat_its_butt(first: int) -> None:
    """Its corners may lie lower than its middle."""
    hollow = SHARP - np.array([0.0, 0.05]) * ((np.abs(SHARP[:, :1]) > HALF_MM - 4) & (SHARP[:, 1:] < 0.5))
    found = filleted(np.roll(hollow, first, axis=0), 18.0)
    assert found is not None
    around = np.linalg.norm(np.diff(found, axis=0, append=found[:1]), axis=1)
    assert around.max() < 1.5
    assert around.sum() == pytest.approx(Polygon(found).length, rel=1e-6)
    assert Polygon(found).is_valid


def test_a_neck_that_is_round_already_is_left_alone() -> None:
    angle = np.linspace(0.0, np.pi / 2, 40)
    arc = np.column_stack([HALF_MM + 40 - 40 * np.cos(angle), NECK_MM - 40 + 40 * np.sin(angle)])
    assert filleted(paddle(arc.tolist()), 18.0) is None


def test_corners_of_the_head_above_its_middle_are_left_alone() -> None:
    """A tip with a notch in it is no neck."""
    right = np.array([[HALF_MM, 0.0], [90.0, 370.0], [90.0, 400.0], [20.0, 400.0], [20.0, 380.0]])
    ring = even_ring(np.vstack([[[0.0, 0.0]], right, right[::-1] * np.array([-1.0, 1.0])]), 1.0)
    assert filleted(ring, 18.0) is None


def rounded(radius_mm: float) -> FloatArray:
    """A paddle whose corner between handle and head is rounded."""
    angle = np.linspace(0.0, np.pi / 2, 40)
    arc = np.column_stack(
        [HALF_MM + radius_mm * (1 - np.cos(angle)), NECK_MM - radius_mm * (1 - np.sin(angle))]
    )
    return paddle(arc.tolist())


@pytest.mark.parametrize("radius_mm", [2.0, 5.0, 7.0])
def test_a_narrow_fillet_is_drawn_out_to_the_corner_of_its_sides(radius_mm: float) -> None:
    found = creased(rounded(radius_mm))
    assert found is not None
    added = Polygon(found).area - Polygon(rounded(radius_mm)).area
    assert added == pytest.approx(-2 * (1 - np.pi / 4) * radius_mm**2, abs=1.0)
    for y_mm in (NECK_MM - 1, NECK_MM - 3, 60.0):
        assert half_width_mm(found, y_mm) == pytest.approx(HALF_MM, abs=0.6)
    assert half_width_mm(found, NECK_MM + 1.5) == pytest.approx(HEAD_MM, abs=0.3)
    np.testing.assert_allclose(found, np.roll(found[::-1], 1, axis=0) * np.array([-1.0, 1.0]), atol=0.02)


def test_a_corner_between_leaning_sides_lies_where_they_meet() -> None:
    """Lines of slope 25 and 1/2 through (20, 120), whose last 5 mm a chord cuts off."""
    right = np.array([[15.2, 0.0], [19.8, 115.0], [24.5, 122.25], [80.0, 150.0], [80.0, 400.0]])
    ring = even_ring(np.vstack([[[0.0, 0.0]], right, right[::-1] * np.array([-1.0, 1.0])]), 1.0)
    found = creased(ring)
    assert found is not None
    corner = np.array([20.0, 120.0])
    assert np.linalg.norm(found - corner, axis=1).min() < 0.6
    assert np.linalg.norm(ring - corner, axis=1).min() > 2.0


def test_a_wide_fillet_has_no_corner() -> None:
    assert creased(rounded(40.0)) is None


def test_all_ways_to_join_a_sharp_and_a_round_neck() -> None:
    assert len(joined_otherwise(SHARP)) == len(RADII_MM)  # it is a corner already
    assert len(joined_otherwise(rounded(7.0))) == 1 + 2  # of the fillets those that are clearly wider
    assert joined_otherwise(rounded(40.0)) == []


def test_the_outline_on_the_stronger_edge_where_they_differ_is_chosen() -> None:
    wide = filleted(SHARP, 18.0)
    assert wide is not None
    near = np.linalg.norm(np.abs(wide) - np.array([HALF_MM + 5, NECK_MM - 5]), axis=1) < 12
    faint, clear = np.where(near, 0.3, 0.8), np.where(near, 0.9, 0.1)
    edge = np.full(len(SHARP), 0.5)
    assert on_most_edge([SHARP, wide], [edge, faint]) == 0
    assert on_most_edge([SHARP, wide], [edge, clear]) == 1  # elsewhere they are the same, whatever is there


def test_an_edge_hardly_stronger_changes_nothing() -> None:
    wide = filleted(SHARP, 18.0)
    assert wide is not None
    assert on_most_edge([SHARP, wide], [np.full(len(SHARP), 0.5), np.full(len(wide), 0.54)]) == 0
    assert on_most_edge([SHARP, wide], [np.full(len(SHARP), 0.5), np.full(len(wide), 0.56)]) == 1


def test_outlines_that_are_the_same_are_left_as_they_are() -> None:
    assert on_most_edge([SHARP, SHARP], [np.zeros(len(SHARP)), np.ones(len(SHARP))]) == 0


def test_rows_to_compare_by_are_near_where_outlines_differ_and_the_butt() -> None:
    wide = filleted(SHARP, 18.0)
    assert wide is not None
    rows, _ = neck_rows([SHARP, wide])
    y_mm = SHARP[rows[1:], 1]
    assert rows[0] == 0
    assert NECK_MM - 18 - 14 < y_mm.min() < NECK_MM - 18
    assert y_mm.max() == pytest.approx(NECK_MM + 12, abs=1.5)
    # the twin of the k-th row is the k-th from the end, as on the whole ring
    np.testing.assert_array_equal(rows[1:] + rows[:0:-1], len(SHARP))
