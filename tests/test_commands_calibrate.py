"""``digitise calibrate`` as a person runs it."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from types import SimpleNamespace
from xml.etree import ElementTree

import pytest
import typer
from typer.testing import CliRunner, Result

from digitise.commands.ask_readings import QUESTIONS, ask_readings
from digitise.commands.calibrate import calibrate
from digitise.how_to_read import HOW, how_picture, how_words
from model.errors import ModelError, ReadingError
from model.reading_clauses import EXAMPLES
from model.reading_text import KINDS
from model.storage import read_racquet, write_racquet
from tests.model_samples import paddle_file

app = typer.Typer()
app.command()(calibrate)
PENDULUM = "pivot 50mm, 20 swings, 20.2s, 20.25s"


@pytest.fixture
def club(tmp_path: Path) -> Path:
    path = tmp_path / "club.racquet.json"
    write_racquet(path, paddle_file())
    return path


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(word) for word in words])


def test_readings_reach_the_file_and_the_figures(club: Path) -> None:
    before = read_racquet(club).figures
    result = run(club, "--weight", "228.4", "--balance", "238", "--pendulum", PENDULUM, "--explain")
    assert result.exit_code == 0, result.exception
    after = read_racquet(club)
    assert [(r.kind, r.used) for r in after.readings] == [
        ("weight", False),
        ("balance", True),
        ("weight", True),
        ("pendulum", True),
    ]
    assert after.figures.weight_g.value == pytest.approx(228.4, abs=0.05)
    assert after.figures.swing_weight_kgcm2.sd < before.swing_weight_kgcm2.sd
    for words in ("reading 1, the weight 228g", "chi-square", "twist machine", "others say", "butt cap"):
        assert words in result.stdout.replace("Reading 1", "reading 1"), words
    assert "…" not in result.stdout


def test_json(club: Path) -> None:
    got = json.loads(run(club, "--pendulum", PENDULUM, "--json").stdout)
    assert got["figures"] == json.loads(club.read_text("utf-8"))["figures"]
    assert sum(part["twist"] for part in got["parts"]) == pytest.approx(1.0)
    assert [pull["name"] for pull in got["consistency"]["pulls"]] == ["weight", "balance", "pendulum"]
    sds = got["next"][0]["sds"]
    assert sds["twist_weight_kgcm2"] <= got["figures"]["twist_weight_kgcm2"]["sd"] * (1 + 1e-9)


def test_a_reading_that_contradicts_is_named(club: Path) -> None:
    result = run(club, "--pendulum", "pivot 50mm, 20 swings, 21.6s")
    assert result.exit_code == 0
    assert "measure it again" in " ".join(result.stdout.split())


def test_an_impossible_reading_changes_nothing(club: Path) -> None:
    before = club.read_bytes()
    result = run(club, "--pendulum", "pivot 50mm, 20 swings, 12s")
    assert isinstance(result.exception, ReadingError)
    assert "make at least" in str(result.exception)
    assert club.read_bytes() == before


def test_list_disable_enable_edit_remove(club: Path) -> None:
    before = club.read_bytes()
    listed = run(club, "--list").stdout
    assert "228g" in listed
    assert "238mm" in listed
    assert club.read_bytes() == before
    run(club, "--disable", 2)
    assert [r.used for r in read_racquet(club).readings] == [True, False]
    assert any("no balance reading" in note for note in read_racquet(club).notes)
    run(club, "--enable", 2, "--edit", "1: 229.5g")
    assert [(r.kind, r.used) for r in read_racquet(club).readings] == [("weight", True), ("balance", True)]
    assert read_racquet(club).figures.weight_g.value == pytest.approx(229.5, abs=0.05)
    run(club, "--remove", 1)
    assert [r.kind for r in read_racquet(club).readings] == ["balance"]


def test_out_leaves_the_file_alone(club: Path, tmp_path: Path) -> None:
    before, other = club.read_bytes(), tmp_path / "other.racquet.json"
    run(club, "--weight", "230", "--out", other, "--swing-axis", "100")
    assert club.read_bytes() == before
    assert read_racquet(other).figures.swing_weight_kgcm2.axis_mm == 100.0


def test_readings_from_a_file_and_like(club: Path, tmp_path: Path) -> None:
    listed, other = tmp_path / "club.toml", tmp_path / "sister.racquet.json"
    write_racquet(other, paddle_file())
    listed.write_text(f'pendulum = "{PENDULUM}"\nmachine = "twist 5.5"\n', "utf-8")
    assert run(other, "--readings", listed).exit_code == 0
    alone = read_racquet(club).figures.twist_weight_kgcm2
    assert run(club, "--like", other).exit_code == 0
    told = read_racquet(club)
    assert told.figures.twist_weight_kgcm2.sd < alone.sd
    assert [record.file_name for record in told.like] == ["sister.racquet.json"]
    again = run(club, "--disable", "1").stdout
    assert "Counted in is what sister.racquet.json told of this model" in " ".join(again.split())
    run(club, "--alone", "--enable", "1")
    assert read_racquet(club).like == []
    assert read_racquet(club).figures.twist_weight_kgcm2.sd == pytest.approx(alone.sd, rel=1e-6)
    assert "is this racquet itself" in str(run(club, "--like", club).exception)


def test_questions_at_a_terminal(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """What cannot be read is asked again; an empty answer goes on."""
    answers = iter(["blue", "228.2", "", "409", *[""] * len(QUESTIONS)])
    monkeypatch.setattr(typer, "prompt", lambda *words, **more: next(answers))
    found = ask_readings(paddle_file())
    assert [(r.kind, getattr(r, "value", None)) for r in found] == [("weight", 228.2), ("length", 409.0)]
    assert "blue" in capsys.readouterr().out


def test_without_readings_a_terminal_is_asked(club: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    answers = iter(["229", *[""] * len(QUESTIONS)])
    monkeypatch.setattr(typer, "prompt", lambda *words, **more: next(answers))
    terminal = SimpleNamespace(isatty=lambda: True)
    module = sys.modules["digitise.commands.calibrate"]  # its name in the package is the command's
    monkeypatch.setattr(module, "sys", SimpleNamespace(stdin=terminal, stdout=terminal))
    assert run(club).exit_code == 0
    assert read_racquet(club).figures.weight_g.value == pytest.approx(229.0, abs=0.05)


def test_without_readings_and_terminal_nothing_is_asked(club: Path) -> None:
    before = read_racquet(club).figures
    result = run(club)
    assert result.exit_code == 0
    assert read_racquet(club).figures.weight_g.value == pytest.approx(before.weight_g.value, rel=1e-6)


def test_every_question_is_a_kind_of_reading() -> None:
    assert {kind for kind, _ in QUESTIONS} <= set(KINDS) & set(EXAMPLES)


@pytest.mark.parametrize("kind", HOW)
def test_pictures_of_how_a_reading_is_taken(kind: str, tmp_path: Path) -> None:
    """Well-formed, and everything drawn lies on the sheet."""
    root = ElementTree.fromstring(how_picture(kind))
    width, height = (float(root.attrib[name]) for name in ("width", "height"))
    space = "{http://www.w3.org/2000/svg}"
    corners = [
        tuple(map(float, pair.split(",")))
        for tag in ("polyline", "polygon")
        for mark in root.iter(space + tag)
        for pair in mark.attrib["points"].split()
    ]
    assert corners
    assert all(0 <= x <= width and 0 <= y <= height for x, y in corners)
    for mark in root.iter(space + "text"):
        long = 8.0 * len(mark.text or "")
        x = float(mark.attrib["x"])
        left = x - long / 2 if mark.attrib["text-anchor"] == "middle" else x
        assert left >= 0, mark.text
        assert left + long <= width, mark.text
    out = tmp_path / "how.svg"
    result = run("--how", kind.replace("_", "-"), "--out", out)
    assert how_words(kind)[0] in result.stdout
    assert out.read_text("utf-8") == how_picture(kind)


@pytest.mark.parametrize("kind", ["pendulum", "bifilar"])
def test_where_air_counts_it_is_told_how_to_take_it_off(kind: str) -> None:
    assert "add 'in air'" in " ".join(how_words(kind))


def test_one_that_was_told_of_another_tells_no_more_by_it(club: Path) -> None:
    heavy, told, bare = (club.with_name(f"{name}.racquet.json") for name in ("heavy", "told", "bare"))
    by_club, by_told = (club.with_name(f"{name}.racquet.json") for name in ("by-club", "by-told"))
    run(club, "--weight", "250, sd 0.1g", "--balance", "250, sd 0.3mm", "--out", heavy)
    run(club, "--like", heavy, "--out", told)
    run(club, "--remove", 2, "--remove", 1, "--out", bare)
    run(bare, "--like", club, "--out", by_club)
    run(bare, "--like", told, "--out", by_told)
    assert read_racquet(told).figures != read_racquet(club).figures
    assert read_racquet(by_club).figures != read_racquet(bare).figures
    assert read_racquet(by_told).figures == read_racquet(by_club).figures


def test_what_is_missing_is_said() -> None:
    assert isinstance(run("--how", "guess").exception, ModelError)
    assert run().exit_code == 2


def test_the_list_as_json_is_one_document(club: Path) -> None:
    before = club.read_bytes()
    shown = json.loads(run(club, "--list", "--json").stdout)
    assert shown == {"readings": json.loads(before)["readings"]}
    assert club.read_bytes() == before
    changed = json.loads(run(club, "--list", "--json", "--disable", 2).stdout)
    assert [one["used"] for one in changed["readings"]] == [True, False]
