"""What an edit does to sds, notes and what is told as changed."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from digitise.doubt import DRAWN, FAINT, HIDDEN
from digitise.page.answers import told_outcome
from digitise.page.drawn import SAVED_TOLERANCE_MM
from digitise.page.edit import Edit, EditStretch
from digitise.page.opened import Opened, open_file, sighting_of
from digitise.page.outcome import corrected_file, outcome_of
from digitise.page.stretches import ring_distance_mm
from model.cautions import NEEDS_CORRECTION
from model.racquet_file import RacquetFile
from model.reading_text import weight_reading
from model.recalibrate import recalibrated
from model.sight_record import DoubtRecord

TIP_MM = 4.0


def doubt_about(
    file: RacquetFile, point: int, from_mm: float, to_mm: float, sd_mm: float, side: str
) -> DoubtRecord:
    """A doubt along the outline, so far on from its ``point``, or back."""
    ring = np.array(file.outline.outer_mm)
    step = np.linalg.norm(np.diff(ring, axis=0, append=ring[:1]), axis=1)
    on_mm = np.concatenate([[0.0], np.cumsum(np.roll(step, -point))])[:-1]
    start, end = (int((np.abs(on_mm - off_mm % step.sum()).argmin() + point) % len(ring))
                  for off_mm in (from_mm, to_mm))  # fmt: skip
    return DoubtRecord(
        start_mm=ring[start].tolist(), end_mm=ring[end].tolist(), length_mm=to_mm - from_mm, side=side,
        where="half past 11 to half past 12", reason="shadow", sd_mm=sd_mm,
    )  # fmt: skip


def at_tip(file: RacquetFile) -> DoubtRecord:
    """In doubt from 60 mm before the tip's farthest point to as much after it."""
    tip = int(np.argmax(np.array(file.outline.outer_mm)[:, 1]))
    return doubt_about(file, tip, -60.0, 60.0, TIP_MM, "tip")


def highest(file: RacquetFile) -> int:
    """The point of the file's outline where the nudged drawing is highest: the tip is all but flat."""
    opened = open_file(file)
    drawn = outcome_of(sighting_of(opened, opened.sheet), nudged(opened), SAVED_TOLERANCE_MM)
    ring = drawn.drawn.frame.into(drawn.touched.ring_mm)
    away = np.linalg.norm(np.array(file.outline.outer_mm) - ring[ring[:, 1].argmax()], axis=1)
    return int(away.argmin())


def nudged(opened: Opened) -> Edit:
    """One point of the handle's side dragged by 0.1 mm."""
    points = [list(point) for point in opened.edit.outer.points]
    handle = [k for k, (x, y) in enumerate(points) if x > 0 and 40 < y < 100]
    points[handle[0]][0] += 0.1
    outer = opened.edit.outer.model_copy(update={"points": points})
    return opened.edit.model_copy(update={"outer": outer})


def size_sds(file: RacquetFile, edit_of: Any) -> tuple[float, float]:
    """Sds of length and width of an edit of a file."""
    opened = open_file(file)
    outline = outcome_of(sighting_of(opened, opened.sheet), edit_of(opened), SAVED_TOLERANCE_MM).file.outline
    return outline.length_mm.sd, outline.width_mm.sd


def test_an_edit_elsewhere_leaves_the_sd_of_an_end_in_doubt(traced_paddle: RacquetFile) -> None:
    sure, wide = size_sds(traced_paddle, nudged)
    doubted = traced_paddle.model_copy(update={"doubts": [at_tip(traced_paddle)]})
    length_sd, width_sd = size_sds(doubted, nudged)
    assert length_sd == pytest.approx(np.hypot(sure, TIP_MM), rel=0.002)
    assert width_sd == pytest.approx(wide, rel=0.002)


def test_doubt_beside_an_end_or_at_a_widest_place_counts_where_trace_has_it(
    traced_paddle: RacquetFile,
) -> None:
    ring = np.array(traced_paddle.outline.outer_mm)
    sure, wide = size_sds(traced_paddle, nudged)
    widest = doubt_about(traced_paddle, int(ring[:, 0].argmax()), -60.0, 60.0, 1.5, "right side")
    length_sd, width_sd = size_sds(traced_paddle.model_copy(update={"doubts": [widest]}), nudged)
    assert (length_sd, width_sd) == pytest.approx((sure, np.hypot(wide, 1.5)), rel=0.002)
    tip = highest(traced_paddle)
    for from_mm, more in ((9.0, TIP_MM), (20.0, 0.0)):
        beside = doubt_about(traced_paddle, tip, from_mm, from_mm + 10.0, TIP_MM, "left side")
        length_sd, _ = size_sds(traced_paddle.model_copy(update={"doubts": [beside]}), nudged)
        assert length_sd == pytest.approx(np.hypot(sure, more), rel=0.01), from_mm


