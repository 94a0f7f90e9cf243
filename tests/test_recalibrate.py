"""Files calibrated again: nothing lost, nothing counted twice."""

from __future__ import annotations

import pytest

from model.build import Known, Traced, build_and_explain, build_racquet
from model.errors import ModelError
from model.like import likeness
from model.racquet_file import LikeRecord, RacquetFile
from model.reading_text import parse_reading
from model.recalibrate import recalibrated, told_by
from tests.model_samples import HANDLE_TOP, STRUNG_TOPS, paddle, paddle_file, strung

PENDULUM = parse_reading("pendulum", "pivot 30mm, 20 swings, 19.1s, sd 0.02s")


def same(a: RacquetFile, b: RacquetFile) -> None:
    for name in ("weight_g", "balance_mm", "swing_weight_kgcm2", "twist_weight_kgcm2"):
        one, other = getattr(a.figures, name), getattr(b.figures, name)
        assert (one.value, one.sd) == pytest.approx((other.value, other.sd), rel=1e-5), name


def test_the_same_readings_give_the_same_file() -> None:
    file = paddle_file()
    again, _ = recalibrated(file)
    same(again, file)
    assert again.outline == file.outline
    assert again.landmarks == file.landmarks


def test_a_reading_taken_back_leaves_no_trace() -> None:
    file = paddle_file()
    more, _ = recalibrated(file, [*file.readings, PENDULUM])
    assert more.figures.swing_weight_kgcm2.sd < 0.8 * file.figures.swing_weight_kgcm2.sd
    unused = PENDULUM.model_copy(update={"used": False})
    same(recalibrated(more, [*file.readings, unused])[0], file)


def test_a_tape_measure_counts_once_however_often() -> None:
    known = Known("solid", 14.0, 29.0, tuple(paddle_file().readings))
    file = build_racquet(paddle(), HANDLE_TOP, known, Traced(length_sd_mm=4.0, width_sd_mm=2.0))
    length = parse_reading("length", "404")
    once, _ = recalibrated(file, [*file.readings, length])
    twice, _ = recalibrated(once)
    same(once, twice)
    assert once.outline.length_mm.value == pytest.approx(twice.outline.length_mm.value, abs=1e-3)
    assert once.traced_size is not None
    back, _ = recalibrated(twice, file.readings)
    same(back, file)
    assert back.traced_size is None
    assert back.outline.length_mm.value == pytest.approx(410.0, abs=1e-3)


def test_other_entries_and_notes_stay() -> None:
    file = paddle_file().model_copy(update={"notes": ["the photo was dark"], "flags": ["odd"]})
    bare, _ = recalibrated(file, [])
    assert bare.notes[0] == "the photo was dark"
    assert any("no weight reading" in note for note in bare.notes)
    again, _ = recalibrated(bare, file.readings)
    assert again.notes == ["the photo was dark"]
    assert again.flags == ["odd"]


def test_a_racquet_of_the_same_model_tells_of_another() -> None:
    """A measured thoroughly: B, of which only weight and balance are known, becomes surer and nearer to A."""
    plain = build_racquet(strung(), STRUNG_TOPS, Known("strung", 22.0, 29.0))
    both = [parse_reading("weight", "318"), parse_reading("balance", "325")]
    machines = [parse_reading("machine", "swing 296 at 100mm"), parse_reading("machine", "twist 11.8")]
    b, _ = recalibrated(plain, both)
    _, found = recalibrated(plain, [*both, *machines])
    told, _ = recalibrated(plain, both, like=[likeness(found, "a.racquet.json")])
    for name in ("swing_weight_kgcm2", "twist_weight_kgcm2"):
        alone, with_a = getattr(b.figures, name), getattr(told.figures, name)
        assert with_a.sd < 0.75 * alone.sd, name
    assert abs(told.figures.twist_weight_kgcm2.value - 11.8) < abs(b.figures.twist_weight_kgcm2.value - 11.8)
    assert told.like[0].file_name == "a.racquet.json"
    same(recalibrated(told)[0], told)


def test_an_unmeasured_racquet_tells_nothing() -> None:
    plain = build_racquet(strung(), STRUNG_TOPS, Known("strung", 22.0, 29.0))
    both = [parse_reading("weight", "318"), parse_reading("balance", "325")]
    _, unread = recalibrated(plain, [])
    same(recalibrated(plain, both, like=[likeness(unread, "a")])[0], recalibrated(plain, both)[0])


def test_two_measured_racquets_tell_more_than_one() -> None:
    plain = build_racquet(strung(), STRUNG_TOPS, Known("strung", 22.0, 29.0))
    both = [parse_reading("weight", "318"), parse_reading("balance", "325")]
    _, found = recalibrated(plain, [*both, parse_reading("machine", "twist 13.5")])
    one = likeness(found, "a")
    once, twice = (recalibrated(plain, both, like=[one] * n)[0].figures for n in (1, 2))
    assert twice.twist_weight_kgcm2.sd < once.twist_weight_kgcm2.sd


def test_a_racquet_tells_only_what_its_own_readings_say() -> None:
    """B tells C the same whether or not the heavy A has told B before: 228 g and 238 mm, a little blurred."""

    def measured(weight: str, balance: str, swing: str, like: tuple[LikeRecord, ...] = ()) -> Known:
        kinds = {"weight": weight, "balance": balance, "machine": f"swing {swing} at 50mm, sd 0.2"}
        readings = tuple(parse_reading(kind, text) for kind, text in kinds.items())
        return Known("solid", 14.0, 29.0, readings, like=like)

    def made(known: Known) -> RacquetFile:
        return build_racquet(paddle(), HANDLE_TOP, known)

    a = told_by(made(measured("250, sd 0.1", "250, sd 0.3", "140")), "a")
    b = measured("228, sd 0.1", "238, sd 0.3", "104")
    told = measured("228, sd 0.1", "238, sd 0.3", "104", like=(a,))
    by_b, by_told_b = (made(Known("solid", 14.0, 29.0, like=(told_by(made(k), "b"),))) for k in (b, told))
    same(by_told_b, by_b)
    assert by_told_b.figures.weight_g.value == pytest.approx(228.0, abs=4.0)
    assert by_told_b.figures.balance_mm.value == pytest.approx(238.0, abs=1.0)
    _, found = build_and_explain(paddle(), HANDLE_TOP, told)
    with pytest.raises(ModelError, match="b has been told by others"):
        likeness(found, "b")
