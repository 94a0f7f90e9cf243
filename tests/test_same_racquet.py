"""Copies of a racquet file, and files of other racquets."""

from __future__ import annotations

from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from digitise.commands.calibrate import calibrate
from model.errors import ModelError
from model.racquet_file import RacquetFile
from model.reading_text import parse_reading
from model.recalibrate import recalibrated
from model.same_racquet import is_same_racquet
from model.storage import read_racquet, write_racquet
from tests.model_samples import paddle_file

TWIST = "twist, threads 900mm, spacing 100mm, 20 swings, 35.3s"


@pytest.mark.parametrize(("kind", "text"), [("bifilar", TWIST), ("length", "418.4")])
def test_a_copy_with_more_readings_is_the_same(kind: str, text: str, traced_paddle: RacquetFile) -> None:
    """Calibrating writes sizes rounded, and a tape measure stretches every point."""
    more = [*traced_paddle.readings, parse_reading(kind, text)]
    copy, _ = recalibrated(traced_paddle, more)
    assert copy.outline != traced_paddle.outline
    assert is_same_racquet(traced_paddle, copy)
    assert is_same_racquet(copy, traced_paddle)


def test_likeness_of_a_calibrated_copy_is_refused(paddle_path: Path, tmp_path: Path) -> None:
    copy, out = tmp_path / "b1.racquet.json", tmp_path / "lk.racquet.json"
    racquet = read_racquet(paddle_path)
    write_racquet(copy, recalibrated(racquet, [*racquet.readings, parse_reading("bifilar", TWIST)])[0])
    app = typer.Typer()
    app.command()(calibrate)
    ran = CliRunner().invoke(app, [str(paddle_path), "--like", str(copy), "--out", str(out)])
    assert isinstance(ran.exception, ModelError)
    assert str(ran.exception).startswith("b1.racquet.json is this racquet itself")
    assert not out.exists()


def test_one_put_right_by_hand_is_the_same_and_its_neighbour_is_not(traced_paddle: RacquetFile) -> None:
    """In one photo the place on the table tells them apart, though racquets of a model are much alike."""
    ring = [list(point) for point in traced_paddle.outline.outer_mm]
    ring[len(ring) // 2][1] += 3.0
    outline = traced_paddle.outline.model_copy(update={"outer_mm": ring, "smooth": None})
    by_hand = traced_paddle.model_copy(update={"outline": outline})
    assert is_same_racquet(traced_paddle, by_hand)
    assert traced_paddle.pose is not None
    x, y = traced_paddle.pose.origin_mm
    beside = traced_paddle.pose.model_copy(update={"origin_mm": [x + 250.0, y]})
    assert not is_same_racquet(traced_paddle, by_hand.model_copy(update={"pose": beside}))


def test_without_a_photo_outline_and_readings_must_both_agree() -> None:
    file = paddle_file()
    assert is_same_racquet(file, file.model_copy())
    assert not is_same_racquet(file, file.model_copy(update={"readings": file.readings[:1]}))
    wider = [[1.001 * x, y] for x, y in file.outline.outer_mm]
    outline = file.outline.model_copy(update={"outer_mm": wider, "smooth": None})
    assert not is_same_racquet(file, file.model_copy(update={"outline": outline}))
