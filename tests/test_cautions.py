"""A racquet file that still needs a hand says so wherever its figures are used."""

from __future__ import annotations

from pathlib import Path

import pypdf
import pytest
from typer import Typer
from typer.testing import CliRunner

from digitise.commands.after import after
from digitise.commands.calibrate import calibrate
from digitise.commands.figures import figures
from digitise.commands.match import match
from digitise.commands.place import place
from digitise.commands.search import search
from digitise.commands.sheet import sheet
from digitise.commands.tradeoff import tradeoff
from digitise.commands.whatif import whatif
from model.cautions import NEEDS_CORRECTION, doubted
from model.racquet_file import RacquetFile
from model.storage import write_racquet
from tests.model_samples import paddle_file

STRIP = ("--strip", "3g:76mm@3, mirrored")
SENTENCE = "is in doubt, and every figure with it: put it right with digitise correct"

app = Typer()
for name, command in (
    ("after", after), ("calibrate", calibrate), ("figures", figures), ("match", match), ("place", place),
    ("search", search), ("sheet", sheet), ("tradeoff", tradeoff), ("whatif", whatif),
):  # fmt: skip
    app.command(name)(command)


def said_by(*words: object) -> tuple[str, str]:
    """Standard output and error in one line each."""
    ran = CliRunner().invoke(app, [str(word) for word in words])
    assert ran.exit_code == 0, ran.exception
    return " ".join(ran.stdout.split()), " ".join(ran.stderr.split())


def doubtful_file() -> RacquetFile:
    return paddle_file().model_copy(update={"flags": [NEEDS_CORRECTION, "odd"]})


@pytest.mark.parametrize(
    "words",
    [
        ("place", *STRIP),
        ("after", *STRIP, "--weight", "234"),
        ("search", "--limit", "twist at least +5%"),
        ("tradeoff",),
        ("whatif", *STRIP),
        ("figures",),
        ("calibrate", "--weight", "228"),
    ],
)
def test_it_is_said_once_and_never_as_a_code(words: tuple[str, ...], tmp_path: Path) -> None:
    doubtful, sound = tmp_path / "bad.racquet.json", tmp_path / "good.racquet.json"
    write_racquet(doubtful, doubtful_file())
    write_racquet(sound, paddle_file())
    out, _ = said_by(words[0], doubtful, *words[1:])
    assert out.count(SENTENCE) == 1
    assert NEEDS_CORRECTION not in out
    assert SENTENCE not in said_by(words[0], sound, *words[1:])[0]
    if words[0] in ("figures", "calibrate"):
        assert "Note: odd" in out  # other flags stay
    out, error = said_by(words[0], doubtful, *words[1:], "--json")
    assert (out.count(SENTENCE), error.count(SENTENCE)) == (0, 1)


def test_match_names_which_of_its_racquets(tmp_path: Path) -> None:
    doubtful, sound = tmp_path / "bad.racquet.json", tmp_path / "good.racquet.json"
    write_racquet(doubtful, doubtful_file())
    write_racquet(sound, paddle_file())
    for words in ((doubtful, sound), (sound, "--to", doubtful)):
        out, _ = said_by("match", *words)
        assert out.count(SENTENCE) == 1
        assert "the outline in bad" in out


def test_the_printed_sheet_says_it(tmp_path: Path) -> None:
    doubtful, out = tmp_path / "bad.racquet.json", tmp_path / "bad.pdf"
    write_racquet(doubtful, doubtful_file())
    assert said_by("sheet", doubtful, out, *STRIP)[0].count(SENTENCE) == 1
    assert SENTENCE in " ".join(pypdf.PdfReader(out).pages[0].extract_text().split())


def test_names_are_those_given() -> None:
    found = doubted({"a": doubtful_file(), "b": paddle_file(), "c": doubtful_file()})
    assert [sentence.split(" is in doubt")[0] for sentence in found] == [
        "much of the outline in a, or a part that much hangs on,",
        "much of the outline in c, or a part that much hangs on,",
    ]
