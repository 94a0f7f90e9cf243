"""A racquet marked by hand from the start, in the browser: the card's corners, then round the racquet."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from digitise.card import find_card
from digitise.card_shape import ID1
from digitise.page.card import camera_from
from digitise.page.marking import table_sheet
from digitise.photo import Photo, read_photo
from digitise.recast import seen_px
from digitise.tone import FloatArray
from digitise.trace import Thickness, trace_photo
from model.build import Known
from model.storage import read_racquet
from tests.benchmarks.traced import rms_after_fit
from tests.page_browser import PHOTO, TRUTH, Hand, correcting, truth_outline

NewHand = Callable[..., Hand]
OPTIONS = (
    *("--construction", "solid", "--face-thickness", "14", "--handle-thickness", "30"),
    *("--weight", "231", "--pendulum", "pivot 30mm, 20 swings, 20.92s"),
)


def test_a_photo_without_any_file_is_no_dead_end(new_hand: NewHand, tmp_path: Path) -> None:
    target = tmp_path / "by-hand.racquet.json"
    truth = json.loads(TRUTH.read_text("utf-8"))
    with correcting(PHOTO, *OPTIONS, "--out", target) as address:
        hand = new_hand()
        hand.page.goto(address)
        hand.page.get_by_role("button", name="Next: the racquet").click(timeout=60_000)
        hand.until("drawing.tool.name === 'redraw' && !drawing.isBusy")
        assert not target.exists()
        seen = clicks_round(read_photo(PHOTO))
        for x, y in [*seen, seen[0]]:
            before = hand.page.evaluate("drawing.tool.anchors.length")
            hand.page.mouse.click(*hand.on_screen((float(x), float(y))))
            hand.until(f"!window.drawing?.tool?.anchors || drawing.tool.anchors.length !== {before}")
        hand.ready()
        hand.save()
        hand.page.goto("about:blank")  # it would miss the server
    file = read_racquet(target)
    assert rms_after_fit(np.array(file.outline.outer_mm), np.array(truth_outline())) < 0.5
    assert file.outline.length_mm.value == pytest.approx(truth["racquet"]["overall_length_mm"], rel=0.01)
    assert file.correction is not None
    assert file.correction.automatic is None
    assert file.figures.weight_g.value == pytest.approx(231, abs=1)
    assert [reading.kind for reading in file.readings] == ["weight", "pendulum"]


def clicks_round(photo: Photo) -> FloatArray:
    """Places on the table's sheet round the racquet's rim, half a millimetre off as a hand is."""
    traced = trace_photo(photo, "solid", Thickness(14.0, 0.3, 30.0, 0.3))
    rim_px = seen_px(traced.estimate.camera, traced.contour, traced.body)
    estimate = camera_from(photo, find_card(photo.pixels_rgb).corners_px, ID1, snap=True)
    sheet = table_sheet(photo, estimate, Known("solid", 14.0, 30.0), False)
    clicked = sheet.from_px(rim_px[:: len(rim_px) // 40])
    return np.asarray(clicked + np.random.default_rng(2).normal(0, 0.5, clicked.shape))


def test_a_photo_that_has_its_file_is_not_marked_over_it(tmp_path: Path) -> None:
    target = tmp_path / "there.racquet.json"
    target.write_text("{}", "utf-8")
    command = [sys.executable, "-m", "digitise", "correct", str(PHOTO), "--out", str(target), "--no-browser"]
    ran = subprocess.run(command, capture_output=True, text=True, check=False)
    assert ran.returncode == 1
    assert "exists: correct that file" in ran.stderr
