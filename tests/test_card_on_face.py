"""A card on the racquet's own face, in a rendered photo with known truth."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from digitise.photo import read_photo
from digitise.reference import SHEET, find_reference
from digitise.refusal import Refused
from digitise.trace import Thickness, trace_photo
from tests.benchmarks.traced import rms_after_fit
from tests.page_browser import PHOTO
from tests.reference_scenes import photographed, thickness_of
from tests.render import random_scene
from tests.render.placing import framed


def test_a_card_on_the_face_gives_the_scale_at_the_faces_height(tmp_path: Path) -> None:
    scene = random_scene(2, "solid", megapixels=3, extras=0)
    spec = scene.racquets[0].spec
    card = replace(scene.cards[0], x_mm=5.0, y_mm=0.68 * spec.length_mm, turn_deg=74.0, on_face=True)
    photo, rendered = photographed(framed(replace(scene, cards=(card,))), tmp_path)
    found = trace_photo(photo, "solid", thickness_of(spec), card_on_face=True)
    true = rendered.truth["racquet"]
    assert rms_after_fit(found.contour.ring_mm, np.array(true["outline_mm"], float)) < 0.5
    spread = found.spread
    length, width = true["overall_length_mm"], true["max_width_mm"]
    assert abs(spread.length_mm - length) < min(0.004 * length, 2 * spread.length_sd_mm)
    assert abs(spread.width_mm - width) < min(0.005 * width, 2 * spread.width_sd_mm)
    # told as lying on the table, it would put the racquet's middle above the card instead of below it
    with pytest.raises(Refused, match="--card-on face"):
        trace_photo(photo, "solid", thickness_of(spec))


def test_a_card_on_the_table_is_not_taken_for_one_on_the_face() -> None:
    """At the face's height it would make the racquet 3 % too long."""
    with pytest.raises(Refused, match="without --card-on face"):
        trace_photo(read_photo(PHOTO), "solid", Thickness(14.0, 0.3, 30.0, 0.3), card_on_face=True)


def test_a_printed_sheet_does_not_lie_on_the_face(monkeypatch: pytest.MonkeyPatch) -> None:
    photo = read_photo(PHOTO)
    found = replace(find_reference(photo), what=SHEET)
    monkeypatch.setattr("digitise.trace.find_reference", lambda *_: found)
    with pytest.raises(Refused, match="printed sheet, and that lies under the racquet"):
        trace_photo(photo, "solid", Thickness(14.0, 0.3, 30.0, 0.3), card_on_face=True)
