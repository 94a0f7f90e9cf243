"""The file on the desk: numbered steps, drafts that outlive the program, nothing written over silently."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from digitise.page.answers import told_outcome
from digitise.page.desk import Desk, Stale
from digitise.page.edit import Edit
from digitise.page.session import Session
from digitise.photo import read_photo
from model.storage import read_racquet, write_racquet
from tests.page_browser import PHOTO


@pytest.fixture(scope="session")
def photo() -> Any:
    return read_photo(PHOTO)


def moved(edit: Edit, by_mm: float) -> Edit:
    """The edit with its first point moved up."""
    points = [list(point) for point in edit.outer.points]
    points[0][1] += by_mm
    return edit.model_copy(update={"outer": edit.outer.model_copy(update={"points": points})})


def test_steps_are_numbered_and_kept(paddle_path: Path, photo: Any) -> None:
    desk = Desk(paddle_path, photo)
    first = desk.edit
    one, two = moved(first, 0.5), moved(first, 1.0)
    assert desk.record(0, 1, [one, two], 2) == 1
    assert desk.edit == two
    assert desk.record(1, 3, [], 1) == 2
    assert desk.edit == one
    with pytest.raises(Stale, match="Another window"):
        desk.record(1, 1, [two], 1)
    assert desk.edit == one
    again = Desk(paddle_path, photo)
    assert again.steps == [first, one, two]
    assert again.at == 1


def test_saving_and_what_is_left_behind(paddle_path: Path, photo: Any) -> None:
    desk = Desk(paddle_path, photo)
    desk.record(0, 1, [moved(desk.edit, 1.0)], 1)
    assert desk.draft_path.exists()
    before = read_racquet(paddle_path)
    desk.save(1)
    after = read_racquet(paddle_path)
    assert after.correction is not None
    assert after.outline != before.outline
    assert after.readings == before.readings
    assert after.photo == before.photo
    desk.close()
    assert {path.name for path in paddle_path.parent.iterdir()} == {paddle_path.name}


def test_an_unsaved_draft_stays(paddle_path: Path, photo: Any) -> None:
    desk = Desk(paddle_path, photo)
    desk.record(0, 1, [moved(desk.edit, 1.0)], 1)
    desk.close()
    assert json.loads(desk.draft_path.read_text("utf-8"))["format"] == "racquet-draft"


def test_saving_twice_keeps_the_first_automatic_outline(paddle_path: Path, photo: Any) -> None:
    automatic = read_racquet(paddle_path).outline
    for _ in range(2):
        desk = Desk(paddle_path, photo)
        desk.record(0, len(desk.steps), [moved(desk.edit, 1.0)], len(desk.steps))
        desk.save(1)
        desk.close()
    correction = read_racquet(paddle_path).correction
    assert correction is not None
    assert correction.automatic is not None
    assert correction.automatic.outline == automatic


def test_opening_and_saving_again_changes_nothing_more(paddle_path: Path, photo: Any) -> None:
    """What was saved opens as the same curve, so that a second saving moves no point by a hundredth."""
    desk = Desk(paddle_path, photo)
    desk.record(0, 1, [moved(desk.edit, 1.0)], 1)
    first = desk.save(1)
    desk.close()
    second = Desk(paddle_path, photo).save(0)
    assert second.outline.length_mm.value == pytest.approx(first.outline.length_mm.value, abs=0.01)
    assert second.outline.width_mm.value == pytest.approx(first.outline.width_mm.value, abs=0.01)
    touched = [sum(s.length_mm for s in f.correction.touched) for f in (first, second) if f.correction]
    assert touched[0] == pytest.approx(touched[1], abs=2.0)


def test_what_is_saved_stays_so_when_the_same_steps_are_sent_again(paddle_path: Path, photo: Any) -> None:
    """As when a window that has them all, or only the first of them yet, goes on whatever the desk has."""
    desk = Desk(paddle_path, photo)
    first = desk.edit
    one, two = moved(first, 0.5), moved(first, 1.0)
    desk.record(0, 1, [one], 1)
    desk.save(1)
    desk.record(1, 2, [two], 2)
    desk.record(0, 0, [first, one, two], 1, force=True)
    assert desk.saved == 1
    desk.record(0, 0, [first], 0, force=True)
    assert desk.saved == -1
    desk.record(desk.number, 1, [one], 1)
    assert desk.saved == 1
    desk.record(desk.number, 1, [two], 1)
    assert desk.saved == -1


def test_windows_hear_of_each_other(paddle_path: Path, photo: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    desk = Desk(paddle_path, photo)
    assert not desk.hear("a")
    assert desk.hear("b")
    desk.leave("b")
    assert not desk.hear("a")


def test_the_butts_rim_is_seen_beyond_it_by_its_height(paddle_path: Path, photo: Any) -> None:
    """Half the handle's 30 mm stands above its middle: seen from h, that moves it by its distance over h."""
    desk = Desk(paddle_path, photo)
    sighting = desk.sighting(desk.edit)
    told = told_outcome(sighting, desk.edit)
    sheet = sighting.sheet
    foot = sheet.estimate.camera.centre_mm[:2] - sheet.resting.axis.origin_mm
    depth = sheet.estimate.camera.height_mm - sheet.resting.height_mm
    along = float(foot @ sheet.resting.axis.up)
    assert told["buttShift"] == pytest.approx(-15.0 * along / (depth - 15.0), abs=1.5)
    assert told["butt"] == pytest.approx(0.0, abs=0.05)


def test_of_several_cards_a_moved_one_counts_alone(paddle_path: Path, photo: Any) -> None:
    file = read_racquet(paddle_path)
    assert file.scale is not None
    assert file.scale.cards == 1
    two = file.model_copy(update={"scale": file.scale.model_copy(update={"cards": 2})})
    write_racquet(paddle_path, two)
    session = Session(photo, paddle_path, PHOTO)
    desk = session.desk
    assert desk is not None
    assert session.sheet_answer(desk.edit)["cards"] == 2
    card = desk.edit.model_copy(update={"card_px": file.scale.card.corners_px})
    assert session.sheet_answer(card)["cards"] == 1
    desk.record(0, 1, [card], 1)
    desk.save(1)
    saved = read_racquet(paddle_path).scale
    assert saved is not None
    assert saved.cards == 1
