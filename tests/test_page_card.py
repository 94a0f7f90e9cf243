"""The card's corners moved by hand, and put back on the card's edges."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from digitise.camera import PARAMETER_NAMES
from digitise.lens_prior import lens_prior
from digitise.page.card import calibrated, camera_from, seen_anew, shape_of
from digitise.page.drawn import SAVED_TOLERANCE_MM
from digitise.page.opened import Opened, open_file, sighting_of
from digitise.page.outcome import outcome_of
from digitise.page.sheet import seen_by
from digitise.photo import read_photo
from digitise.tone import FloatArray
from model.errors import ModelError
from model.racquet_file import RacquetFile, Value
from tests.page_browser import PHOTO
from tests.page_samples import camera


@pytest.fixture(scope="module")
def photo() -> Any:
    return read_photo(PHOTO)


def length_with(photo: Any, opened: Opened, corners_px: FloatArray) -> Value:
    """The racquet's length by the camera that the corners give."""
    shape = shape_of(opened.file.scale.card)  # type: ignore[union-attr]
    estimate = camera_from(photo, corners_px, shape, snap=False, file=opened.sheet.estimate)
    new = seen_by(opened.sheet, estimate)
    edit = seen_anew(opened.edit, opened.sheet, new, corners_px)
    return outcome_of(sighting_of(opened, new), edit, SAVED_TOLERANCE_MM).file.outline.length_mm


@pytest.mark.parametrize("off_px", [(0.0, 0.0), (0.0, -4.0), (-8.0, 8.0)])
def test_a_corner_snaps_back_to_where_trace_had_it(
    off_px: tuple[float, float], photo: Any, traced_paddle: RacquetFile
) -> None:
    opened = open_file(traced_paddle)
    assert traced_paddle.scale is not None
    corners_px = np.array(traced_paddle.scale.card.corners_px)
    corners_px[2] += off_px
    shape = shape_of(traced_paddle.scale.card)
    estimate = camera_from(photo, corners_px, shape, snap=True, file=opened.sheet.estimate)
    snapped = np.round(estimate.corners_px(shape), 3)
    length = length_with(photo, opened, snapped)
    assert length.value == pytest.approx(traced_paddle.outline.length_mm.value, abs=0.3)
    assert length.sd == pytest.approx(traced_paddle.outline.length_mm.sd, rel=0.3)


def test_a_corner_put_off_the_edges_counts_as_a_hand_puts_it(photo: Any, traced_paddle: RacquetFile) -> None:
    """A side 4 px longer makes the scale finer: the racquet comes out shorter, and less surely so long."""
    opened = open_file(traced_paddle)
    assert traced_paddle.scale is not None
    corners_px = np.array(traced_paddle.scale.card.corners_px)
    middle = corners_px.mean(axis=0)
    larger = middle + (corners_px - middle) * 1.01
    length = length_with(photo, opened, larger)
    assert length.value == pytest.approx(traced_paddle.outline.length_mm.value / 1.01, rel=0.004)
    assert length.sd > 1.2 * traced_paddle.outline.length_mm.sd


def test_where_no_card_is_there_is_nothing_to_snap_to(photo: Any) -> None:
    bare = np.array([[100.0, 100.0], [600.0, 100.0], [600.0, 415.0], [100.0, 415.0]])
    with pytest.raises(ModelError, match="no card's edges are found at these corners"):
        camera_from(photo, bare, shape_of(None), snap=True)


@pytest.mark.parametrize(("focal_sd_px", "kept"), [(3.0, True), (25.0, False), (0.0, False)])
def test_a_calibrated_lens_stays_the_file_s_own(focal_sd_px: float, kept: bool) -> None:
    lens = lens_prior(26.0, 4032, 3024)
    own = camera(focal_px=3200.0)
    covariance = np.diag([focal_sd_px**2 if name == "focal_px" else 1e-4 for name in PARAMETER_NAMES])
    found = calibrated(lens, replace(own, covariance=covariance))
    assert (found.focal_px, found.focal_sd_px) == (
        (3200.0, 3.0) if kept else (lens.focal_px, lens.focal_sd_px)
    )
    assert found.centre_px == ((own.camera.cx_px, own.camera.cy_px) if kept else lens.centre_px)
