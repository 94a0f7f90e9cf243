"""Polygon and curve integrals against closed forms and invariances."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import GeometryCollection, LineString, Point, Polygon

from model.moments import (
    NOTHING,
    Array,
    Moments,
    geometry_moments,
    polygon_moments,
    polyline_moments,
    shifted,
)
from tests.model_samples import ellipse, rectangle, star_rings


def close(got: Moments, want: Moments, scale: float = 1.0) -> None:
    size = max(abs(v) for v in (*want.values(), scale))
    assert got.values() == pytest.approx(want.values(), rel=1e-9, abs=1e-11 * size)


def test_rectangle() -> None:
    b, h = 50.0, 100.0
    m = polygon_moments(rectangle(-b / 2, 0, b / 2, h))
    assert m.size == pytest.approx(b * h, rel=1e-12)
    assert m.x == pytest.approx(0.0, abs=1e-9)
    assert m.y == pytest.approx(b * h * h / 2, rel=1e-12)
    assert m.xx == pytest.approx(h * b**3 / 12, rel=1e-12)
    assert m.yy == pytest.approx(b * h**3 / 3, rel=1e-12)


def test_product_moment_of_a_corner_rectangle() -> None:
    m = polygon_moments(rectangle(0, 0, 3, 4))
    assert m.xy == pytest.approx(3**2 / 2 * 4**2 / 2, rel=1e-12)


def test_ellipse() -> None:
    a, b, y = 95.0, 140.0, 270.0
    m = polygon_moments(ellipse(0, y, a, b, 8192))
    area = math.pi * a * b
    assert m.size == pytest.approx(area, rel=1e-6)
    assert m.xx == pytest.approx(area * a**2 / 4, rel=1e-6)
    assert m.yy == pytest.approx(area * (b**2 / 4 + y**2), rel=1e-6)


@pytest.mark.parametrize("outer_step", [1, -1])
@pytest.mark.parametrize("hole_step", [1, -1])
def test_square_with_a_hole_in_all_windings(outer_step: int, hole_step: int) -> None:
    outer, hole = rectangle(-2, -2, 2, 2)[::outer_step], rectangle(-1, -1, 1, 1)[::hole_step]
    m = geometry_moments(Polygon(outer, [hole]))
    assert m.size == pytest.approx(4**2 - 2**2, rel=1e-12)
    assert m.xx == pytest.approx(4**4 / 12 - 2**4 / 12, rel=1e-12)


def test_straight_rod() -> None:
    m = polyline_moments(np.array([[0.0, 0.0], [0.0, 30.0], [0.0, 100.0]]))
    assert m.values() == pytest.approx((100, 0, 100**2 / 2, 0, 100**3 / 3, 0), rel=1e-12)


def test_ring_of_thin_wire() -> None:
    r = 40.0
    ring = ellipse(0, 0, r, r, 8192)
    m = polyline_moments(np.vstack([ring, ring[:1]]))
    assert m.size == pytest.approx(2 * math.pi * r, rel=1e-6)
    assert m.xx == pytest.approx(2 * math.pi * r * r**2 / 2, rel=1e-6)
    assert m.xy == pytest.approx(0.0, abs=1e-6)


def test_collections_count_areas_before_lines_and_never_points() -> None:
    square, line = Polygon(rectangle(0, 0, 2, 2)), LineString([(0, 0), (0, 5)])
    assert geometry_moments(GeometryCollection([square, line, Point(9, 9)])).size == 4.0
    assert geometry_moments(GeometryCollection([line, Point(9, 9)])).size == 5.0
    assert geometry_moments(Polygon()) == NOTHING


@given(star_rings())
def test_winding_and_starting_point_do_not_matter(ring: Array) -> None:
    close(polygon_moments(ring[::-1]), polygon_moments(ring))
    close(polygon_moments(np.roll(ring, 1, axis=0)), polygon_moments(ring))


@given(star_rings(), st.floats(-300, 300), st.floats(-300, 300))
def test_parallel_axes(ring: Array, dx: float, dy: float) -> None:
    moved = polygon_moments(ring + np.array([dx, dy]))
    size = moved.size * (500.0 + abs(dx) + abs(dy)) ** 2
    close(shifted(polygon_moments(ring), dx, dy), moved, size)


@given(star_rings())
def test_parts_add_up(ring: Array) -> None:
    middle = ring.mean(axis=0)
    whole = Polygon(ring)
    half = Polygon(rectangle(middle[0], -1e4, 1e4, 1e4))
    both = geometry_moments(whole.intersection(half)) + geometry_moments(whole.difference(half))
    close(both, polygon_moments(ring), 1e6)


@given(star_rings())
def test_mirror_image(ring: Array) -> None:
    m, mirrored = polygon_moments(ring), polygon_moments(ring * np.array([-1.0, 1.0]))
    close(mirrored, Moments(m.size, -m.x, m.y, m.xx, m.yy, -m.xy))


@given(star_rings(), st.floats(-math.pi, math.pi))
def test_turning_keeps_area_and_polar_moment(ring: Array, angle: float) -> None:
    c, s = math.cos(angle), math.sin(angle)
    m, turned = polygon_moments(ring), polygon_moments(ring @ np.array([[c, s], [-s, c]]))
    assert turned.size == pytest.approx(m.size, rel=1e-9)
    assert turned.xx + turned.yy == pytest.approx(m.xx + m.yy, rel=1e-9)
    assert turned.xx == pytest.approx(c * c * m.xx - 2 * c * s * m.xy + s * s * m.yy, rel=1e-7, abs=1e-6)
