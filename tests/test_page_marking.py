"""A racquet marked by hand from the start, in the browser: the card's corners, then round the racquet."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from digitise.band import even_ring
from digitise.card import find_card
from digitise.card_shape import ID1
from digitise.page.card import camera_from
from digitise.page.marking import _weighed, marked_racquet, table_sheet
from digitise.page.sheet import counter_clockwise
from digitise.photo import read_photo
from model.build import Known, Traced
from model.errors import OutlineError
from model.face import Landmarks
from model.outline import outline_from_rings
from model.racquet_file import RacquetFile
from model.reading_text import weight_reading
from model.recalibrate import traced_of
from model.storage import read_racquet
from tests.benchmarks.traced import rms_after_fit
from tests.page_browser import PHOTO, TRUTH, Hand, correcting, truth_outline
from tests.page_marks import OPTIONS, mark_racquet, to_racquet

NewHand = Callable[..., Hand]


def test_a_photo_without_any_file_is_no_dead_end(new_hand: NewHand, tmp_path: Path) -> None:
    target = tmp_path / "by-hand.racquet.json"
    truth = json.loads(TRUTH.read_text("utf-8"))
    with correcting(PHOTO, *OPTIONS, "--out", target) as address:
        hand = new_hand()
        hand.page.goto(address)
        to_racquet(hand)
        assert not target.exists()
        mark_racquet(hand)
        hand.save()
        hand.page.goto("about:blank")  # it would miss the server
    file = read_racquet(target)
    assert rms_after_fit(np.array(file.outline.outer_mm), np.array(truth_outline())) < 0.5
    assert file.outline.length_mm.value == pytest.approx(truth["racquet"]["overall_length_mm"], rel=0.01)
    assert file.correction is not None
    assert file.correction.automatic is None
    assert file.figures.weight_g.value == pytest.approx(231, abs=1)
    assert [reading.kind for reading in file.readings] == ["weight", "pendulum"]


@pytest.mark.parametrize("seed", [2, 18])
def test_an_unsteady_hand_marks_a_racquet_all_the_same(seed: int) -> None:
    """A line every 2 mm that is 0.6 mm off turns sharply; at some corners its rim's offsets tie a loop."""
    photo, known = read_photo(PHOTO), Known("solid", 14.0, 30.0)
    corners_px = find_card(photo.pixels_rgb).corners_px
    sheet = table_sheet(photo, camera_from(photo, corners_px, ID1, snap=True), known, False)
    rim_mm = sheet.from_px(np.array(json.loads(TRUTH.read_text("utf-8"))["racquet"]["visible_outline_px"]))
    clicked = even_ring(counter_clockwise(rim_mm), 2.0)
    clicked = clicked + np.random.default_rng(seed).normal(0, 0.6, clicked.shape)
    file = marked_racquet(photo, sheet, corners_px, clicked, known)
    assert file.outline.length_mm.value == pytest.approx(417.0, rel=0.01)


def test_a_photo_that_has_its_file_is_not_marked_over_it(tmp_path: Path) -> None:
    target = tmp_path / "there.racquet.json"
    target.write_text("{}", "utf-8")
    command = [sys.executable, "-m", "digitise", "correct", str(PHOTO), "--out", str(target), "--no-browser"]
    ran = subprocess.run(command, capture_output=True, text=True, check=False)
    assert ran.returncode == 1
    assert "exists: correct that file" in ran.stderr


def test_a_weight_that_no_such_racquet_has_casts_doubt_on_the_line(traced_paddle: RacquetFile) -> None:
    """The paddle at 3 tenths of its size cannot weigh 231 g."""
    outline, marks, _ = traced_of(traced_paddle)
    small = outline_from_rings(0.3 * outline.outer_mm)
    landmarks = Landmarks(0.3 * marks.handle_top_mm, 1.0, None)
    known = Known("solid", 14.0, 30.0, (weight_reading("231"),))
    with pytest.raises(OutlineError, match=r"wrong: it makes .* 125 mm long .* weight reading 231 g"):
        _weighed(small, landmarks, known, Traced())


def test_a_line_without_handle_and_head_is_said_to_be_wrong(traced_paddle: RacquetFile) -> None:
    outline, _, _ = traced_of(traced_paddle)
    known = Known("solid", 14.0, 30.0, (weight_reading("231"),))
    with pytest.raises(OutlineError, match=r"wrong: it makes .* 418 mm long .* with no handle and no head"):
        _weighed(outline, Landmarks(outline.length_mm - 0.1, 1.0, None), known, Traced())
