"""Tracing onto a racquet file that is there already: what it holds is kept, or it is left alone."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from digitise.commands.earlier import earlier, held, with_earlier
from model.build import Known
from model.errors import ModelError
from model.fitted import with_pieces
from model.racquet_file import CorrectionRecord, RacquetFile
from model.reading_text import parse_reading
from model.recalibrate import recalibrated
from model.sight_record import CurveRecord
from model.spelling import parse_piece
from model.storage import read_racquet, write_racquet
from tests.model_samples import paddle_file
from tests.page_browser import PHOTO

PENDULUM = parse_reading("pendulum", "pivot 30mm, 20 swings, 20.92s")
WEIGHT, BALANCE = parse_reading("weight", "231"), parse_reading("balance", "238")


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
    typed = [parse_reading("weight", "232"), BALANCE]
    words = held(calibrated(), typed)
    assert [text.split(" ")[0] for text in words] == ["pendulum", "the"]
    assert "20.92s" in words[0]
    assert "3g" in words[1]
    assert held(paddle_file(), typed) == []


def test_a_file_is_written_over_only_where_nothing_is_lost(there: Path, tmp_path: Path) -> None:
    assert earlier(tmp_path / "new.racquet.json", [], False, False) is None
    with pytest.raises(ModelError, match=r"with pendulum .*20\.92s.*; the piece .* --keep .* --anew"):
        earlier(there, [WEIGHT, BALANCE], False, False)
    assert earlier(there, [WEIGHT, BALANCE], False, True) is None
    empty = tmp_path / "empty.racquet.json"
    empty.touch()
    assert earlier(empty, [], False, False) is None
    assert earlier(there, [WEIGHT, BALANCE], True, False) == read_racquet(there)
    write_racquet(there, paddle_file())
    assert earlier(there, [WEIGHT, BALANCE], False, False) is None
    with pytest.raises(ModelError, match="with balance 238mm:"):
        earlier(there, [WEIGHT], False, False)


def test_what_is_no_racquet_file_is_not_written_over(there: Path) -> None:
    there.write_text("mine")
    with pytest.raises(ModelError, match="can't be read as a racquet file"):
        earlier(there, [], True, False)


def test_what_is_typed_goes_before_what_was_known() -> None:
    heavier = parse_reading("weight", "232")
    known, said = with_earlier(Known("solid", 15.0, None, (heavier,), None), calibrated())
    assert [(r.kind, r.used) for r in known.readings] == [
        ("weight", False),
        ("balance", True),
        ("pendulum", True),
        ("weight", True),
    ]
    assert (known.face_thickness_mm, known.handle_thickness_mm, known.swing_axis_mm) == (15.0, 29.0, 60.0)
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


def test_an_outline_put_right_by_hand_is_given_up_on_purpose_only(there: Path) -> None:
    curve = CurveRecord(points_mm=[[0.0, 0.0], [9.0, 0.0], [0.0, 9.0]], corners=[True, True, True])
    hand = CorrectionRecord(outer=curve, openings=[], touched=[])
    write_racquet(there, paddle_file().model_copy(update={"correction": hand}))
    for keep in (False, True):
        with pytest.raises(ModelError, match="put right by hand"):
            earlier(there, [WEIGHT, BALANCE], keep, False)
    assert earlier(there, [WEIGHT, BALANCE], False, True) is None
