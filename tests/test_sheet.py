"""The printed sheet: its PDF to the micrometre, and its use as a reference in rendered photos."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np
import pytest
from shapely import contains_xy

from digitise.photo import Photo
from digitise.reference import Asked, find_reference
from digitise.refusal import Reason, Refused
from digitise.sheet import (
    MARGIN_MM,
    MARKER_MM,
    PAPERS,
    RULER_MM,
    UNMEASURED,
    centres_mm,
    dictionary,
    paper_of,
    print_scale,
)
from digitise.sheet_find import LEAST_MARKERS, find_sheet
from digitise.sheet_pdf import sheet_pdf
from digitise.trace import trace_photo
from model.errors import ModelError
from tests.benchmarks.traced import rms_after_fit
from tests.printed_sheet import PrintedSheet, read_sheet
from tests.reference_scenes import beside_sheet, photographed, thickness_of
from tests.render import Rendered, random_scene
from tests.render.cards import CardSpec
from tests.render.placing import framed
from tests.test_reference import length_sd_mm, racquet_length_error_mm

PDF_MM = 1e-4  # the file writes 1/72 inch to 4 decimals or better


def printed(paper: str) -> PrintedSheet:
    return read_sheet(sheet_pdf(PAPERS[paper]))


def photo_with_sheet(
    paper: str, seed: int, folder: Path, factor: float = 1.0, exif: bool = True
) -> tuple[Photo, Rendered]:
    """A racquet beside our sheet, which the printer made ``factor`` times too large on the same paper."""
    sheet = printed(paper)
    scene = beside_sheet(seed, *sheet.size_mm, exif=exif)
    laid = replace(scene.cards[0], ink=sheet.ink(factor))
    return photographed(replace(scene, cards=(laid,)), folder)


@pytest.mark.parametrize(("paper", "size_mm"), [("a4", (210.0, 297.0)), ("letter", (8.5 * 25.4, 11 * 25.4))])
def test_the_pdf_is_exact(paper: str, size_mm: tuple[float, float]) -> None:
    sheet = printed(paper)
    assert sheet.size_mm == pytest.approx(size_mm, abs=1e-3)
    squares = [r for r in sheet.black if r[2:] == pytest.approx((MARKER_MM, MARKER_MM), abs=PDF_MM)]
    middles = np.array([(x + w / 2, y + h / 2) for x, y, w, h in squares])
    assert middles == pytest.approx(np.array(list(centres_mm(PAPERS[paper]).values())), abs=3 * PDF_MM)
    outermost = np.abs(middles).max(axis=0) + MARKER_MM / 2 + MARGIN_MM
    assert outermost == pytest.approx(np.array(size_mm) / 2, abs=1e-3)
    ruler = [r for r in sheet.black if r not in squares]
    left, right = min(x for x, *_ in ruler), max(x + w for x, _, w, _ in ruler)
    assert right - left == pytest.approx(RULER_MM, abs=3 * PDF_MM)
    ticks = sorted(x + w / 2 for x, _, w, h in ruler if h == pytest.approx(3.0, abs=PDF_MM))
    assert [b - a for a, b in pairwise(ticks)] == pytest.approx([10.0] * 13, abs=3 * PDF_MM)


def test_the_markers_are_the_dictionarys() -> None:
    """The PDF's shapes, drawn as pixels, are read by OpenCV's detector where the layout says."""
    sheet, per_mm = printed("a4"), 8
    width, height = (round(per_mm * side) for side in sheet.size_mm)
    x, y = np.meshgrid((np.arange(width) + 0.5) / per_mm, (np.arange(height) + 0.5) / per_mm)
    inked = contains_xy(sheet.ink(), x - sheet.size_mm[0] / 2, sheet.size_mm[1] / 2 - y)
    corners, ids, _ = cv2.aruco.ArucoDetector(dictionary()).detectMarkers(
        np.where(inked, 0, 255).astype(np.uint8)
    )
    found = {int(i): c.reshape(4, 2).mean(axis=0) for i, c in zip(np.ravel(ids), corners, strict=True)}
    expected = centres_mm(PAPERS["a4"])
    assert found.keys() == expected.keys()
    for number, (x_mm, y_mm) in expected.items():
        place = (per_mm * (x_mm + sheet.size_mm[0] / 2), per_mm * (sheet.size_mm[1] / 2 - y_mm))
        assert found[number] == pytest.approx(place, abs=1.0)


def test_papers_share_no_marker() -> None:
    numbers = [number for paper in PAPERS.values() for number in centres_mm(paper)]
    assert len(numbers) == len(set(numbers))
    assert max(numbers) < len(dictionary().bytesList)
    assert all(paper_of(number) is paper for paper in PAPERS.values() for number in centres_mm(paper))
    assert paper_of(99) is None


def test_the_same_pdf_each_time() -> None:
    assert sheet_pdf(PAPERS["a4"]) == sheet_pdf(PAPERS["a4"])


@pytest.mark.parametrize(("paper", "seed", "factor"), [("a4", 1, 1.0), ("letter", 3, 1.0), ("a4", 2, 0.97)])
def test_the_sheet_gives_the_camera(paper: str, seed: int, factor: float, tmp_path: Path) -> None:
    photo, rendered = photo_with_sheet(paper, seed, tmp_path, factor)
    reference = find_reference(photo, Asked(printed=print_scale(factor * RULER_MM)))
    assert reference.what == "sheet"
    assert all("ruler" not in note for note in reference.notes)
    camera, true = reference.estimate.camera, rendered.truth["camera"]
    assert camera.height_mm == pytest.approx(true["height_mm"], rel=2e-3)
    assert camera.tilt_deg == pytest.approx(true["tilt_deg"], abs=0.15)
    error_mm, sd_mm = racquet_length_error_mm(reference, rendered), length_sd_mm(reference, rendered)
    assert abs(error_mm) < 0.6
    assert abs(error_mm) < 3 * sd_mm


def test_a_wrong_printed_scale_is_carried_and_said(tmp_path: Path) -> None:
    """Printed to fit the page and not measured: wrong by 3 %, and the person was told to measure."""
    factor = 0.97
    photo, rendered = photo_with_sheet("a4", 2, tmp_path, factor)
    trusting, measured = (find_reference(photo, Asked(printed=s)) for s in (UNMEASURED, print_scale(145.5)))
    assert any("give --ruler-measured" in note for note in trusting.notes)
    share = trusting.estimate.camera.height_mm / measured.estimate.camera.height_mm
    assert share == pytest.approx(1 / factor, rel=1e-4)
    assert measured.outlines_px[0] == pytest.approx(trusting.outlines_px[0])
    length_mm = rendered.truth["racquet"]["overall_length_mm"]
    relative = [
        length_sd_mm(reference, rendered) / length
        for reference, length in ((trusting, length_mm / factor), (measured, length_mm))
    ]
    more = UNMEASURED.relative_sd**2 - print_scale(145.5).relative_sd ** 2
    assert relative[0] ** 2 - relative[1] ** 2 == pytest.approx(more, rel=0.05)


def test_half_covered_it_still_serves(tmp_path: Path) -> None:
    photo, rendered = photo_with_sheet("a4", 1, tmp_path)
    corners = np.asarray(rendered.truth["card"]["corners_px"])
    pixels = photo.pixels_rgb.copy()
    covered = [corners[0], corners[1], *((corners[2:] + corners[1::-1]) / 2)]
    cv2.fillPoly(pixels, [np.rint(covered).astype(np.int32)], (120, 90, 60))
    found = find_sheet(pixels)
    assert found is not None
    assert LEAST_MARKERS <= len(found.ids) < 14
    reference = find_reference(replace(photo, pixels_rgb=pixels))
    assert reference.estimate.camera.height_mm == pytest.approx(
        rendered.truth["camera"]["height_mm"], rel=4e-3
    )


def test_the_racquet_may_lie_on_part_of_the_sheet(tmp_path: Path) -> None:
    """Its grip and part of its face lie on the paper; what is seen of that is no part of the outline."""
    sheet, scene = printed("a4"), random_scene(2, "solid", megapixels=3, extras=0)
    laid = scene.racquets[0]
    turn = np.radians(laid.turn_deg)
    x, y = 90 * np.array([np.cos(turn), np.sin(turn)]) - 60 * np.array([-np.sin(turn), np.cos(turn)])
    under = CardSpec("sheet", x, y, laid.turn_deg + 12, *sheet.size_mm, 0.0, 0.1, ink=sheet.ink())
    photo, rendered = photographed(framed(replace(scene, cards=(under,))), tmp_path)
    found = trace_photo(photo, "solid", thickness_of(laid.spec))
    assert found.reference.what == "sheet"
    true = rendered.truth["racquet"]
    assert rms_after_fit(found.contour.ring_mm, np.array(true["outline_mm"], float)) < 0.6
    assert found.spread.length_mm == pytest.approx(true["overall_length_mm"], rel=0.004)
    assert found.spread.width_mm == pytest.approx(true["max_width_mm"], rel=0.006)


def test_a_ruler_without_the_sheet_is_refused(tmp_path: Path) -> None:
    photo, _ = photographed(beside_sheet(2, 210, 297), tmp_path)  # a blank sheet
    with pytest.raises(Refused, match="printed sheet, whose ruler was given") as refused:
        find_reference(photo, Asked(printed=print_scale(150)))
    assert refused.value.reason is Reason.NO_CARD


@pytest.mark.parametrize("ruler_mm", [15.0, 99.0, 5.9 * 25.4 * 2, -150.0])
def test_an_impossible_ruler_is_refused(ruler_mm: float) -> None:
    with pytest.raises(ModelError, match="measure the long line"):
        print_scale(ruler_mm)
