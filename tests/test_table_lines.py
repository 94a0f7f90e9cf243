"""A table's line beside an outline goes straight on; a racquet's own border follows it."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Polygon

from digitise.band import ACROSS_MM, Band, even_ring, ring_normals
from digitise.table_lines import without_lines
from digitise.table_model import Mask
from digitise.tone import FloatArray, Image

HALF_MM, RADIUS_MM, LONG_MM = 90.0, 60.0, 300.0
OFF_MM = 6.0


def band_of() -> Band:
    """A band round a face with straight sides and round corners, about the origin."""
    core = Polygon(
        [
            (x * (HALF_MM - RADIUS_MM), y * (LONG_MM / 2 - RADIUS_MM))
            for x, y in ((1, -1), (1, 1), (-1, 1), (-1, -1))
        ]
    )
    outer = np.asarray(core.buffer(RADIUS_MM, quad_segs=64).exterior.coords)[:-1]
    outer = outer if Polygon(outer).exterior.is_ccw else outer[::-1]
    start = int(np.argmin(np.hypot(outer[:, 0], outer[:, 1] + LONG_MM / 2)))
    ring = even_ring(np.vstack([[[0.0, -LONG_MM / 2]], np.roll(outer, -start, axis=0)[1:]]), 1.0)
    offset = np.arange(-6.0, 12.0 + ACROSS_MM / 2, ACROSS_MM)
    return Band(np.zeros((len(ring), len(offset), 3), np.float32), ring, ring_normals(ring), offset)


BAND = band_of()
SIDES = np.abs(BAND.base_mm[:, 1]) < LONG_MM / 2 - RADIUS_MM - 5
AT_MM = np.full(len(SIDES), OFF_MM)


def edges_along(*lines: LineString | Polygon) -> Image:
    """Full strength within 0.5 mm of the lines, none elsewhere."""
    points = BAND.base_mm[:, None] + BAND.offset_mm[:, None] * BAND.normal[:, None]
    near = [shapely.distance(line, shapely.points(points)) < 0.5 for line in lines]
    return np.asarray(np.any(near, axis=0), np.float32)


def kept(strength: Image, along: Mask = SIDES, at_mm: FloatArray = AT_MM) -> Mask:
    return without_lines(along, at_mm, strength, BAND)


def upright(x_mm: float, half_mm: float = 500.0) -> LineString:
    return LineString([(x_mm, -half_mm), (x_mm, half_mm)])


def test_a_line_that_goes_straight_on_beside_one_side_frees_both() -> None:
    """Both sides have an edge 6 mm outside, but the right one's is a line of the table."""
    border = Polygon(BAND.base_mm).buffer(OFF_MM).exterior
    left = border.intersection(Polygon([(-500, -500), (0, -500), (0, 500), (-500, 500)]))
    strength = edges_along(left, upright(HALF_MM + OFF_MM))
    assert SIDES.sum() > 300
    assert not kept(strength).any()


def test_a_border_that_follows_the_outline_round_its_corners_is_kept() -> None:
    strength = edges_along(Polygon(BAND.base_mm).buffer(OFF_MM).exterior)
    np.testing.assert_array_equal(kept(strength), SIDES)


@pytest.mark.parametrize(("off_mm", "told"), [(3.0, True), (7.0, True), (9.0, False)])
def test_near_the_end_of_sight_too_little_is_seen_of_how_the_outline_turns_away(
    off_mm: float, told: bool
) -> None:
    strength = edges_along(upright(HALF_MM + off_mm), upright(-HALF_MM - off_mm))
    assert kept(strength, at_mm=np.full(len(SIDES), off_mm)).any() != told


def test_a_line_that_ends_where_the_side_does_is_kept() -> None:
    """As the edge of a strip that is stuck along the side."""
    end_mm = LONG_MM / 2 - RADIUS_MM
    strength = edges_along(upright(HALF_MM + OFF_MM, end_mm), upright(-HALF_MM - OFF_MM, end_mm))
    np.testing.assert_array_equal(kept(strength), SIDES)


def test_where_nothing_runs_along_nothing_is_looked_for() -> None:
    assert not kept(edges_along(upright(HALF_MM + OFF_MM)), np.zeros(len(SIDES), bool)).any()
