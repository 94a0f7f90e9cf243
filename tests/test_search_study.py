"""A search in words: chances, the command, and its errors."""

from __future__ import annotations

import json
import re
from pathlib import Path
from statistics import NormalDist

import numpy as np
import pytest
from typer import Typer
from typer.testing import CliRunner, Result

from digitise.commands.place import place
from digitise.commands.search import search
from model.build import body_of
from model.chance import chance_met
from model.errors import ModelError, SearchError
from model.limits import Limit
from model.materials import all_materials, keep_material, weighed_tape
from model.search_study import Wish, answer, parse_size
from model.shelf import Size
from model.storage import write_racquet
from tests.model_samples import EXACT_SIZE, EXACTLY, paddle_file

FILE = paddle_file()
BODY = body_of(FILE)
ADDED = 6 * np.array([1.0, 0, 270, 95**2, 270**2, 16])
NOWHERE = np.zeros((6, 6))

app = Typer()
app.command()(place)
app.command()(search)


@pytest.fixture
def club(tmp_path: Path) -> Path:
    path = tmp_path / "club.racquet.json"
    write_racquet(path, FILE)
    return path


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(word) for word in words])


def test_the_chance_of_one_limit_in_closed_form() -> None:
    """Twist after is Gaussian with the baseline's sd."""
    after = FILE.figures.twist_weight_kgcm2.value + 6 * (95**2 + 16) / 1e5
    sd = FILE.figures.twist_weight_kgcm2.sd
    limit = Limit("twist", after + 0.5 * sd, None)
    got = chance_met((limit,), BODY, ADDED, NOWHERE, EXACT_SIZE, 50.0)
    assert got.all == pytest.approx(1 - NormalDist().cdf(0.5), abs=0.025)
    assert got.each == (got.all,)


def test_a_limit_on_the_change_does_not_mind_the_baseline() -> None:
    change = 6 * (95**2 + 16) / 1e5
    limits = (Limit("twist", change - 1e-6, None, True), Limit("twist", None, change + 1e-6, True))
    assert chance_met(limits, BODY, ADDED, NOWHERE, EXACT_SIZE, 50.0).all == 1.0
    cov = np.zeros((6, 6))
    cov[3, 3] = (1e5 * 0.01) ** 2
    got = chance_met((Limit("twist", change + 0.01, None, True),), BODY, ADDED, cov, EXACT_SIZE, 50.0)
    assert got.all == pytest.approx(1 - NormalDist().cdf(1.0), abs=0.02)
    assert chance_met((), BODY, ADDED, cov, EXACT_SIZE, 50.0).all == 1.0


def test_more_certainty_costs_more_tape() -> None:
    materials = all_materials()
    plain = answer(FILE, Wish(limits=("twist at least +8%",)), materials, 50.0)
    sure = answer(FILE, Wish(limits=("twist at least +8%",), chance=90.0), materials, 50.0)
    assert plain.chance.all == pytest.approx(0.5, abs=0.03)
    assert sure.chance.all >= 0.9
    assert sure.found.added[0] > plain.found.added[0]


def test_exact_placing_of_known_strips_is_certain() -> None:
    wish = Wish(limits=("twist at least +0.5", "swing at most +4"), sizes=("3g:76mm",))
    got = answer(FILE, wish, all_materials(), 50.0, EXACTLY)
    assert got.chance.all > 0.99


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        (Wish(), "give at least one --limit"),
        (Wish(limits=("twist at least +5%",), most="twist", least="swing"), "only one of --most"),
        (Wish(limits=("twist at least +5%",), most="power"), "'power' is no figure"),
        (Wish(limits=("twist at least 1",)), "nothing stuck on"),
        (
            Wish(targets=("swing -2",)),
            r"nothing stuck on brings .* nearer .*at 50 mm .* kg·cm² is \+2\.00 off",
        ),
        (Wish(limits=("swing at most +3",), most="twist per swing"), "asks for something"),
        (
            Wish(limits=("twist at least +6%",), most="twist per balance"),
            "balance can fall as well as rise: use one of weight, swing, twist, recoil, spin, added",
        ),
        (Wish(limits=("twist at least +5%",), chance=120.0), "between 0 and 100"),
        (Wish(limits=("twist at least +5%",), sizes=("3g",)), "must be MASS:LENGTH"),
        (Wish(limits=("twist at least +5%",), sizes=("3g:900mm",)), "no strip of these sizes fits"),
        (Wish(limits=("twist at least +90%",)), "can't be met"),
        (Wish(limits=("swing at most +3", "twist at least +0.4"), chance=99.9), "out of reach"),
    ],
)
def test_wishes_that_can_not_be_granted(wish: Wish, words: str) -> None:
    with pytest.raises(SearchError, match=words):
        answer(FILE, wish, all_materials(), 50.0)


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        (Wish(limits=("twist at least +5%",), sizes=("3kg:76mm",)), "'3kg:76mm' weighs 3000 g, more than"),
        (Wish(limits=("twist at least +5%",), stand_off_mm=300.0), "at most 50 mm, not 300 mm"),
    ],
)
def test_wishes_out_of_all_proportion(wish: Wish, words: str) -> None:
    with pytest.raises(ModelError, match=words):
        answer(FILE, wish, all_materials(), 50.0)


def test_sizes_are_read() -> None:
    assert parse_size("3g:76mm") == Size(3.0, 76.0)


