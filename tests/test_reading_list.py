"""Readings come in, are set aside, written anew and dropped."""

from __future__ import annotations

import pytest

from model.errors import ReadingError
from model.reading_list import describe, edited, set_used, with_new, without
from model.reading_text import parse_reading

WEIGHT, BALANCE = parse_reading("weight", "231"), parse_reading("balance", "238")
PENDULUM = parse_reading("pendulum", "pivot 30mm, 20 swings, 20.9s")


def test_a_new_reading_of_the_same_quantity_sets_the_old_one_aside() -> None:
    kept, said = with_new([WEIGHT, BALANCE], [parse_reading("weight", "232.4")])
    assert [(r.kind, r.used) for r in kept] == [("weight", False), ("balance", True), ("weight", True)]
    assert said == ["reading 1, the weight 231g, is kept but no longer used"]
    assert kept[0] == WEIGHT.model_copy(update={"used": False})


def test_the_same_reading_twice_counts_once() -> None:
    kept, said = with_new([WEIGHT, BALANCE], [WEIGHT])
    assert kept == [WEIGHT, BALANCE]
    assert "counts once" in said[0]


def test_beside_counts_both_and_other_pivots_are_other_quantities() -> None:
    other = parse_reading("weight", "232")
    assert with_new([WEIGHT], [other], beside=True)[0] == [WEIGHT, other]
    elsewhere = parse_reading("pendulum", "pivot 50mm, 20 swings, 20.4s")
    assert with_new([PENDULUM], [elsewhere])[0] == [PENDULUM, elsewhere]
    assert with_new([], [WEIGHT, other])[0] == [WEIGHT, other]


def test_a_converted_value_is_told_to_the_digits_that_matter() -> None:
    assert describe(parse_reading("weight", "8.1oz")) == "weight 229.631g"
    assert describe(parse_reading("balance", "9.375in")) == "balance 238.125mm"
    assert describe(WEIGHT) == "weight 231g"


def test_used_edited_dropped() -> None:
    off = set_used([WEIGHT, BALANCE], 2, False)
    assert [r.used for r in off] == [True, False]
    assert set_used(off, 2, True) == [WEIGHT, BALANCE]
    assert edited([WEIGHT, BALANCE], "2: 239.5") == [WEIGHT, parse_reading("balance", "239.5")]
    assert without([WEIGHT, BALANCE, PENDULUM], [1, 3]) == [BALANCE]


@pytest.mark.parametrize("number", [0, 3, -1])
def test_a_reading_that_is_not_there(number: int) -> None:
    with pytest.raises(ReadingError, match=f"no reading {number}: the file has 1 to 2"):
        set_used([WEIGHT, BALANCE], number, True)
    with pytest.raises(ReadingError, match="no reading"):
        without([WEIGHT, BALANCE], [number])


@pytest.mark.parametrize("text", ["238", "two: 238", ": 238"])
def test_an_edit_needs_its_number(text: str) -> None:
    with pytest.raises(ReadingError, match="NUMBER: READING"):
        edited([WEIGHT, BALANCE], text)
