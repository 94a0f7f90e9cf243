"""``digitise figures`` and ``digitise place`` as a person runs them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner, Result

from digitise.commands.figures import figures
from digitise.commands.place import place
from model.cautions import CAUTIONS
from model.errors import ModelError, RacquetFileError, StripError
from model.storage import write_racquet
from tests.model_samples import paddle_file

NAMES = {
    "weight_g",
    "balance_mm",
    "swing_weight_kgcm2",
    "twist_weight_kgcm2",
    "recoil_weight_kgcm2",
    "spin_weight_kgcm2",
}

app = typer.Typer()
app.command()(figures)
app.command()(place)


@pytest.fixture
def club(tmp_path: Path) -> Path:
    path = tmp_path / "club.racquet.json"
    write_racquet(path, paddle_file())
    return path


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(word) for word in words])


def test_figures_as_a_table(club: Path) -> None:
    shown = run("figures", club).stdout
    for words in (
        "weight",
        "balance",
        "swing weight at 50 mm",
        "twist",
        "recoil",
        "spin",
        "kg·cm²",
        "butt cap",
    ):
        assert words in shown
    assert "overall length" in shown
    assert max(map(len, shown.splitlines())) <= 80


def test_figures_as_json_are_the_files(club: Path) -> None:
    got = json.loads(run("figures", club, "--json").stdout)["figures"]
    want = json.loads(club.read_text())["figures"]
    assert set(got) == NAMES
    for name in NAMES:
        assert got[name] == pytest.approx(want[name], rel=1e-9)


def test_swing_axis_is_moved_by_parallel_axes(club: Path) -> None:
    at_50 = json.loads(run("figures", club, "--json").stdout)["figures"]
    at_100 = json.loads(run("figures", club, "--swing-axis", 100, "--json").stdout)["figures"]
    mass, balance = at_50["weight_g"]["value"], at_50["balance_mm"]["value"]
    want = at_50["swing_weight_kgcm2"]["value"] + mass * ((balance - 100) ** 2 - (balance - 50) ** 2) / 1e5
    assert at_100["swing_weight_kgcm2"]["value"] == pytest.approx(want, rel=1e-9)
    assert at_100["swing_weight_kgcm2"]["axis_mm"] == 100.0
    assert "swing weight at 100 mm" in run("figures", club, "--swing-axis", 100).stdout


def test_place_as_json(club: Path) -> None:
    before_file = club.read_bytes()
    result = run("place", club, "--strip", "3g:76mm@3", "--mirror", "--json")
    got = json.loads(result.stdout)
    assert all(set(got[part]) == NAMES for part in ("before", "after", "change", "per_gram"))
    change = got["change"]
    assert change["weight_g"]["value"] == pytest.approx(6.0)
    assert change["twist_weight_kgcm2"]["value"] == pytest.approx(6 * (95**2 + 14**2 / 12) / 1e5, rel=1e-9)
    swing = 6 * ((270 - 50) ** 2 + 76**2 / 12 + 14**2 / 12) / 1e5
    assert change["swing_weight_kgcm2"]["value"] == pytest.approx(swing, rel=1e-6)
    assert all(result.stderr.count(caution) == 1 for caution in CAUTIONS)
    assert club.read_bytes() == before_file


def test_place_as_a_table_with_cautions_and_notes(club: Path) -> None:
    shown = run("place", club, "--strip", "3g:76mm@3", "--strip", "2g:40mm@12", "--mirror").stdout
    assert all(shown.count(caution) == 1 for caution in CAUTIONS)
    assert "+8.00" in shown
    assert "its own mirror twin" in shown
    table = shown.split("Note")[0]
    assert "…" not in table
    assert max(map(len, table.splitlines())) <= 80


@pytest.mark.parametrize(
    ("words", "kind"),
    [
        (("place", "--strip", "lots"), StripError),
        (("place", "--strip", "3g:76mm@500mm"), StripError),
        (("figures", "--swing-axis", "50000"), ModelError),
        (("figures", "--swing-axis", "nan"), ModelError),
    ],
)
def test_errors_are_the_models_own(club: Path, words: tuple[str, ...], kind: type[Exception]) -> None:
    result = run(words[0], club, *words[1:])
    assert isinstance(result.exception, kind)
    assert result.stdout == ""


def test_missing_file_and_missing_strip(tmp_path: Path, club: Path) -> None:
    assert isinstance(run("figures", tmp_path / "none.json").exception, RacquetFileError)
    assert run("place", club).exit_code == 2
