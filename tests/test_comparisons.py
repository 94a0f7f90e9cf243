"""Trade-off, match and what-if: against the search and hand-worked sums, and as commands."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from typer import Typer
from typer.testing import CliRunner, Result

from digitise.commands.match import match as match_command
from digitise.commands.place import place
from digitise.commands.search import search as search_command
from digitise.commands.tradeoff import tradeoff
from digitise.commands.whatif import whatif
from model.build import Known, Traced, body_of, build_racquet, site_in
from model.columns import Ground, Tape, columns_of
from model.errors import ModelError, SearchError, StripError
from model.figure_rows import figures_before
from model.fitted import with_pieces
from model.laying import lay
from model.limits import Limit
from model.match import WITHIN, Player, common_target, match, nearest_target, parse_within
from model.materials import all_materials
from model.outline import outline_from_rings
from model.pieces import Stuff
from model.placement import added, lay_all
from model.program import Frame, Goal
from model.reading_text import balance_reading, weight_reading
from model.search import Found, search
from model.site import site_of
from model.spelling import parse_piece
from model.storage import read_racquet, write_racquet
from model.tradeoff import distance, front
from model.whatif import case, masses_of, side_by_side, sweep_mass, sweep_material, sweep_place
from model.zones import zone_stretches
from tests.model_samples import HANDLE_TOP, paddle, paddle_file

AXIS = 50.0
FILE = paddle_file()
BODY = body_of(FILE).values
SITE = site_in(FILE)
TAPE = Tape(0.04, 0.0, Stuff(6.35, 0.33, 2))
EDGE = Ground(tuple(zone_stretches(SITE, [], True)))
EVERYWHERE = Ground(EDGE.stretches, True, True, 15.0)
FREE = Frame(BODY, AXIS, (), Goal())
COLUMNS = columns_of(SITE, TAPE, EDGE)
BEFORE = figures_before(BODY, AXIS)
PAIR = parse_piece("3g:76mm@3, mirrored")

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


def test_the_front_rises_and_bends_down() -> None:
    curve = front(FREE, COLUMNS)
    assert curve.cost_change[0] == pytest.approx(0.0, abs=1e-3)
    assert (np.diff(curve.gain_change) > 0).all()
    slopes = np.diff(curve.gain_change) / np.diff(curve.cost_change)
    assert (np.diff(slopes) <= 1e-6).all()


def test_the_front_is_what_the_search_finds() -> None:
    curve = front(FREE, COLUMNS, points=5)
    ceiling = Limit("swing", None, BEFORE["swing"] + float(curve.cost_change[2]))
    best = search(Frame(BODY, AXIS, (ceiling,), Goal("twist", -1.0)), SITE, TAPE, EDGE)
    assert isinstance(best, Found)
    assert best.after["twist"] - BEFORE["twist"] == pytest.approx(float(curve.gain_change[2]), rel=5e-3)


def test_distance_of_a_set_up_on_and_off_the_curve() -> None:
    curve = front(FREE, COLUMNS)
    ceiling = Limit("swing", None, BEFORE["swing"] + 2.0)
    best = search(Frame(BODY, AXIS, (ceiling,), Goal("twist", -1.0)), SITE, TAPE, EDGE)
    assert isinstance(best, Found)
    assert distance(FREE, COLUMNS, curve, best.added).share == pytest.approx(1.0, abs=5e-3)
    at_tip = distance(FREE, COLUMNS, curve, added(lay_all(SITE, [parse_piece("6g:76mm@12")])[0]))
    assert at_tip.share < 0.2
    assert at_tip.least_cost is not None
    assert at_tip.least_cost < 0.2 * at_tip.cost_change
    beyond = distance(FREE, COLUMNS, curve, added(lay_all(SITE, [parse_piece("60g:76mm@3")])[0]))
    assert beyond.share > 1
    assert beyond.least_cost is None


def test_a_front_under_impossible_limits_is_refused() -> None:
    with pytest.raises(SearchError, match="no trade-off"):
        front(Frame(BODY, AXIS, (Limit("twist", 99.0, None),), Goal()), COLUMNS)
    with pytest.raises(SearchError, match="both twist"):
        front(FREE, COLUMNS, "twist", "twist")


def test_a_lighter_racquet_reaches_the_heavier() -> None:
    player = Player("light", body_of(LIGHTER).values, site_in(LIGHTER), TAPE, EVERYWHERE)
    target = {figure: BEFORE[figure] for figure in WITHIN}
    got = match(player, target, WITHIN, AXIS, 4)
    assert got.reached
    laid, _ = lay_all(site_in(LIGHTER), got.found.pieces)
    after = Frame(player.body, AXIS, (), Goal()).values(added(laid))
    for figure, size in WITHIN.items():
        assert abs(after[figure] - target[figure]) <= size + 1e-4


def test_a_heavier_racquet_can_not_and_says_why() -> None:
    target = {figure: figures_before(body_of(LIGHTER).values, AXIS)[figure] for figure in WITHIN}
    got = match(Player("heavy", BODY, SITE, TAPE, EVERYWHERE), target, WITHIN, AXIS, 4)
    assert not got.reached
    assert (
        "weight is 4 g over the target already, more than the 1 allowed, and adding can't lower it"
        in got.why[0]
    )


def test_a_common_target_is_within_reach_of_all() -> None:
    players = [
        Player("a", BODY, SITE, TAPE, EVERYWHERE),
        Player("b", body_of(LIGHTER).values, site_in(LIGHTER), TAPE, EVERYWHERE),
    ]
    target = common_target(players, WITHIN, AXIS)
    for player in players:
        assert match(player, target, WITHIN, AXIS, 4).reached
    assert target["weight"] <= BEFORE["weight"] + 1
    strict = dict.fromkeys(WITHIN, 1e-4)
    heavy = Player("c", BODY + np.array([0, 40.0, 0, 0, 0]), SITE, TAPE, EDGE)
    with pytest.raises(SearchError, match=r"can't all be brought .* --within 'balance off'|leave out"):
        common_target([players[0], heavy], strict, AXIS)


def test_the_nearest_target_is_missed_by_as_few_as_can_be() -> None:
    """Two of 250 g and one of 230 g that takes 5 g: those two are half a tolerance over."""
    five_grams = Ground((), True, False, 5.0)
    bodies = [BODY + np.array([grams - BODY[0], 0, 0, 0, 0]) for grams in (250.0, 230.0, 250.0)]
    players = [Player(f"{i}", body, SITE, TAPE, five_grams) for i, body in enumerate(bodies)]
    with pytest.raises(SearchError, match="weight 230 to 250 g"):
        common_target(players, {"weight": 1.0}, AXIS)
    assert nearest_target(players, {"weight": 1.0}, AXIS) == pytest.approx({"weight": 249.5})


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


@pytest.mark.parametrize("text", ["power 3", "twist lots", "twist -1"])
def test_bad_tolerances(text: str) -> None:
    with pytest.raises(SearchError):
        parse_within([text])
    with pytest.raises(SearchError, match="nothing is left"):
        parse_within([f"{figure} off" for figure in WITHIN])


def test_tolerances_take_the_units_that_are_shown() -> None:
    got = parse_within(["twist 0.2 kg·cm²", "weight 0.1oz", "balance 0.2cm", "swing off"])
    assert got == pytest.approx({"weight": 2.8349523125, "balance": 2.0, "twist": 0.2})
    with pytest.raises(SearchError, match="the unit 'mm' does not fit"):
        parse_within(["twist 2mm"])


def test_a_row_is_the_sum_of_mass_integrals() -> None:
    row = case(FILE, [PAIR], AXIS, "pair")
    assert row.mass_g == 6
    assert row.change[3] == pytest.approx(6 * (95**2 + 14**2 / 12) / 1e5)
    assert row.change[2] == pytest.approx(6 * (220**2 + 76**2 / 12 + 14**2 / 12) / 1e5)


def test_moving_a_pair_along_straight_sides_changes_twist_nowhere() -> None:
    rows = sweep_place(FILE, PAIR, AXIS, 10.0)
    straight = [row for row in rows if row.at is not None and 150 <= row.at <= 270]
    assert len(straight) >= 10
    assert [row.change[3] for row in straight] == pytest.approx([straight[0].change[3]] * len(straight))
    swings = [row.change[2] for row in straight]
    assert swings == sorted(swings, reverse=True)


def test_masses_scale_and_tapes_trade_length_for_density() -> None:
    rows = sweep_mass(FILE, PAIR, AXIS, masses_of("1..3 by 0.5"))
    assert [row.at for row in rows] == [1.0, 1.5, 2.0, 2.5, 3.0]
    assert rows[-1].change[3] == pytest.approx(3 * rows[0].change[3])
    tapes = {row.label.split(",")[0]: row for row in sweep_material(FILE, PAIR, AXIS, all_materials())}
    assert tapes["lead-wide"].at == pytest.approx(3 / 0.041, abs=0.05)  # cut to a tenth of a mm
    # A shorter strip of the same grams has less inertia about its own middle.
    assert tapes["lead-wide"].change[2] < tapes["steel"].change[2]
    with pytest.raises(StripError, match="in g"):
        masses_of("many")
    with pytest.raises(StripError, match="at 400 g weighs 400 g, more than the racquet itself"):
        sweep_mass(FILE, PAIR, AXIS, [1.0, 400.0])
    with pytest.raises(StripError, match="no strip along the edge"):
        sweep_material(FILE, parse_piece("3g@butt"), AXIS, all_materials())


def test_side_by_side() -> None:
    rows = side_by_side({"a": FILE, "b": LIGHTER}, {"a": [PAIR], "b": [PAIR]}, AXIS)
    assert [row.label for row in rows] == ["a", "b"]
    assert rows[0].change[3] == pytest.approx(rows[1].change[3])
    assert rows[0].change[1] != pytest.approx(rows[1].change[1])


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


def test_no_place_is_minus_nothing() -> None:
    """The tip, on a racquet whose edge is no whole number of steps long."""
    rows = sweep_place(FILE, parse_piece("3g:76mm@3"), AXIS, 20.7)
    (at_tip,) = [row for row in rows if row.at is not None and abs(row.at) < 1]
    assert (at_tip.label, f"{at_tip.at:g}") == ("0 mm", "0")
    low = outline_from_rings(FILE.outline.outer_mm - np.array([0.0, 0.3]))
    site = site_of(low, HANDLE_TOP, 14.0, 30.0)
    with pytest.raises(StripError, match=r"which runs from 0 to 130 mm"):
        lay(site, parse_piece("3g:76mm@handle at 2mm"))


def test_match_command(files: tuple[Path, Path]) -> None:
    got = json.loads(run("match", files[1], "--to", files[0], "--json").stdout)
    assert got["racquets"][0]["reached"]
    shown = run("match", *files).stdout
    assert "reaches the target" in shown
    assert "taken bare" not in shown
    write_racquet(files[1], with_pieces(read_racquet(files[1]), [parse_piece("3g:76mm@3, mirrored")]))
    name = files[1].name.removesuffix(".racquet.json")
    assert f"the pieces that {name} lists are not counted" in run("match", *files).stdout
    assert isinstance(run("match", files[0]).exception, SearchError)


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
    assert "the swing axis of" not in run("match", *files, "--swing-axis", 100).stdout
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
