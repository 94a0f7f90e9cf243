"""Curves and rings of one outline: the same shape, the same lengths, never one without the other."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point

from digitise.outline_edited import with_outline
from digitise.svg_read import read_svg
from digitise.svg_write import named_curves, svg_text
from model.build import Known, Traced, build_racquet, outline_of
from model.edge import edge_of
from model.errors import OutlineError, RacquetFileError
from model.outline import Outline
from model.racquet_file import RacquetFile
from model.reading_text import balance_reading, parse_reading, weight_reading
from model.recalibrate import recalibrated, traced_of
from model.smooth import RING_AGREES_MM, Smooth, smooth_of
from model.spline import Curve, along_from_tip, curve_through
from model.spline_fit import ring_distances_mm
from model.storage import parse_racquet
from tests.model_samples import HANDLE_TOP, ellipse

WRITTEN_MM = 1e-4
"""Rings are written to four decimals."""


def egg(waves_mm: tuple[float, ...] = ()) -> Curve:
    """A racquet-like oval 400 mm long and 200 mm wide, its butt at y = 0, with waves; corners at its butt."""
    angle = 2 * np.pi * (np.arange(24) + 0.5) / 24
    radius = np.ones(24)
    for n, wave_mm in enumerate(waves_mm):
        radius += wave_mm / 100 * np.cos((n + 2) * angle)
    points = np.column_stack([100 * np.sin(angle), 200 - 200 * np.cos(angle)]) * radius[:, None]
    corners = np.isin(np.arange(24), (0, 23))
    return curve_through(points - np.array([0.0, points[:, 1].min()]), corners)


def smooth(*holes_mm: tuple[float, float]) -> Smooth:
    holes = [curve_through(ellipse(x, y, 5.0, 5.0, 8)) for x, y in holes_mm]
    return Smooth(egg(), tuple(holes), 0.1)


def smooth_file() -> RacquetFile:
    curves = smooth((-30.0, 270.0), (30.0, 270.0))
    known = Known("perforated", 36.0, 31.0, (weight_reading("360"), balance_reading("250")))
    return build_racquet(curves.outline(), HANDLE_TOP, known, Traced(4.0, 2.0, smooth=curves))


def lengths_apart_mm(curve: Curve, outline: Outline, count: int = 25) -> float:
    """How far lengths from the tip differ, at most, measured on the curve and on the ring."""
    edge = edge_of(outline)
    ring, whole = LineString(edge.points_mm), edge.perimeter_mm
    worst = 0.0
    for u in np.linspace(0.0, curve.knots[-1], count, endpoint=False):
        on_ring = ring.project(Point(curve.pieces(u)))
        apart = (on_ring - along_from_tip(curve, float(u)) + whole / 2) % whole - whole / 2
        worst = max(worst, abs(apart))
    return worst


@settings(max_examples=15, deadline=None)
@given(st.lists(st.floats(-4, 4), min_size=4, max_size=4))
def test_lengths_from_the_tip_agree_on_curve_and_ring(waves_mm: list[float]) -> None:
    curve = egg(tuple(waves_mm))
    outline = Smooth(curve, (), 0.1).outline()
    assert lengths_apart_mm(curve, outline) <= RING_AGREES_MM
    assert edge_of(outline).perimeter_mm == pytest.approx(curve.lengths_mm[-1], abs=RING_AGREES_MM)


def test_a_traced_photo_s_curve_and_ring_agree(traced_paddle: RacquetFile) -> None:
    record, outline = traced_paddle.outline.smooth, outline_of(traced_paddle)
    assert record is not None
    curve = smooth_of(record).outer
    assert lengths_apart_mm(curve, outline) <= RING_AGREES_MM
    assert ring_distances_mm(curve, outline.outer_mm).max() <= WRITTEN_MM
    assert len(curve.points_mm) < len(outline.outer_mm) / 8
    assert 0.02 <= record.edge_sd_mm <= 0.3


def test_the_file_tells_the_curves_again() -> None:
    file = smooth_file()
    again = parse_racquet(file.model_dump_json(), "egg.racquet.json")
    assert again == file
    assert again.outline.smooth is not None
    back, sent = smooth_of(again.outline.smooth), smooth((-30.0, 270.0), (30.0, 270.0))
    for curve, other in zip((back.outer, *back.openings), (sent.outer, *sent.openings), strict=True):
        np.testing.assert_allclose(curve.points_mm, other.points_mm, atol=1e-5)
        assert curve.corners.tolist() == other.corners.tolist()


def test_curves_that_cross_are_no_outline() -> None:
    with pytest.raises(OutlineError, match="openings"):
        smooth((-30.0, 270.0), (-25.0, 270.0)).outline()


@pytest.mark.parametrize("length_mm", [388.0, 400.0, 409.0])
def test_a_tape_measure_scales_curve_and_ring_alike(length_mm: float) -> None:
    file = smooth_file()
    measured, _ = recalibrated(file, [*file.readings, parse_reading("length", f"{length_mm}")])
    assert measured.outline.smooth is not None
    assert measured.outline.length_mm.value == pytest.approx(length_mm, abs=1.0)
    scaled = smooth_of(measured.outline.smooth)
    outline = outline_of(measured)
    assert lengths_apart_mm(scaled.outer, outline) <= RING_AGREES_MM
    for curve, ring in zip(
        (scaled.outer, *scaled.openings), (outline.outer_mm, *outline.openings_mm), strict=True
    ):
        assert ring_distances_mm(curve, ring).max() <= WRITTEN_MM
    parse_racquet(measured.model_dump_json(), "measured")
    again = measured
    for _ in range(4):  # nothing adds up
        again, _ = recalibrated(again)
    back, _ = recalibrated(again, file.readings)
    assert back.outline.smooth is not None
    was = smooth_of(file.outline.smooth).outer if file.outline.smooth is not None else None
    assert was is not None
    np.testing.assert_allclose(smooth_of(back.outline.smooth).outer.points_mm, was.points_mm, atol=1e-3)


def test_a_drawing_shows_the_file_s_own_curve(tmp_path: Path) -> None:
    file = smooth_file()
    assert file.outline.smooth is not None
    curves = named_curves(file)
    assert curves["outline"].points_mm.tolist() == file.outline.smooth.outer.points_mm
    assert curves["opening-2"].points_mm.tolist() == file.outline.smooth.openings[1].points_mm
    path = tmp_path / "egg.svg"
    path.write_text(svg_text(file, "egg"), "utf-8")
    assert read_svg(path, file).is_same


def test_an_outline_drawn_anew_has_no_stale_curve() -> None:
    file = smooth_file()
    wider = outline_of(file).outer_mm * np.array([1.02, 1.0])
    assert with_outline(file, wider, []).outline.smooth is None


def changed(**outline: Any) -> str:
    raw = json.loads(smooth_file().model_dump_json())
    return json.dumps({**raw, "outline": {**raw["outline"], **outline}})


def test_a_file_whose_rings_were_changed_alone_is_refused() -> None:
    raw = json.loads(smooth_file().model_dump_json())["outline"]
    moved = [[x * 1.001, y] for x, y in raw["outer_mm"]]
    with pytest.raises(RacquetFileError, match=r"not those of its rings.*take outline.smooth out"):
        parse_racquet(changed(outer_mm=moved), "egg")
    with pytest.raises(RacquetFileError, match="not those of its rings"):
        parse_racquet(changed(openings_mm=raw["openings_mm"][:1]), "egg")
    assert parse_racquet(changed(outer_mm=moved, smooth=None), "egg").outline.smooth is None


def test_a_file_without_curves_is_read_as_before() -> None:
    raw = json.loads(smooth_file().model_dump_json())
    del raw["outline"]["smooth"]
    old = parse_racquet(json.dumps(raw), "egg")
    assert old.outline.smooth is None
    assert traced_of(old)[2].smooth is None
    assert recalibrated(old)[0].outline.smooth is None


def test_curves_that_are_none_are_refused() -> None:
    raw = json.loads(smooth_file().model_dump_json())["outline"]["smooth"]
    raw["outer"]["corners"] = [True]
    with pytest.raises(RacquetFileError, match="corner flags"):
        parse_racquet(changed(smooth=raw), "egg")
