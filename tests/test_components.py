"""Pieces of known mass and tape that is on the racquet or not part of it."""

from __future__ import annotations

import numpy as np
import pytest

from model.build import Known, build_racquet
from model.components import with_components
from model.errors import ReadingError
from model.parts import Size, parts_of
from model.priors import prior_for
from model.racquet_file import RacquetFile
from model.reading_list import with_new
from model.reading_text import balance_reading, parse_reading, weight_reading
from model.reading_words import spell
from model.readings import Reading
from model.recalibrate import recalibrated
from tests.model_samples import HANDLE_TOP, exact, paddle

SIZE = Size(exact(14.0), exact(29.0), 0.01, 0.02)
BOTH = (weight_reading("228"), balance_reading("238"))


def built(*more: Reading) -> RacquetFile:
    return build_racquet(paddle(), HANDLE_TOP, Known("solid", 14.0, 29.0, (*BOTH, *more)))


def masses(file: RacquetFile) -> dict[str, tuple[float, float]]:
    return {part.name: (part.mass_g.value, part.mass_g.sd) for part in file.parts}


def test_a_parts_own_weight_is_taken() -> None:
    known = masses(built(parse_reading("component", "butt cap 8g, sd 0.1g")))
    assert known["butt_cap"] == pytest.approx((8.0, 0.1), abs=0.02)
    assert len(known) == 4


def test_a_piece_round_the_handle_becomes_a_part() -> None:
    plain, wrapped = masses(built()), masses(built(parse_reading("component", "overgrip 6g, sd 0.1g")))
    assert wrapped["overgrip"] == pytest.approx((6.0, 0.1), abs=0.02)
    assert wrapped["handle"][0] == pytest.approx(plain["handle"][0] - 6.0, abs=1.0)
    assert sum(mass for mass, _ in wrapped.values()) == pytest.approx(228.0, abs=0.1)


def test_tape_that_does_not_count_is_taken_off_the_figures() -> None:
    """6 g at the widest place, 270 mm up and 95 mm out: weight, balance and twist fall by what it adds."""
    fitted = built(parse_reading("component", "tape 3g:76mm@3, mirror, sd 0.01g")).figures
    without = built(parse_reading("component", "tape 3g:76mm@3, mirror, sd 0.01g, not counted")).figures
    assert fitted.weight_g.value - without.weight_g.value == pytest.approx(6.0, abs=1e-3)
    moment = (
        fitted.weight_g.value * fitted.balance_mm.value - without.weight_g.value * without.balance_mm.value
    )
    assert moment / 6.0 == pytest.approx(270.0, abs=0.1)
    twist = fitted.twist_weight_kgcm2.value - without.twist_weight_kgcm2.value
    assert twist == pytest.approx(6 * (95**2 + 14**2 / 12) / 1e5, rel=1e-3)


def test_tape_that_may_have_slipped_and_grows_with_the_outline() -> None:
    """3 g on each straight side at 270 mm: one slip of 4 mm moves a side's y by 4 and yy by 8 · 270."""
    parts = parts_of(paddle(), HANDLE_TOP, prior_for("solid"), SIZE)
    tape = parse_reading("component", "tape 3g:76mm@3, mirror, place sd 4mm")
    found = with_components(parts, [tape], paddle(), HANDLE_TOP, SIZE)
    modes = dict(zip(found.mode_names, found.modes[:, -1], strict=True))
    for name in ("slip 1 of tape", "slip 2 of tape"):
        assert np.abs(modes[name]) == pytest.approx([0, 2, 0, 4 * 270, 0], rel=1e-6, abs=1e-6)
    y, yy = found.unit[-1, [1, 3]]
    assert modes["scale along"] == pytest.approx([0, 0.01 * y, 0, 0.02 * yy, 0])
    assert modes["scale across"] == pytest.approx([0, 0, 0.04 * found.unit[-1, 2], 0, 0], abs=1e-9)
    assert (found.modes[: len(parts.modes), :-1] == parts.modes).all()
    assert parse_reading("component", spell(tape)) == tape


