"""Readings and their refusals."""

from __future__ import annotations

import pytest

from model.errors import ReadingError
from model.measured import Measured
from model.readings import Reading, ReadingKind, balance_reading, check_readings, weight_reading


@pytest.mark.parametrize(("text", "sd"), [("231", 0.5), ("231.4", 0.2), ("8.1oz", 0.05 * 28.349523125)])
def test_weight_sd_follows_the_last_digit(text: str, sd: float) -> None:
    assert weight_reading(text).measured.sd == pytest.approx(sd)


@pytest.mark.parametrize(
    ("text", "sd"), [("238", 1.0), ("238.5mm", 1.0), ("9.4in", 0.05 * 25.4), ("24cm", 5.0)]
)
def test_balance_sd_follows_the_last_digit(text: str, sd: float) -> None:
    assert balance_reading(text).measured.sd == pytest.approx(sd)


def test_nothing_weighs_nothing() -> None:
    with pytest.raises(ReadingError, match="more than zero"):
        weight_reading("0")
    with pytest.raises(ReadingError, match="sd"):
        Reading(ReadingKind.WEIGHT, Measured(231.0, 0.0))


@pytest.mark.parametrize(
    ("value", "words"), [("500", "beyond the tip at 410 mm"), ("40", "between 50 and 300 mm")]
)
def test_impossible_balance_is_refused_with_the_bound(value: str, words: str) -> None:
    with pytest.raises(ReadingError, match=words):
        check_readings((balance_reading(value),), 50.0, 300.0, 410.0)


def test_an_unused_reading_is_not_judged() -> None:
    unused = Reading(ReadingKind.BALANCE, Measured(500.0, 1.0), used=False)
    check_readings((unused, balance_reading("240"), weight_reading("900")), 50.0, 300.0, 410.0)
