"""What a command leaves out of a file with pieces on it is said, in a line, where its notes go."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer import Typer
from typer.testing import CliRunner

from digitise.commands.calibrate import calibrate
from digitise.commands.figures import figures
from digitise.commands.search import search
from digitise.commands.whatif import whatif
from model.fitted import taken_bare, with_pieces
from model.racquet_file import RacquetFile
from model.spelling import parse_piece
from model.storage import read_racquet, write_racquet
from tests.model_samples import paddle_file

BARE = paddle_file()
STUCK = with_pieces(BARE, [parse_piece("3g:76mm@3, mirrored")])


def test_each_racquet_with_pieces_has_its_sentence() -> None:
    said = taken_bare({"one": STUCK, "two": BARE, "three": STUCK})
    assert said == [
        "Note: the pieces that one lists are not counted: it is taken bare.",
        "Note: the pieces that three lists are not counted: it is taken bare.",
    ]


@pytest.mark.parametrize(
    ("command", "words", "name"),
    [
        (figures, [], "club.racquet.json"),
        (search, ["--limit", "twist at least +5%"], "club.racquet.json"),
        (whatif, [], "club"),
    ],
)
@pytest.mark.parametrize("file", [BARE, STUCK])
def test_pieces_that_do_not_count_are_told(
    command: Callable[..., Any], words: list[str], name: str, file: RacquetFile, tmp_path: Path
) -> None:
    path = tmp_path / "club.racquet.json"
    write_racquet(path, file)
    app = Typer()
    app.command()(command)
    told = f"Note: the pieces that {name} lists are not counted: it is taken bare.\n"
    count = 1 if file is STUCK else 0
    plain = CliRunner().invoke(app, [str(path), *words])
    assert plain.exit_code == 0
    assert plain.stdout.count(told) == count
    as_json = CliRunner().invoke(app, [str(path), *words, "--json"])
    json.loads(as_json.stdout)
    assert as_json.stderr.count(told) == count


@pytest.mark.parametrize("file", [BARE, STUCK])
def test_calibrate_says_what_its_readings_are_of(file: RacquetFile, tmp_path: Path) -> None:
    path = tmp_path / "club.racquet.json"
    write_racquet(path, file)
    app = Typer()
    app.command()(calibrate)
    ran = CliRunner().invoke(app, [str(path), "--weight", "234", "--json"])
    told = (
        "the pieces that club.racquet.json lists are not counted, and a reading given here is of the bare "
        "racquet: digitise after takes those with the pieces on"
    )
    assert ran.stderr.count(told) == (1 if file is STUCK else 0)
    assert read_racquet(path).figures.weight_g.value == pytest.approx(234.0, abs=0.1)
