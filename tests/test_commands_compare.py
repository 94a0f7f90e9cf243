"""Trade-off, match, what-if and their kin as a person runs them."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest
from PIL import Image
from typer import Typer
from typer.testing import CliRunner, Result

from digitise.commands.match import match as match_command
from digitise.commands.place import place
from digitise.commands.search import search as search_command
from digitise.commands.tradeoff import tradeoff
from digitise.commands.whatif import whatif
from model.build import Known, Traced, build_racquet
from model.errors import ModelError, SearchError, StripError
from model.fitted import with_pieces
from model.materials import keep_material, weighed_tape
from model.reading_text import balance_reading, weight_reading
from model.spelling import parse_piece
from model.storage import read_racquet, write_racquet
from tests.model_samples import HANDLE_TOP, paddle, paddle_file

FILE = paddle_file()
LIGHTER = build_racquet(
    paddle(),
    HANDLE_TOP,
    Known("solid", 14.0, 29.0, (weight_reading("224"), balance_reading("236"))),
    Traced(length_sd_mm=0.8, width_sd_mm=0.4),
)

app = Typer()
for command in (place, tradeoff, whatif):
    app.command()(command)
app.command("match")(match_command)
app.command("search")(search_command)


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(word) for word in words])


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    paths = tmp_path / "club.racquet.json", tmp_path / "other.racquet.json"
    write_racquet(paths[0], FILE)
    write_racquet(paths[1], LIGHTER)
    return paths


def test_match_without_a_common_target_says_which_can_not_and_why(
    files: tuple[Path, Path], tmp_path: Path
) -> None:
    far = build_racquet(
        paddle(),
        HANDLE_TOP,
        Known("solid", 14.0, 29.0, (weight_reading("228"), balance_reading("262"))),
        Traced(length_sd_mm=0.8, width_sd_mm=0.4),
    )
    write_racquet(tmp_path / "far.racquet.json", far)
    words = ("match", *files, tmp_path / "far.racquet.json", "--no-handle", "--butt", 0)
    result = run(*words)
    said = " ".join(result.stdout.split())
    assert result.exit_code == 3  # as the README says
    assert "far does NOT reach the target" in said
    assert "club reaches the target" in said
    assert re.search(r"Why not: the limits can't be met together, .* 'balance between [0-9.]+ and", said)
    spans = "weight 224 to 228 g, balance 236.1 to 261.1 mm, swing at 50 mm 105.6 to 123.3 kg·cm²"
    assert f"No common target: these racquets ({spans}, twist" in said
    got = json.loads(run(*words, "--json").stdout)
    assert [one["reached"] for one in got["racquets"]].count(False) == 1
    assert got["no_common_target"].startswith("these racquets")
    assert json.loads(run("match", *files, "--json").stdout)["no_common_target"] is None


def test_tradeoff_command(files: tuple[Path, Path], tmp_path: Path) -> None:
    to = ["--csv", tmp_path / "t.csv", "--picture", tmp_path / "t.png"]
    shown = run("tradeoff", files[0], "--strip", "3g:76mm@1, mirrored", *to)
    assert "so you have" in " ".join(shown.stdout.split())
    assert shown.stdout.count("Lead tape is toxic") == 1
    with (tmp_path / "t.csv").open(newline="") as stream:
        rows = list(csv.reader(stream))
    assert rows[0] == ["swing change at 50 mm, kg·cm²", "twist change, kg·cm²", "added, g"]
    assert len(rows) == 26
    with Image.open(tmp_path / "t.png") as picture:
        assert min(picture.size) > 600
    got = json.loads(run("tradeoff", files[0], "--strip", "3g:76mm@1, mirrored", "--json").stdout)
    assert 0 < got["own"]["share"] < 1
    denser = run(
        "tradeoff", files[0], "--strip", "9g:40mm@3, mirrored", "--picture", tmp_path / "t.svg"
    ).stdout
    assert "Best there is of lead in 1 layer" in " ".join(denser.split())
    assert "It lies beyond the curve" in " ".join(denser.split())
    assert "your set-up, of other tape" in (tmp_path / "t.svg").read_text()


def test_tradeoff_says_which_limit_a_set_up_breaks(files: tuple[Path, Path], tmp_path: Path) -> None:
    words = ("tradeoff", files[0], "--strip", "3g:76mm@3, mirrored")
    limits = ("--limit", "added at most 3", "--limit", "swing at most +9")
    said = " ".join(run(*words, *limits, "--picture", tmp_path / "t.svg").stdout.split())
    assert "It breaks the limit 'added at most 3', which the curve keeps: leave it out to compare." in said
    assert "denser" not in said
    assert "your set-up, outside the limits" in (tmp_path / "t.svg").read_text()
    got = json.loads(run(*words, *limits, "--json").stdout)
    assert got["own"]["breaks"] == ["added at most 3"]
    assert max(added_g for _, _, added_g in got["curve"]) <= 3.001
    kept = json.loads(run(*words, "--limit", "added at most 6", "--json").stdout)
    assert kept["own"]["breaks"] == []


def test_tradeoff_says_where_nothing_meets_the_limits_for_a_cost(files: tuple[Path, Path]) -> None:
    words = ("tradeoff", files[0], "--limit", "twist at least +10%", "--strip", "1g:30mm@3")
    said = " ".join(run(*words).stdout.split())
    assert "+0.090 for +0.485; nothing of the curve's tape meets the limits for that cost. It breaks" in said
    own = json.loads(run(*words, "--json").stdout)["own"]
    assert (own["best_gain"], own["share"]) == (None, None)
    asks = ("tradeoff", files[0], "--limit", "swing at least +3", "--cost", "added")
    said = " ".join(run(*asks, "--strip", "2.3g:9mm@12, stand-off 5mm").stdout.split())
    assert "nothing of the curve's tape meets the limits for that cost. It lies beyond the curve" in said


@pytest.mark.parametrize(
    ("command", "one", "other"),
    [
        ("search --limit twist>=+5% FILE", "--out", "--csv"),
        ("tradeoff FILE", "--csv", "--picture"),
        ("whatif --strip 3g:76mm@3 FILE", "--csv", "--picture"),
        ("place --strip 3g:76mm@3 FILE", "--map", "--out"),
    ],
)
def test_nothing_is_written_unless_all_can_be(
    files: tuple[Path, Path], tmp_path: Path, command: str, one: str, other: str
) -> None:
    words = [files[0] if word == "FILE" else word for word in command.split()]
    good, bad = tmp_path / "good.svg", tmp_path / "none" / "bad.svg"
    refused = run(*words, one, good, other, bad)
    assert isinstance(refused.exception, ModelError)
    assert "none/bad.svg can't be written, so nothing was: there is no folder" in str(refused.exception)
    assert not good.exists()
    assert "have one name" in str(run(*words, one, good, other, good).exception)
    assert run(*words, one, good, other, tmp_path / "other.svg").exit_code == 0
    assert good.exists()


@pytest.mark.parametrize("value", ["nan", "inf"])
@pytest.mark.parametrize(
    ("command", "option"),
    [
        ("search --limit twist>=+5% FILE", "--stand-off"),
        ("search --limit twist>=+5% FILE", "--butt"),
        ("search --limit twist>=+5% FILE", "--place-sd"),
        ("tradeoff FILE", "--stand-off"),
        ("tradeoff FILE", "--butt"),
        ("match FILE FILE", "--stand-off"),
        ("match FILE FILE", "--butt"),
        ("whatif --strip 3g:76mm@3 FILE", "--move"),
        ("place --strip 3g:76mm@3 FILE", "--mass-sd"),
        ("place --strip 3g:76mm@3 FILE", "--place-sd"),
    ],
)
def test_what_is_no_number_is_wrong_usage(
    files: tuple[Path, Path], command: str, option: str, value: str
) -> None:
    words = [files[0] if word == "FILE" else word for word in command.split()]
    refused = run(*words, option, value)
    assert refused.exit_code == 2
    assert refused.stdout == ""
    assert f"Invalid value for '{option}'" in usage_error(refused)
    assert usage_error(refused).count(".") <= 1  # one sentence, no warnings of a library


def usage_error(refused: Result) -> str:
    """What is said after the usage, without the box round it."""
    said = " ".join(re.sub("[│╭╮╰╯─]", " ", refused.stderr).split())
    return said[said.index("Error") :]


def test_a_stand_off_too_far_is_wrong_usage(files: tuple[Path, Path]) -> None:
    refused = run("tradeoff", files[0], "--stand-off", 51)
    assert refused.exit_code == 2
    assert "the stand-off must be at most 50 mm, not 51 mm" in usage_error(refused)
    assert run("tradeoff", files[0], "--stand-off", 2).exit_code == 0


def test_match_command(files: tuple[Path, Path]) -> None:
    got = json.loads(run("match", files[1], "--to", files[0], "--json").stdout)
    assert got["racquets"][0]["reached"]
    assert 0 < got["racquets"][0]["chance"] < 1
    assert set(got["racquets"][0]["after_sd"]) == {"weight", "balance", "swing", "twist"}
    shown = run("match", *files).stdout
    assert "reaches the target" in shown
    assert shown.count("  Chance that it is within the target: ") == 2
    assert shown.count("± ") == 8
    assert "taken bare" not in shown
    write_racquet(files[1], with_pieces(read_racquet(files[1]), [parse_piece("3g:76mm@3, mirrored")]))
    name = files[1].name.removesuffix(".racquet.json")
    assert f"the pieces that {name} lists are not counted" in run("match", *files).stdout
    told = "Note: the pieces that other.racquet.json lists are not counted: it is taken bare.\n"
    assert run("match", files[0], "--to", files[1]).stdout.count(told) == 1
    assert isinstance(run("match", files[0]).exception, SearchError)


def test_match_says_where_its_own_tape_is_known(files: tuple[Path, Path], tmp_path: Path) -> None:
    own = tmp_path / "tape.toml"
    keep_material(weighed_tape("mine", "3.05g", "3in", "6mm"), own)
    words = ("match", files[1], "--to", files[0])
    said = run(*words, "--tape", "mine", "--materials", own).stdout
    told = re.search(r"other reaches the target with [\d.]+ g (.*):\n", said)
    assert told is not None
    assert told[1] == f"(to other commands give --materials {own} with it)"
    assert "--materials" not in run(*words).stdout


def test_match_says_whose_swing_axis_it_tells_swing_weights_at(files: tuple[Path, Path]) -> None:
    own = build_racquet(
        paddle(),
        HANDLE_TOP,
        Known("solid", 14.0, 29.0, (weight_reading("224"), balance_reading("236")), swing_axis_mm=100.0),
        Traced(length_sd_mm=0.8, width_sd_mm=0.4),
    )
    write_racquet(files[1], own)
    said = " ".join(run("match", *files).stdout.split())
    assert "the swing axis of other is 100 mm; all are told at 50 mm, the first one's." in said
    said = " ".join(run("match", files[0], "--to", files[1]).stdout.split())
    assert "the swing axis of other.racquet.json is 100 mm; all are told at 50 mm, the first one's." in said
    assert "the swing axis of" not in run("match", *files, "--swing-axis", 100).stdout
    assert "the swing axis of" not in run("match", files[0], "--to", files[0]).stdout
    assert "the swing axis of" not in run("match", *files, "--within", "swing off").stdout


def test_match_ends_with_a_status_of_its_own_where_a_racquet_is_too_heavy(files: tuple[Path, Path]) -> None:
    heavy = run("match", files[0], "--to", files[1])
    assert "does NOT reach the target" in heavy.stdout
    assert "allowed, and adding can't lower it" in " ".join(heavy.stdout.split())
    assert re.search(
        r"swing at 50 mm is 3\.\d+ kg·cm² over the target already", " ".join(heavy.stdout.split())
    )
    assert heavy.exit_code == 3  # as the README says
    assert run("match", files[1], "--to", files[0]).exit_code == 0


def test_whatif_command(files: tuple[Path, Path], tmp_path: Path) -> None:
    to = ["--csv", tmp_path / "w.csv", "--picture", tmp_path / "w.svg"]
    shown = run("whatif", files[0], "--strip", "3g:76mm@3, mirrored", "--move", 40, *to)
    assert "+6.00" in shown.stdout
    svg = (tmp_path / "w.svg").read_text()
    assert "swing weight at 50 mm" in svg
    with (tmp_path / "w.csv").open(newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert {row["swing_axis_mm"] for row in rows} == {"50"}
    change = float(rows[3]["twist_weight_kgcm2_change"])
    assert change == pytest.approx(
        float(rows[3]["twist_weight_kgcm2_after"]) - float(rows[3]["twist_weight_kgcm2_before"]), abs=1e-5
    )
    assert "figures; swing axis 50 mm" in run("whatif", *files).stdout
    assert isinstance(run("whatif", *files, "--strip", "3g:76mm@3", "--tapes").exception, StripError)


def test_whatif_names_tapes_that_are_too_long(files: tuple[Path, Path]) -> None:
    """12 g of cloth are 1.64 m, and the whole edge is less."""
    shown = run("whatif", files[0], "--strip", "12g:200mm@3, mirrored", "--tapes", "--json")
    cases = {row["case"].split(",")[0] for row in json.loads(shown.stdout)["rows"]}
    assert "lead-wide" in cases
    assert "cloth" not in cases
    assert re.search(r"Note: too long to fit there, and left out: .*cloth, 1644 mm", shown.stderr)
    short = run("whatif", files[0], "--strip", "1g:40mm@3", "--tapes")
    assert "left out" not in short.stdout


def test_a_swing_about_the_balance_point_has_no_centre_of_percussion(files: tuple[Path, Path]) -> None:
    balance = FILE.figures.balance_mm.value
    words = ("place", files[0], "--strip", "3g:76mm@12", "--swing-axis")
    shown = run(*words, balance)
    assert shown.exit_code == 0, shown.exception
    said = " ".join(shown.stdout.split())
    assert "There is no centre of percussion" in said
    assert "centre of percussion, axis" not in said
    assert json.loads(run(*words, balance + 1e-6, "--json").stdout)["impact"]["percussion_mm"] is None
    away = json.loads(run(*words, balance - 20, "--json").stdout)["impact"]["percussion_mm"]
    assert away["before"]["value"] > balance
    assert "There is no centre" not in run(*words, 50).stdout
