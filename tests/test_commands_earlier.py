"""Tracing onto a racquet file that is there already: what it holds is kept, or it is left alone."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from digitise.commands.earlier import earlier, held, with_earlier
from model.build import Known, build_racquet
from model.errors import ModelError
from model.fitted import with_pieces
from model.racquet_file import CorrectionRecord, RacquetFile
from model.reading_list import set_used, with_new
from model.reading_text import parse_reading
from model.recalibrate import recalibrated
from model.sight_record import CurveRecord
from model.spelling import parse_piece
from model.storage import read_racquet, write_racquet
from tests.model_samples import HANDLE_TOP, paddle, paddle_file
from tests.page_browser import PHOTO

PENDULUM = parse_reading("pendulum", "pivot 30mm, 20 swings, 20.92s")
WEIGHT, BALANCE = parse_reading("weight", "231"), parse_reading("balance", "238")


def known(weight: str, balance: str) -> Known:
    """What is typed with a trace of the sample paddle."""
    readings = parse_reading("weight", weight), parse_reading("balance", balance)
    return Known("solid", 14.0, 29.0, readings)


def calibrated() -> RacquetFile:
    """The sample paddle with a pendulum and one strip."""
    file, _ = recalibrated(paddle_file(), [WEIGHT, BALANCE, PENDULUM], swing_axis_mm=60.0)
    return with_pieces(file, [parse_piece("3g:76mm@3")])


@pytest.fixture
def there(tmp_path: Path) -> Path:
    path = tmp_path / "club.racquet.json"
    write_racquet(path, calibrated())
    return path


def digitise(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "digitise", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)


def test_what_is_not_typed_again_is_held() -> None:
    typed = known("232", "238")
    words = held(calibrated(), typed)
    assert words[:3] == ["weight 231g", "pendulum pivot 30mm, 20 swings, 20.92s", "the swing axis 60 mm"]
    assert len(words) == 4
    assert words[3].startswith("the piece 3g")
    assert held(paddle_file(), typed) == ["weight 228g"]
    assert held(paddle_file(), known("228", "238")) == []


def test_a_newer_reading_is_held_against_the_older_one_typed_again() -> None:
    newer = parse_reading("weight", "231.37, sd 0.02g")
    readings, _ = with_new([WEIGHT, BALANCE], [newer])
    file, _ = recalibrated(paddle_file(), readings)
    aside = "weight 231g, which is set aside"
    assert held(file, known("231", "238")) == [aside, "weight 231.37g"]
    assert held(file, known("231.37, sd 0.02g", "238")) == []
    assert held(file, known("231.37, sd 0.5g", "238")) == [aside, "weight 231.37g ± 0.02"]


def test_of_two_readings_that_count_both_are_held() -> None:
    readings, _ = with_new([WEIGHT, BALANCE], [parse_reading("weight", "231.4")], beside=True)
    file, _ = recalibrated(paddle_file(), readings)
    assert held(file, known("231", "238")) == ["weight 231.4g"]


def test_what_a_hand_set_aside_does_not_count_again_unasked() -> None:
    file, _ = recalibrated(paddle_file(), set_used([WEIGHT, BALANCE], 2, False))
    assert held(file, known("231", "238")) == ["balance 238mm, which is set aside"]


def test_thicknesses_and_an_axis_that_are_not_typed_are_held() -> None:
    file, _ = recalibrated(paddle_file(), swing_axis_mm=80.0)
    typed = known("228", "238")
    assert held(file, replace(typed, swing_axis_mm=80.0)) == []
    assert held(file, replace(typed, swing_axis_mm=50.0)) == []
    bare = replace(typed, face_thickness_mm=None, handle_thickness_mm=None)
    assert held(file, bare) == ["face thickness 14 mm", "handle thickness 29 mm", "the swing axis 80 mm"]
    usual = build_racquet(paddle(), HANDLE_TOP, bare)
    assert held(usual, bare) == []


def test_a_file_is_written_over_only_where_nothing_is_lost(there: Path, tmp_path: Path) -> None:
    typed, nothing = known("231", "238"), Known("solid")
    assert earlier(tmp_path / "new.racquet.json", nothing, False, False) is None
    with pytest.raises(ModelError, match=r"with pendulum .*20\.92s.*; the piece .* --keep .* --anew"):
        earlier(there, typed, False, False)
    assert earlier(there, typed, False, True) is None
    empty = tmp_path / "empty.racquet.json"
    empty.touch()
    assert earlier(empty, nothing, False, False) is None
    assert earlier(there, typed, True, False) == read_racquet(there)
    write_racquet(there, paddle_file())
    typed = known("228", "238")
    assert earlier(there, typed, False, False) is None
    with pytest.raises(ModelError, match="with balance 238mm:"):
        earlier(there, replace(typed, readings=typed.readings[:1]), False, False)


def test_what_is_no_racquet_file_is_not_written_over(there: Path) -> None:
    there.write_text("mine")
    with pytest.raises(ModelError, match="can't be read as a racquet file"):
        earlier(there, Known("solid"), True, False)


def test_what_a_typed_reading_sets_aside_is_not_said_to_be_kept() -> None:
    readings, _ = with_new([WEIGHT, BALANCE], [parse_reading("weight", "231.37, sd 0.02g")])
    file, _ = recalibrated(paddle_file(), [*readings, PENDULUM])
    _, said = with_earlier(known("231", "238"), file)
    kept = [words for words in said if words.startswith("kept from before")]
    assert len(kept) == 1
    assert "pendulum" in kept[0]
    assert any("231.37g, is kept but no longer used" in words for words in said)


def test_what_is_typed_goes_before_what_was_known() -> None:
    heavier = parse_reading("weight", "232")
    both, said = with_earlier(Known("solid", 15.0, None, (heavier,), None), calibrated())
    assert [(r.kind, r.used) for r in both.readings] == [
        ("weight", False),
        ("balance", True),
        ("pendulum", True),
        ("weight", True),
    ]
    assert (both.face_thickness_mm, both.handle_thickness_mm, both.swing_axis_mm) == (15.0, 29.0, 60.0)
    assert said[-1] == "reading 1, the weight 231g, is kept but no longer used"
    with pytest.raises(ModelError, match="of a solid racquet, not a strung"):
        with_earlier(Known("strung"), calibrated())


def test_trace_asks_before_it_gives_readings_up(there: Path) -> None:
    before = there.read_bytes()
    typed = ["--face-thickness", "14", "--handle-thickness", "30", "--weight", "231", "--balance", "238"]
    ran = digitise("trace", PHOTO, *typed, "--out", there)
    assert (ran.returncode, ran.stdout) == (1, "")
    assert "pendulum" in ran.stderr
    assert there.read_bytes() == before
    ran = digitise("trace", PHOTO, *typed, "--out", there, "--keep")
    assert ran.returncode == 0, ran.stderr
    assert "Kept from before: pendulum pivot 30mm, 20 swings, 20.92s" in ran.stdout
    kept = read_racquet(there)
    assert kept.readings == [WEIGHT, BALANCE, PENDULUM]
    assert [one.strip for one in kept.placements] == [one.strip for one in calibrated().placements]
    assert kept.photo is not None
    assert digitise("trace", PHOTO, *typed, "--out", there, "--anew").returncode == 0
    assert read_racquet(there).readings == [WEIGHT, BALANCE]
    assert read_racquet(there).placements == []
    assert digitise("trace", PHOTO, *typed, "--out", there).returncode == 0  # just as before
    ran = digitise("trace", PHOTO, *typed[4:], "--out", there)
    assert ran.returncode == 1
    assert "is there already, with face thickness 14 mm; handle thickness 30 mm: give --keep" in ran.stderr


def test_an_outline_put_right_by_hand_is_given_up_on_purpose_only(there: Path) -> None:
    curve = CurveRecord(points_mm=[[0.0, 0.0], [9.0, 0.0], [0.0, 9.0]], corners=[True, True, True])
    hand = CorrectionRecord(outer=curve, openings=[], touched=[])
    write_racquet(there, paddle_file().model_copy(update={"correction": hand}))
    for keep in (False, True):
        with pytest.raises(ModelError, match="put right by hand"):
            earlier(there, known("228", "238"), keep, False)
    assert earlier(there, known("228", "238"), False, True) is None
