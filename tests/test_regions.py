"""Which part of an outline each part fills."""

from __future__ import annotations

import math

import pytest
from shapely.geometry import Point, Polygon

from model.errors import OutlineError
from model.face import Landmarks, with_hoop
from model.outline import outline_from_rings
from model.regions import region
from tests.model_samples import HANDLE_TOP, STRUNG_TOPS, ellipse, paddle, perforated, rectangle, strung

FACE_AREA = 20 * (34 + 150) / 2 + 30 * (150 + 190) / 2 + 200 * 190 + 30 * (190 + 150) / 2


def test_face_and_handle_of_a_paddle() -> None:
    assert region(paddle(), HANDLE_TOP, "face").area == pytest.approx(FACE_AREA)
    assert region(paddle(), HANDLE_TOP, "handle").area == pytest.approx(34 * 130)
    assert region(paddle(), HANDLE_TOP, "butt").area == pytest.approx(34 * 12)


def test_holes_are_taken_out_of_the_face() -> None:
    hole = 48 / 2 * math.sin(2 * math.pi / 48) * 5**2
    assert region(perforated(), HANDLE_TOP, "face").area == pytest.approx(FACE_AREA - 3 * hole)


def test_the_rim_is_the_edge_above_the_handle() -> None:
    side = math.hypot(58, 20) + math.hypot(20, 30) + 200 + math.hypot(20, 30)
    assert region(paddle(), HANDLE_TOP, "rim").length == pytest.approx(2 * side + 150)


def test_depth_moves_face_and_rim_inwards() -> None:
    assert region(paddle(), HANDLE_TOP, "rim", 4.0).bounds[0] == pytest.approx(-95 + 4)
    assert region(paddle(), HANDLE_TOP, "face", 3.0).bounds[3] == pytest.approx(410 - 3)


def test_a_frame_is_hoop_throat_and_handle() -> None:
    marks = with_hoop(strung(), STRUNG_TOPS)
    shapes = [region(strung(), marks, name) for name in ("hoop", "throat", "handle")]
    assert sum(s.area for s in shapes) == pytest.approx(strung().polygon.area)
    assert region(strung(), marks, "shaft").is_empty
    assert region(strung(), marks, "strings").area == pytest.approx(math.pi * 117 * 159, rel=1e-3)


def test_unknown_shape_is_refused() -> None:
    with pytest.raises(OutlineError, match="unknown shape"):
        region(paddle(), HANDLE_TOP, "wing")


def test_a_rod_is_a_shaft_and_a_hoop_on_the_handle_has_neither() -> None:
    hoop = Point(0, 550).buffer(110)
    rod = Polygon(rectangle(-12, 0, 12, 190)).union(Polygon(rectangle(-4, 190, 4, 450))).union(hoop)
    outline = outline_from_rings(list(rod.exterior.coords), [ellipse(0, 550, 100, 100)])
    marks = Landmarks(190.0, 2.0, 440.0)
    assert region(outline, marks, "shaft").area == pytest.approx(8 * 250, rel=0.01)
    assert region(outline, marks, "throat").is_empty
    on_handle = Landmarks(440.0, 2.0, 440.0)
    assert region(outline, on_handle, "shaft").is_empty
    assert region(outline, on_handle, "throat").is_empty


def test_a_throat_whose_opening_was_missed_is_still_a_throat() -> None:
    closed = outline_from_rings(strung().outer_mm, strung().openings_mm[1:])
    marks = with_hoop(closed, STRUNG_TOPS)
    assert region(closed, marks, "throat").area > 0
    assert region(closed, marks, "shaft").is_empty
