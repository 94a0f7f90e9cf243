"""How a refused photo leads on to the page, and what ``correct`` makes of readings."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from typer import Typer
from typer.testing import CliRunner

from digitise.commands.correct import correct
from digitise.commands.trace import _refusing
from digitise.refusal import Reason, Refused
from model.errors import ModelError

HINT = "mark them by hand: digitise correct photo.jpg."


@pytest.mark.parametrize("reason", list(Reason))
def test_what_a_hand_can_mend_says_how_to_go_on(reason: Reason) -> None:
    with pytest.raises(Refused) as caught, _refusing(Path("photo.jpg"), several=False, by_hand=True):
        raise Refused(reason, "Something is wrong.")
    assert caught.value.reason == reason
    mended = reason in (Reason.NO_CARD, Reason.NO_RACQUET)
    assert str(caught.value).endswith(HINT) == mended
    assert (str(caught.value) == "Something is wrong.") == (not mended)


def test_one_of_several_photos_is_named_and_other_references_are_not_marked() -> None:
    with pytest.raises(Refused) as caught, _refusing(Path("b.jpg"), several=True, by_hand=False):
        raise Refused(Reason.NO_CARD, "No card was found.")
    assert str(caught.value) == "b.jpg: No card was found."


def digitise(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "digitise", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)


def test_trace_says_it_in_one_line(tmp_path: Path) -> None:
    table = np.random.default_rng(1).normal(120, 3, (900, 1200, 3))
    path = tmp_path / "bare table.jpg"
    Image.fromarray(np.clip(table, 0, 255).astype(np.uint8)).save(path, quality=92)
    ran = digitise("trace", path)
    assert ran.returncode == 1
    assert len(ran.stderr.strip().splitlines()) == 1
    assert ran.stderr.strip().endswith(f"digitise correct '{path}'.")
    assert sorted(tmp_path.iterdir()) == [path]


def test_readings_of_a_file_belong_to_calibrate(paddle_path: Path) -> None:
    before = paddle_path.read_bytes()
    ran = digitise("correct", paddle_path, "--pendulum", "pivot 30mm, 20 swings, 20.92s", "--no-browser")
    assert ran.returncode == 1
    assert "digitise calibrate" in ran.stderr
    assert paddle_path.read_bytes() == before


@pytest.mark.parametrize("port", ["70000", "-1"])
def test_a_port_that_no_machine_has_is_a_usage_error(port: str, paddle_path: Path) -> None:
    ran = digitise("correct", paddle_path, "--port", port, "--no-browser")
    assert (ran.returncode, ran.stdout) == (2, "")
    assert "--port" in ran.stderr


def test_where_nothing_could_be_saved_the_page_does_not_open(
    paddle_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever runs the tests may write everywhere, so the folder only says that it may not be written to."""

    def serve(*_: object) -> None:
        raise AssertionError("the page was opened")

    folder, true = paddle_path.parent, os.access
    monkeypatch.setattr("digitise.page.server.serve", serve)
    monkeypatch.setattr(
        os, "access", lambda path, mode: not (Path(path) == folder and mode & os.W_OK) and true(path, mode)
    )
    app = Typer()
    app.command()(correct)
    ran = CliRunner().invoke(app, [str(paddle_path), "--no-browser"])
    assert isinstance(ran.exception, ModelError)
    assert f"the folder {folder} may not be written to" in str(ran.exception)
    assert list(folder.iterdir()) == [paddle_path]