def test_a_part_that_does_not_count() -> None:
    bare = built(parse_reading("component", "butt cap 5g, sd 0.05g, not counted")).figures
    assert bare.weight_g.value == pytest.approx(223.0, abs=0.2)


def test_pieces_of_one_name_are_told_apart() -> None:
    tape = parse_reading("component", "tape 1g:20mm@12")
    assert {"tape", "tape_2"} <= set(masses(built(tape, tape)))


def test_a_piece_off_the_racquet_is_refused() -> None:
    with pytest.raises(ReadingError, match="lies off the racquet"):
        built(parse_reading("component", "weight 6g from 500mm to 600mm"))


def test_a_tape_measure_rescales_the_outline() -> None:
    """Photo 410 ± 4.1 mm, tape 406 ± 1: the weighted mean; the masses follow the new outline."""
    from model.build import Traced

    known = Known("solid", 14.0, 29.0, (*BOTH, parse_reading("length", "406")))
    file = build_racquet(paddle(), HANDLE_TOP, known, Traced(length_sd_mm=4.1, width_sd_mm=1.0))
    weights = np.array([1 / 4.1**2, 1 / 1.0**2])
    assert file.outline.length_mm.value == pytest.approx(weights @ [410.0, 406.0] / weights.sum(), abs=0.05)
    assert file.outline.length_mm.sd == pytest.approx(weights.sum() ** -0.5, rel=0.02)
    assert np.ptp([y for _, y in file.outline.outer_mm]) == pytest.approx(
        file.outline.length_mm.value, abs=1e-3
    )
    assert file.landmarks.handle_top_mm.value == pytest.approx(130 * file.outline.length_mm.value / 410)
    assert file.traced_size is not None
    assert (file.traced_size.length_mm.value, file.traced_size.length_mm.sd) == (410.0, 4.1)
    assert file.outline.width_mm.value == pytest.approx(190.0, abs=0.1)


@pytest.mark.parametrize("name", ["butt cap", "buttcap", "Butt-Cap", "BUTT_CAP"])
def test_a_part_is_known_with_or_without_spaces(name: str) -> None:
    known = masses(built(parse_reading("component", f"{name} 8g, sd 0.1g")))
    assert known["butt_cap"] == pytest.approx((8.0, 0.1), abs=0.02)
    assert len(known) == 4


@pytest.mark.parametrize("name", ["rim", "head", "fish", "buttcup"])
def test_a_name_that_is_no_part_must_say_where_it_lies(name: str) -> None:
    with pytest.raises(ReadingError) as refused:
        built(parse_reading("component", f"{name} 6g"))
    assert f"{name!r} is no part of such a racquet (face, edge, handle, butt cap)" in str(refused.value)
    assert f"'{name} 6g from 0mm to 150mm'" in str(refused.value)
    placed = masses(built(parse_reading("component", f"{name} 6g from 0mm to 150mm, sd 0.1g")))
    assert placed[name] == pytest.approx((6.0, 0.1), abs=0.02)


def test_a_file_that_holds_what_is_refused_today_can_still_be_put_right() -> None:
    old = built().model_copy(
        update={"readings": [*BOTH, parse_reading("component", "fish 6g")], "notes": ["the photo is dark"]}
    )
    with pytest.raises(ReadingError, match="'fish' is no part"):
        recalibrated(old)
    mended, _ = recalibrated(old, BOTH)
    assert mended.notes == ["the photo is dark"]
    assert mended.figures == built().figures


def test_one_part_by_two_spellings_is_one_quantity() -> None:
    first, second = (parse_reading("component", f"{name} 8g") for name in ("butt cap", "buttcap"))
    kept, said = with_new([first], [second])
    assert [one.used for one in kept] == [False, True]
    assert len(said) == 1
