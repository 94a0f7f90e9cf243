"""After sticking: predictions, pulls, and what known added mass teaches about the racquet."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from typer import Typer
from typer.testing import CliRunner

from digitise.commands.after import after
from digitise.commands.place import place
from model.after import learn
from model.build import Known, Traced, body_of, build_racquet, figures_record
from model.effects import effects_of
from model.errors import ReadingError
from model.fitted import with_pieces
from model.observe import observations
from model.pieces import Piece
from model.racquet_file import RacquetFile
from model.reading_list import edited, with_new
from model.reading_text import balance_reading, parse_reading, weight_reading
from model.reading_words import spell
from model.recalibrate import recalibrated
from model.spelling import parse_piece
from model.storage import read_racquet, write_racquet
from model.tolerance import Tolerance
from tests.model_samples import EXACTLY, STRUNG_TOPS, paddle_file, strung

FILE = paddle_file()
PIECES = [parse_piece("5g:76mm@3, mirrored"), parse_piece("4g:40mm@12")]
EFFECTS = effects_of(FILE, PIECES, axis_mm=50.0, tolerance=EXACTLY)
AFTER = figures_record(EFFECTS.study.after)


def readings(weight: float, swing: float) -> list[object]:
    return [
        parse_reading("weight", f"{weight:.2f}g"),
        parse_reading("machine", f"swing {swing:.3f} at 50mm"),
    ]


def test_predictions_are_those_of_place() -> None:
    learnt = learn(FILE, PIECES, readings(242.0, 120.0))  # type: ignore[arg-type]
    weight, swing = learnt.outcomes
    assert weight.predicted == pytest.approx(AFTER.weight_g.value, rel=1e-4)
    assert swing.predicted == pytest.approx(AFTER.swing_weight_kgcm2.value, rel=1e-3)
    assert swing.predicted_sd == pytest.approx(AFTER.swing_weight_kgcm2.sd, rel=0.15)
    assert weight.pull == pytest.approx(
        (242.0 - weight.predicted) / np.hypot(weight.predicted_sd, weight.measured_sd)
    )


def strung_file() -> RacquetFile:
    """A frame whose throat top is known to 8 mm, so that it shows beside what else is not known."""
    known = Known("strung", 21.0, 28.0, (weight_reading("310"), balance_reading("330")))
    tops = replace(STRUNG_TOPS, throat_top_mm=345.0, throat_top_sd_mm=8.0)
    return build_racquet(strung(), tops, known, Traced())


BY_CLOCK = [parse_piece("30g:76mm@2, mirrored"), parse_piece("20g:60mm@4")]


@pytest.mark.parametrize(
    ("file", "pieces"),
    [
        (FILE, PIECES),
        (FILE, [parse_piece("9g:60mm@150mm from the handle top, mirrored")]),
        (strung_file(), BY_CLOCK),
    ],
    ids=["clock", "handle top", "throat"],
)
@pytest.mark.parametrize("tolerance", [EXACTLY, Tolerance(), Tolerance(8.0, 0.3)])
def test_what_may_have_slipped_is_in_the_prediction(
    file: RacquetFile, pieces: list[Piece], tolerance: Tolerance
) -> None:
    """The other oracle is place, which carries the same tolerance another way."""
    effects = effects_of(file, pieces, axis_mm=50.0, tolerance=tolerance)
    placed = figures_record(effects.study.after)
    read = [
        parse_reading(*text)
        for text in (
            ("weight", "242"),
            ("balance", "245"),
            ("machine", "swing 120 at 50mm"),
            ("machine", "twist 7"),
        )
    ]
    outcomes = learn(file, pieces, read, tolerance).outcomes
    wanted = (placed.weight_g, placed.balance_mm, placed.swing_weight_kgcm2, placed.twist_weight_kgcm2)
    for outcome, figure in zip(outcomes, wanted, strict=True):
        assert outcome.predicted_sd == pytest.approx(figure.sd, rel=0.02), outcome.name


def test_strips_of_one_tape_err_together() -> None:
    """Tape known to 10 %: two strips of 3 and 2 g are 0.5 g uncertain together, not 0.36."""
    strips = [
        replace(parse_piece(text), mass_sd_g=sd)
        for text, sd in (("3g:76mm@3, of lead", 0.3), ("2g:50mm@9, of lead", 0.2))
    ]
    (weight,) = learn(FILE, strips, [parse_reading("weight", "233")]).outcomes
    placed = figures_record(effects_of(FILE, strips, axis_mm=50.0).study.after)
    assert weight.predicted_sd == pytest.approx(np.hypot(0.5, FILE.figures.weight_g.sd), rel=1e-3)
    assert weight.predicted_sd == pytest.approx(placed.weight_g.sd, rel=1e-3)


@pytest.mark.parametrize(
    "text",
    [
        "3g:76mm@3:30, on the face, both faces, stand-off 2mm, mirrored",
        "3g:76mm@-180mm, width 6mm, thickness 0.4mm, 2 layers, of lead",
        "3g:40mm@150mm from the handle top",
        "3g:30mm@throat",
        "20g@perimeter",
        "5g@butt, depth 20mm",
        "2g:30x20mm@x20 y250, back, turned 30",
        "4g:30mm@under the grip at 60mm, 4 strips",
        "4g:30mm@handle at 60mm, radius 17mm",
    ],
)
@pytest.mark.parametrize("sd_g", [0.0, 0.2])
def test_pieces_among_the_readings_can_be_typed_as_they_are_shown(text: str, sd_g: float) -> None:
    piece = replace(parse_piece(text), mass_sd_g=sd_g)
    learnt = learn(FILE, [piece], [parse_reading("weight", "235")], Tolerance(2.0, 0.05))
    (stuck,) = [one for one in learnt.file.readings if one.kind == "component"]
    again = parse_reading("component", spell(stuck))
    assert again.model_dump() == pytest.approx(stuck.model_dump())


def test_a_slipped_strip_is_no_surprise_where_slipping_was_allowed_for() -> None:
    """10 g stuck 6 mm nearer to the tip than said, read on a fine scale of two supports."""
    said, stuck = parse_piece("10g:76mm@120mm"), parse_piece("10g:76mm@114mm")
    there = figures_record(effects_of(FILE, [stuck], axis_mm=50.0, tolerance=EXACTLY).study.after)
    fine = [*FILE.readings, parse_reading("balance", f"{FILE.figures.balance_mm.value:.4f}, sd 0.02")]
    known, _ = recalibrated(FILE, fine)
    reading = [parse_reading("balance", f"{there.balance_mm.value:.4f}, sd 0.02")]
    firm, loose = (learn(known, [said], reading, Tolerance(mm, 0.05)).outcomes[0] for mm in (0.0, 3.0))
    assert abs(firm.pull) > 2.5
    assert abs(loose.pull) < 2.5


def test_measuring_what_was_predicted_narrows_and_moves_nothing() -> None:
    exact = learn(FILE, PIECES, readings(AFTER.weight_g.value, AFTER.swing_weight_kgcm2.value))  # type: ignore[arg-type]
    before, now = exact.before.figures, exact.file.figures
    assert now.swing_weight_kgcm2.sd < before.swing_weight_kgcm2.sd
    assert now.swing_weight_kgcm2.value == pytest.approx(before.swing_weight_kgcm2.value, rel=2e-3)
    assert "is what was predicted" in exact.words[0]


def test_pieces_do_not_count_in_the_bare_racquet() -> None:
    """The pieces alone, without a reading, change no figure."""
    learnt = learn(FILE, PIECES, readings(242.0, 120.0))  # type: ignore[arg-type]
    for name in ("weight_g", "balance_mm", "twist_weight_kgcm2"):
        was, same = getattr(FILE.figures, name), getattr(learnt.before.figures, name)
        assert same.value == pytest.approx(was.value, rel=1e-6)
        assert same.sd == pytest.approx(was.sd, rel=1e-4)


def test_a_heavier_reading_moves_the_bare_racquet_as_far() -> None:
    """A fine machine reading 3 kg cm² over the prediction: the bare swing weight rises by most of that."""
    more = AFTER.swing_weight_kgcm2.value + 3.0
    reading = parse_reading("machine", f"swing {more:.3f} at 50mm, sd 0.05")
    learnt = learn(FILE, PIECES, [reading])
    rise = learnt.file.figures.swing_weight_kgcm2.value - learnt.before.figures.swing_weight_kgcm2.value
    assert rise == pytest.approx(3.0, abs=0.25)
    assert learnt.with_pieces.swing_weight_kgcm2.value == pytest.approx(more, abs=0.1)


def test_a_known_added_mass_weighs_the_racquet_by_its_balance_alone() -> None:
    """How far 20 g at a known place move the balance tells the weight: M = m (y - b') / (b' - b)."""
    unweighed, _ = recalibrated(FILE, [r for r in FILE.readings if r.kind == "balance"])
    tape = parse_piece("20g:40mm@12")
    true = body_of(FILE).values
    b_after = (true[0] * true[1] + 20 * 410) / (true[0] + 20)
    precise = [parse_reading("balance", f"{true[1]:.4f}, sd 0.05")]
    start, _ = recalibrated(unweighed, precise)
    learnt = learn(start, [tape], [parse_reading("balance", f"{b_after:.4f}, sd 0.05")])
    assert learnt.file.figures.weight_g.sd < 0.2 * start.figures.weight_g.sd
    assert learnt.file.figures.weight_g.value == pytest.approx(true[0], rel=0.02)


def test_surprises_are_named() -> None:
    learnt = learn(FILE, PIECES, readings(AFTER.weight_g.value + 15, AFTER.swing_weight_kgcm2.value))  # type: ignore[arg-type]
    assert learnt.words[0].startswith("the weight reading is")
    assert "check the pieces' places and masses" in learnt.words[0]


def test_readings_with_pieces_on_are_kept_apart_from_the_others() -> None:
    on = parse_reading("weight", "242g, with the pieces on")
    assert on.fitted
    assert parse_reading("weight", spell(on)) == on
    kept, said = with_new(FILE.readings, [on])
    assert said == []
    assert all(r.used for r in kept)
    assert edited(kept, f"{len(kept)}: 243g")[-1].fitted


def test_the_file_with_them_recalibrates_to_itself(tmp_path: Path) -> None:
    learnt = learn(FILE, PIECES, readings(242.0, 120.0))  # type: ignore[arg-type]
    path = tmp_path / "club.racquet.json"
    write_racquet(path, learnt.file)
    again, found = recalibrated(read_racquet(path))
    assert body_of(again).values == pytest.approx(body_of(learnt.file).values, rel=1e-9)
    assert len(found.seen) == len(observations(tuple(again.readings), found.view))
    taken_again = learn(again, PIECES, readings(242.0, 120.0))  # type: ignore[arg-type]
    assert len(taken_again.file.readings) == len(learnt.file.readings)


def used(file: RacquetFile) -> list[str]:
    return [one.kind for one in file.readings if one.used and one.kind != "component"]


def test_what_was_read_with_the_same_pieces_on_counts_beside_the_new() -> None:
    first = learn(FILE, PIECES, readings(242.0, 120.0))  # type: ignore[arg-type]
    second = learn(first.file, PIECES, [parse_reading("balance", "243")])
    assert used(second.file) == ["weight", "balance", "weight", "machine", "balance"]
    assert [one.on for one in second.file.readings if one.kind != "component"] == [0, 0, 1, 1, 1]
    was, now = first.file.figures.swing_weight_kgcm2, second.file.figures.swing_weight_kgcm2
    assert now.sd <= was.sd * (1 + 1e-9)
    assert second.before.figures.swing_weight_kgcm2 == was
    both = [*readings(242.0, 120.0), parse_reading("balance", "243")]
    at_once = learn(FILE, PIECES, both)  # type: ignore[arg-type]
    assert body_of(second.file).values == pytest.approx(body_of(at_once.file).values, rel=1e-6)


def test_the_same_quantity_read_again_sets_the_older_one_aside_in_words() -> None:
    first = learn(FILE, PIECES, readings(242.0, 120.0))  # type: ignore[arg-type]
    again = learn(first.file, PIECES, [parse_reading("weight", "242.4")])
    fitted = [(r.value, r.used) for r in again.file.readings if r.kind == "weight" and r.fitted]
    assert fitted == [(242.0, False), (242.4, True)]
    assert "the weight 242g, with the pieces on, is kept but no longer used" in again.words[-1]
    wrong = learn(FILE, PIECES, readings(250.0, 120.0))  # type: ignore[arg-type]
    once_more = learn(wrong.file, PIECES, [parse_reading("weight", "242.4")])
    assert once_more.outcomes == again.outcomes  # nothing is predicted from what is set aside


def test_readings_with_other_pieces_on_count_with_the_pieces_they_had() -> None:
    """14 g were on for the first weight, 5 g for the second: each tells the bare weight."""
    bare, _ = recalibrated(FILE, [parse_reading("weight", "228, sd 2g"), *FILE.readings[1:]])
    first = learn(bare, PIECES, [parse_reading("weight", "242, sd 0.5g")], EXACTLY)
    light = [parse_piece("5g:76mm@12")]
    second = learn(first.file, light, [parse_reading("weight", "233, sd 0.5g")], EXACTLY)
    assert [one.on for one in second.file.readings] == [0, 0, 1, 1, 1, 2, 2]
    assert all(one.used for one in second.file.readings)
    seen = {one.observed: one.predicted for one in second.found.seen if one.name == "weight"}
    assert seen[242.0] - seen[228.0] == pytest.approx(14.0, abs=0.01)
    assert seen[233.0] - seen[228.0] == pytest.approx(5.0, abs=0.01)
    weight = second.file.figures.weight_g
    assert weight.value == pytest.approx(228.0, abs=0.05)
    assert weight.sd == pytest.approx((1 / 2**2 + 2 / 0.5**2) ** -0.5, rel=0.01)
    back = learn(second.file, PIECES, [parse_reading("balance", "243")], EXACTLY)
    assert [one.on for one in back.file.readings if one.kind == "balance"] == [0, 1]
    other = next(one for one in second.file.readings if one.on == 2 and one.kind == "weight")
    assert parse_reading("weight", spell(other)) == other
    assert edited([other], "1: 234g")[0].on == 2


@pytest.mark.parametrize(("pieces", "given"), [([], ["weight"]), (PIECES, [])])
def test_nothing_to_learn_from(pieces: list[object], given: list[str]) -> None:
    with pytest.raises(ReadingError):
        learn(FILE, pieces, [parse_reading(kind, "242g") for kind in given])  # type: ignore[arg-type]


def test_the_command(tmp_path: Path) -> None:
    app = Typer()
    app.command()(after)
    app.command()(place)
    club, out = tmp_path / "club.racquet.json", tmp_path / "after.racquet.json"
    write_racquet(club, with_pieces(FILE, PIECES))
    words = [str(club), "--weight", "242.1", "--balance", "243", "--out", str(out)]
    shown = CliRunner().invoke(app, ["after", *words])
    assert "sds off" in shown.stdout
    assert "bare, now" in shown.stdout
    assert "no longer on" not in shown.output
    other = CliRunner().invoke(app, ["after", *words[:3], "--strip", "10g:76mm@4, mirror"])
    assert "Note: the pieces that club.racquet.json lists are taken as no longer on." in other.output
    got = json.loads(CliRunner().invoke(app, ["after", *words, "--json"]).stdout)
    assert [one["name"] for one in got["outcomes"]] == ["weight", "balance"]
    assert got["bare_after"]["weight_g"]["sd"] <= got["bare_before"]["weight_g"]["sd"]
    assert len(read_racquet(out).placements) == 2
    level = ["--head-reading", "143g, butt 5mm, tip 405mm", "--scale-check", "200g shows 200.2g"]
    more = json.loads(CliRunner().invoke(app, ["after", *words[:3], *level, "--json"]).stdout)
    assert [one["name"] for one in more["outcomes"]] == ["weight", "scale check", "two supports"]
