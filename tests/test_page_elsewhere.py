"""What other commands write into the file while its outline is corrected, and what becomes of drafts."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from digitise.page.desk import Desk, Stale
from digitise.page.edit import Edit
from digitise.page.elsewhere import is_same_drawing, with_readings_of
from digitise.photo import read_photo
from model.racquet_file import PlacementRecord, RacquetFile
from model.reading_text import balance_reading, parse_reading, weight_reading
from model.readings import Reading
from model.recalibrate import recalibrated
from model.storage import read_racquet, write_racquet
from tests.page_browser import PHOTO, Hand

ROUNDING = 1e-6
"""Shares by which figures reckoned from outlines of 0.0001 mm may differ."""
READINGS: list[Reading] = [weight_reading("231"), balance_reading("228.4")]
PIECE = PlacementRecord(strip="10g of lead tape 12:00")


@pytest.fixture(scope="session")
def photo() -> Any:
    return read_photo(PHOTO)


def marked(edit: Edit, top_mm: float) -> Edit:
    return edit.model_copy(update={"handle_top_mm": top_mm, "marks_by_hand": True})


def calibrated(path: Path, *more: Any) -> RacquetFile:
    """Other readings, another swing axis and a piece, written into the file as other commands do."""
    file, _ = recalibrated(read_racquet(path), [*READINGS, *more], 90.0)
    file = file.model_copy(update={"placements": [PIECE]})
    write_racquet(path, file)
    return file


def with_other_outline(file: RacquetFile) -> RacquetFile:
    outline = file.outline
    outer = [[x * 1.002, y] for x, y in outline.outer_mm]
    return file.model_copy(update={"outline": outline.model_copy(update={"outer_mm": outer, "smooth": None})})


def test_readings_and_pieces_are_no_other_drawing(paddle_path: Path) -> None:
    before = read_racquet(paddle_path)
    calibrated(paddle_path, parse_reading("length", "396"))
    after = read_racquet(paddle_path)
    assert after.outline.outer_mm != before.outline.outer_mm  # stretched to the tape measure
    assert is_same_drawing(before, after)
    top = before.landmarks.handle_top_mm
    moved = {"handle_top_mm": top.model_copy(update={"value": top.value + 0.1})}
    for changes in (
        {"outline": with_other_outline(before).outline},
        {"landmarks": before.landmarks.model_copy(update=moved)},
        {"thickness": before.thickness.model_copy(update={"face_source": "default"})},
        {"pose": None},
    ):
        assert not is_same_drawing(before, before.model_copy(update=changes))


def test_a_draft_goes_on_with_the_readings_that_the_file_has_now(paddle_path: Path, photo: Any) -> None:
    desk = Desk(paddle_path, photo)
    one = marked(desk.edit, 145.0)
    desk.record(0, 1, [one], 1)
    desk.close()
    now = calibrated(paddle_path)
    again = Desk(paddle_path, photo)
    assert (again.steps, again.at, again.saved) == ([desk.steps[0], one], 1, 0)
    assert again.told == ""
    assert again.opened.file.figures.balance_mm.value == pytest.approx(now.figures.balance_mm.value, ROUNDING)
    assert again.opened.file.figures.swing_weight_kgcm2.axis_mm == 90.0
    again.save(0)
    saved = read_racquet(paddle_path)
    assert saved.readings == READINGS
    assert saved.placements == [PIECE]
    assert saved.figures.swing_weight_kgcm2.axis_mm == 90.0
    assert saved.landmarks.handle_top_mm.value == pytest.approx(145.0, abs=0.1)


def test_undo_reaches_back_over_a_save_and_a_tape_measure(paddle_path: Path, photo: Any) -> None:
    desk = Desk(paddle_path, photo)
    first = desk.edit
    one, two = marked(first, 145.0), marked(first, 140.0)
    desk.record(0, 1, [one], 1)
    desk.save(1)
    desk.record(1, 2, [two], 2)
    desk.close()
    calibrated(paddle_path, parse_reading("length", "396"))
    again = Desk(paddle_path, photo)
    assert (again.steps, again.at, again.saved) == ([first, one, two], 2, 1)
    again.record(0, 3, [], 0)
    saved = again.save(1)
    assert saved.landmarks.handle_top_mm.value == pytest.approx(
        first.handle_top_mm * saved.outline.length_mm.value / desk.base.outline.length_mm.value, abs=0.1
    )
    assert [reading.kind for reading in saved.readings] == ["weight", "balance", "length"]


def test_a_draft_on_another_outline_is_put_aside_and_told(paddle_path: Path, photo: Any) -> None:
    for number in (1, 2):
        desk = Desk(paddle_path, photo)
        one = marked(desk.edit, 140.0 + number)
        desk.record(0, 1, [one], 1)
        desk.close()
        write_racquet(paddle_path, with_other_outline(read_racquet(paddle_path)))
        again = Desk(paddle_path, photo)
        assert len(again.steps) == 1
        aside = paddle_path.with_name(f".{paddle_path.name}.draft.{number}")
        assert aside.name in again.told
        assert json.loads(aside.read_text("utf-8"))["steps"][1]["handle_top_mm"] == 140.0 + number
        assert not again.draft_path.exists()


def test_a_draft_that_cannot_be_read_is_put_aside(paddle_path: Path, photo: Any) -> None:
    draft = paddle_path.with_name(f".{paddle_path.name}.draft")
    draft.write_text("damaged", "utf-8")
    desk = Desk(paddle_path, photo)
    assert len(desk.steps) == 1
    assert "can't be read" in desk.told
    assert draft.with_name(f"{draft.name}.1").read_text("utf-8") == "damaged"


def test_a_drawing_that_was_saved_and_written_over_is_put_aside(paddle_path: Path, photo: Any) -> None:
    desk = Desk(paddle_path, photo)
    desk.record(0, 1, [marked(desk.edit, 145.0)], 1)
    desk.save(1)  # and the program ends without closing
    write_racquet(paddle_path, with_other_outline(read_racquet(paddle_path)))
    again = Desk(paddle_path, photo)
    aside = paddle_path.with_name(f".{paddle_path.name}.draft.1")
    assert len(again.steps) == 1
    assert aside.name in again.told
    assert json.loads(aside.read_text("utf-8"))["steps"][1]["handle_top_mm"] == 145.0


def test_a_racquet_marked_by_hand_is_put_aside_where_it_was_written_over(
    paddle_path: Path, photo: Any
) -> None:
    file = read_racquet(paddle_path)
    Desk(paddle_path, photo, file).save(0)  # the marking is its only step, and the program ends
    write_racquet(paddle_path, with_other_outline(read_racquet(paddle_path)))
    again = Desk(paddle_path, photo)
    aside = paddle_path.with_name(f".{paddle_path.name}.draft.1")
    assert aside.name in again.told
    held = json.loads(aside.read_text("utf-8"))["base"]["outline"]["outer_mm"]
    assert held == file.outline.outer_mm


def test_a_draft_that_the_file_holds_or_without_a_stroke_is_not_put_aside(
    paddle_path: Path, photo: Any
) -> None:
    desk = Desk(paddle_path, photo)
    desk.record(0, 1, [marked(desk.edit, 145.0)], 1)
    desk.save(1)
    calibrated(paddle_path)  # other readings, the same drawing
    desk.start_over()
    assert (len(desk.steps), desk.told) == (1, "")
    write_racquet(paddle_path, with_other_outline(read_racquet(paddle_path)))
    assert desk.draft_path.exists()
    again = Desk(paddle_path, photo)
    assert (len(again.steps), again.told) == (1, "")


def test_what_the_file_says_of_masses_holds_where_its_readings_do_not_suit_the_outline(
    paddle_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from model.errors import ModelError

    base, now = read_racquet(paddle_path), calibrated(paddle_path)

    def refuse(*_: object) -> None:
        raise ModelError("impossible")

    monkeypatch.setattr("digitise.page.elsewhere.recalibrated", refuse)
    found = with_readings_of(base, now)
    assert (found.readings, found.figures, found.placements) == (now.readings, now.figures, [PIECE])
    assert found.outline == base.outline


def test_readings_that_came_meanwhile_are_saved_with_the_drawing(paddle_path: Path, photo: Any) -> None:
    desk = Desk(paddle_path, photo)
    desk.record(0, 1, [marked(desk.edit, 145.0)], 1)
    desk.look()
    assert desk.taken == 0
    now = calibrated(paddle_path)
    desk.look()
    assert desk.taken == 1
    assert desk.opened.file.figures.balance_mm.value == pytest.approx(now.figures.balance_mm.value, ROUNDING)
    assert now.figures.balance_mm.value != pytest.approx(desk.base.figures.balance_mm.value, abs=5)
    calibrated(paddle_path, parse_reading("width", "191"))
    desk.save(1)
    saved = read_racquet(paddle_path)
    assert [reading.kind for reading in saved.readings] == ["weight", "balance", "width"]
    assert saved.placements == [PIECE]
    assert saved.landmarks.handle_top_mm.value == pytest.approx(145.0, abs=0.1)
    desk.record(1, 2, [marked(desk.edit, 146.0)], 2)
    desk.save(2)  # what it wrote itself is nothing from elsewhere
    assert desk.taken == 2


def test_another_outline_is_not_written_over_and_its_readings_never(paddle_path: Path, photo: Any) -> None:
    desk = Desk(paddle_path, photo)
    desk.record(0, 1, [marked(desk.edit, 145.0)], 1)
    write_racquet(paddle_path, with_other_outline(calibrated(paddle_path)))
    before = paddle_path.read_bytes()
    desk.look()
    with pytest.raises(Stale, match="another outline") as caught:
        desk.save(1)
    assert (caught.value.who, desk.taken) == ("outline", 0)
    assert paddle_path.read_bytes() == before
    desk.save(1, force=True)
    saved = read_racquet(paddle_path)
    assert (saved.readings, saved.placements) == (READINGS, [PIECE])
    assert saved.outline.width_mm.value == pytest.approx(desk.base.outline.width_mm.value, abs=0.05)


def test_a_file_of_another_photo_gives_no_readings(paddle_path: Path, photo: Any) -> None:
    desk = Desk(paddle_path, photo)
    readings = desk.base.readings
    other = calibrated(paddle_path)
    assert other.photo is not None
    write_racquet(
        paddle_path, other.model_copy(update={"photo": other.photo.model_copy(update={"sha256": "0" * 64})})
    )
    with pytest.raises(Stale, match="another photo") as caught:
        desk.save(0)
    assert caught.value.who == "photo"
    desk.save(0, force=True)
    assert read_racquet(paddle_path).readings == readings


def test_a_file_that_is_gone_or_damaged_is_told(paddle_path: Path, photo: Any) -> None:
    desk = Desk(paddle_path, photo)
    paddle_path.write_text("damaged", "utf-8")
    with pytest.raises(Stale) as damaged:
        desk.save(0)
    paddle_path.unlink()
    with pytest.raises(Stale) as gone:
        desk.save(0)
    assert (damaged.value.who, gone.value.who) == ("unreadable", "gone")
    desk.save(0, force=True)
    assert read_racquet(paddle_path).readings == desk.base.readings


def test_opening_the_file_as_it_is_puts_the_drawing_aside(paddle_path: Path, photo: Any) -> None:
    desk = Desk(paddle_path, photo)
    desk.record(0, 1, [marked(desk.edit, 145.0)], 1)
    write_racquet(paddle_path, with_other_outline(read_racquet(paddle_path)))
    desk.start_over()
    aside = paddle_path.with_name(f".{paddle_path.name}.draft.1")
    assert aside.name in desk.told
    assert json.loads(aside.read_text("utf-8"))["steps"][1]["handle_top_mm"] == 145.0
    assert (len(desk.steps), desk.saved) == (1, 0)


def test_the_page_shows_and_keeps_readings_that_came_meanwhile(hand: Hand, paddle_path: Path) -> None:
    hand.at_drawing()
    hand.press("n", "Shift+ArrowRight")
    now = calibrated(paddle_path)
    hand.page.locator("#say", has_text="written into the file are taken in").wait_for(state="attached")
    assert f"{now.figures.balance_mm.value:.1f}" in hand.figure("balance")
    assert hand.page.locator("#state").inner_text() == "Not saved yet, kept as a draft"
    hand.save()
    saved = read_racquet(paddle_path)
    assert saved.readings == READINGS
    assert saved.correction is not None
    assert hand.page.locator("#banner").is_hidden()


def test_each_choice_of_the_page_says_what_it_loses(hand: Hand, paddle_path: Path) -> None:
    hand.at_drawing()
    hand.press("n", "Shift+ArrowRight")
    write_racquet(paddle_path, with_other_outline(read_racquet(paddle_path)))
    hand.page.get_by_role("button", name="Save").click()
    banner = hand.page.locator("#banner")
    banner.get_by_role("button", name="Write over the file's outline").wait_for()
    assert "Its readings stay either way" in banner.inner_text()
    banner.get_by_role("button", name="Open the file, put this drawing aside").click()
    hand.until("window.drawing?.history?.steps.length === 1")
    hand.ready()
    assert "was put aside as .club.racquet.json.draft.1" in banner.inner_text()
    assert paddle_path.with_name(".club.racquet.json.draft.1").exists()
    hand.troubles = [trouble for trouble in hand.troubles if "409" not in trouble]