def test_an_end_that_a_hand_answers_for_is_as_sure_as_a_hand(traced_paddle: RacquetFile) -> None:
    doubt = at_tip(traced_paddle)

    def declared(opened: Opened) -> Edit:
        whole = EditStretch(start=doubt.start_mm, end=doubt.end_mm)
        return opened.edit.model_copy(update={"declared": [whole]})

    sure, _ = size_sds(traced_paddle, declared)
    settled, _ = size_sds(traced_paddle.model_copy(update={"doubts": [doubt]}), declared)
    assert settled == pytest.approx(sure, rel=1e-6)
    assert settled < 1.0


@pytest.mark.parametrize(("reason", "kept"), [(HIDDEN, True), (DRAWN, True), (FAINT, False)])
def test_a_grave_doubt_that_is_left_still_calls_for_a_hand(
    traced_paddle: RacquetFile, reason: str, kept: bool
) -> None:
    """20 of 1,100 mm: a faint edge as long does not."""
    doubt = doubt_about(traced_paddle, 0, -10.0, 10.0, 1.0, "butt end").model_copy(update={"reason": reason})
    update = {"doubts": [doubt], "flags": [NEEDS_CORRECTION]}
    opened = open_file(traced_paddle.model_copy(update=update))
    after = outcome_of(sighting_of(opened, opened.sheet), nudged(opened), SAVED_TOLERANCE_MM).file
    assert (NEEDS_CORRECTION in after.flags) == kept


def test_a_saved_doubt_keeps_its_words(traced_paddle: RacquetFile) -> None:
    opened = open_file(traced_paddle.model_copy(update={"doubts": [at_tip(traced_paddle)]}))
    saved = corrected_file(sighting_of(opened, opened.sheet), nudged(opened))
    assert "doubtful stretch: tip, half past 11 to half past 12, 120 mm: shadow" in saved.notes


def test_what_readings_change_is_no_change_of_the_outline(traced_paddle: RacquetFile) -> None:
    """Corrected, saved, and then weighed anew: the change told is what it was by the old weight."""
    opened = open_file(traced_paddle)
    saved = corrected_file(sighting_of(opened, opened.sheet), nudged(opened))
    readings = [weight_reading("250"), *(r for r in saved.readings if r.kind != "weight")]
    heavier, _ = recalibrated(saved, readings)
    changes = []
    for file in (saved, heavier):
        again = open_file(file)
        rows = told_outcome(sighting_of(again, again.sheet), again.edit)["figures"]
        changes.append({row["key"]: row["change"] for row in rows})
    assert heavier.figures.swing_weight_kgcm2.value > saved.figures.swing_weight_kgcm2.value + 5
    for key, change in changes[0].items():
        assert changes[1][key] == pytest.approx(change, abs=0.02), key


def test_what_nobody_touches_comes_back_where_it_was(traced_paddle: RacquetFile) -> None:
    """Also round the butt's tight corners, and with it the length."""
    opened = open_file(traced_paddle)
    saved = corrected_file(sighting_of(opened, opened.sheet), opened.edit)
    away = ring_distance_mm(np.array(traced_paddle.outline.outer_mm), np.array(saved.outline.outer_mm))
    assert away.max() < 0.1
    assert saved.outline.length_mm.value == pytest.approx(traced_paddle.outline.length_mm.value, abs=0.005)


def test_a_file_whose_scale_came_from_a_tape_measure_can_be_corrected(traced_paddle: RacquetFile) -> None:
    opened = open_file(traced_paddle.model_copy(update={"scale": None}))
    saved = corrected_file(sighting_of(opened, opened.sheet), nudged(opened))
    assert saved.scale is None
    assert saved.outline.length_mm.value == pytest.approx(traced_paddle.outline.length_mm.value, abs=0.005)
