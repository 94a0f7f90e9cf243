"""What a command leaves out of a file with pieces on it is said, in a line, where its notes go."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer import Typer
from typer.testing import CliRunner, Result

from digitise.commands.calibrate import calibrate
from digitise.commands.figures import figures
from digitise.commands.place import place
from digitise.commands.search import search
from digitise.commands.sheet import sheet
from digitise.commands.tradeoff import tradeoff
from digitise.commands.whatif import whatif
from model.fitted import taken_bare, with_pieces
from model.racquet_file import RacquetFile
from model.spelling import parse_piece
from model.storage import read_racquet, write_racquet
from tests.model_samples import paddle_file

BARE = paddle_file()
STUCK = with_pieces(BARE, [parse_piece("3g:76mm@3, mirrored")])


def run(command: Callable[..., Any], *words: object) -> Result:
    app = Typer()
    app.command()(command)
    return CliRunner().invoke(app, [str(word) for word in words])


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
        (place, ["--strip", "2g:50mm@12"], "club.racquet.json"),
        (tradeoff, ["--strip", "2g:50mm@12"], "club.racquet.json"),
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


def test_a_sheet_of_other_pieces_than_the_file_lists_says_so(tmp_path: Path) -> None:
    path = tmp_path / "club.racquet.json"
    write_racquet(path, STUCK)
    for words, count in ((["--strip", "2g:50mm@12"], 1), ([], 0)):
        ran = run(sheet, path, tmp_path / "sheet.svg", *words)
        told = "Note: the pieces that club.racquet.json lists are not counted: it is taken bare.\n"
        assert ran.stdout.count(told) == count


def test_a_second_round_goes_on_top_of_the_first(tmp_path: Path) -> None:
    """3 g and their twin are on; 2 g and their twin more make 10 g, and the file then lists both."""
    path, out = tmp_path / "club.racquet.json", tmp_path / "two.racquet.json"
    write_racquet(
        path, with_pieces(BARE, [parse_piece("3g:76mm@3, mirrored"), parse_piece("1g:20x20mm@x0 y250")])
    )
    typed = ["--strip", "2g:50mm@100mm"]
    for more, added in (([], 4.0), (["--more"], 3 + 3 + 1 + 2 + 2)):
        ran = run(place, path, *typed, "--mirror", *more, "--json")
        assert json.loads(ran.stdout)["change"]["weight_g"]["value"] == pytest.approx(added)
        assert ("it is taken bare" in ran.stderr) is not bool(more)
    run(place, path, *typed, "--mirror", "--more", "--out", out)
    listed = [(one.strip, one.mirror) for one in read_racquet(out).placements]
    assert [mirror for _, mirror in listed] == [True, False, True]
    assert [text[:2] for text, _ in listed] == ["3g", "1g", "2g"]
    alone = run(place, path, "--more")
    assert alone.exit_code == 2


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