def test_what_the_search_prints_is_what_place_computes(club: Path) -> None:
    words = ["--limit", "twist at least +8%", "--limit", "swing at most +4"]
    got = json.loads(run("search", club, *words, "--json").stdout)
    strips = [w for piece in got["pieces"] for w in ("--strip", piece["strip"])]
    placed = json.loads(run("place", club, *strips, "--json").stdout)
    assert all(strip.startswith("lead:") for strip in strips[1::2])
    for part in ("after", "change"):
        for name, value in got[part].items():
            assert placed[part][name]["value"] == pytest.approx(value["value"], rel=1e-6)
            assert placed[part][name]["sd"] == pytest.approx(value["sd"], rel=1e-5)
    assert (
        placed["change"]["twist_weight_kgcm2"]["value"] >= 0.08 * got["before"]["twist_weight_kgcm2"]["value"]
    )
    assert got["gap"] < 0.005


def test_the_command_shows_proof_chance_and_cautions(club: Path, tmp_path: Path) -> None:
    out = tmp_path / "stuck.racquet.json"
    cuts = tmp_path / "cuts.csv"
    result = run("search", club, "--limit", "twist at least +8%", "--out", out, "--csv", cuts)
    assert cuts.read_text().startswith("strip,mass_g,mass_sd_g,mirror\n")
    for words in ("Stick on:", "Proof:", "Binds:", "Chance", "weigh a length", "Lead tape is toxic"):
        assert words in result.stdout
    assert json.loads(out.read_text())["placements"][0]["mirror"]
    assert isinstance(run("search", club, "--limit", "twist at least +90%").exception, SearchError)


def test_whole_strips_are_written_and_printed_as_they_are_shown(club: Path, tmp_path: Path) -> None:
    out = tmp_path / "stuck.racquet.json"
    words = ["search", club, "--limit", "twist at least +5%", "--size", "3g:76mm"]
    assert run(*words, "--out", out).exit_code == 0
    (record,) = json.loads(out.read_text())["placements"]
    assert record["mirror"] is True
    (piece,) = json.loads(run(*words, "--json").stdout)["pieces"]
    assert piece["mirror"] is True
    assert piece["strip"] == record["strip"]
    assert piece["strip"].startswith("3g:76mm@")


def test_tape_of_ones_own_is_placed_with_its_materials(club: Path, tmp_path: Path) -> None:
    own = tmp_path / "tape.toml"
    keep_material(weighed_tape("mine", "3g", "75mm", "6mm"), own)
    shown = run("search", club, "--tape", "mine", "--materials", own, "--limit", "twist at least +8%").stdout
    (head, strip, *_) = shown.splitlines()
    assert head == f"Stick on (to other commands give --materials {own} with it):"
    found = re.fullmatch(r'  --strip "(mine:[0-9.]+mm@[0-9.]+mm, mirrored)"', strip)
    assert found is not None
    assert run("place", club, "--strip", found[1], "--materials", own).exit_code == 0
    assert "no material 'mine'" in str(run("place", club, "--strip", found[1]).exception)


def test_swing_weights_are_said_with_their_axis(club: Path) -> None:
    at_100 = BODY.values[2] + BODY.values[0] * (BODY.values[1] - 100) ** 2 / 1e5
    refused = run("search", club, "--limit", "swing at most 60", "--swing-axis", 100).exception
    assert f"swing at 100 mm can be no less than {at_100:.5g} kg·cm²" in str(refused)
    shown = run("search", club, "--target", f"swing {at_100 + 2}", "--swing-axis", 100).stdout
    assert f"Target: swing at 100 mm {at_100 + 2:.2f} kg·cm²" in shown


def test_the_pieces_weights_are_said(club: Path) -> None:
    shown = run("search", club, "--limit", "twist at least +0.7", "--size", "3g:76mm", "--size", "1g:25mm")
    assert re.search(r"Added: 8\.00 g in all: 2 × 3\.000 g and 2 × 1\.000 g\.", shown.stdout)


def test_proof_and_prices_are_in_words_that_fit(club: Path) -> None:
    cut = " ".join(run("search", club, "--limit", "twist at least +8%").stdout.split())
    assert re.search(r"Binds: twist at least \+8%: each 0\.1 kg·cm² of leeway would save [0-9.]+ g\.", cut)
    assert "in however many strips, is better by more than 0." in cut
    whole = " ".join(run("search", club, "--limit", "twist at least +8%", "--size", "2g:50mm").stdout.split())
    assert (
        "Proof: no other choice of these strips, at places 5 mm apart, is better by more than 0.01%." in whole
    )


def test_the_command_says_how_far_each_target_is_off(club: Path) -> None:
    low = " ".join(run("search", club, "--target", "twist +8%", "--target", "swing -9%").stdout.split())
    assert re.search(
        r"Target: swing at 50 mm [0-9.]+ kg·cm²; .*: it was [0-9.]+, and adding can't lower it\.", low
    )
    near = " ".join(run("search", club, "--target", "twist +8%").stdout.split())
    assert re.search(r"Of all that comes as near this is the lightest: nothing saves more than 0\.\d+%", near)
    assert re.search(r"Target: twist ([0-9.]+) kg·cm²; it comes to \1, [+-]0\.00\.", near)


def test_a_chance_without_a_limit_is_refused(club: Path) -> None:
    for goal in (("--target", "twist +8%"), ("--most", "twist")):
        ran = run("search", club, *goal, "--chance", 90)
        assert ran.exit_code == 2
        assert "chance that limits are met, and there is none" in " ".join(
            word for word in ran.stderr.replace("│", " ").split()
        )


def test_an_unsure_tape_is_told_with_targets_too(club: Path) -> None:
    """Lead tape's weight per length is known to a fifth or so; a strip of stated mass is as weighed."""
    wishes = (("--target", "twist +8%"), ("--limit", "twist at least +8%"))
    for wish in wishes:
        assert "weight per length is not sure" in " ".join(run("search", club, *wish).stdout.split())
        whole = run("search", club, *wish, "--size", "2g:50mm").stdout
        assert "weight per length is not sure" not in " ".join(whole.split())
