"""Impossible readings are refused with the bound they break."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from model.bounds import Limits, check_readings, limits_of
from model.errors import ReadingError
from model.outline import Outline
from model.parts import Size, parts_of
from model.priors import prior_for
from model.reading_text import balance_reading, parse_reading, weight_reading
from model.readings import Reading
from model.swinging import pendulum_period_s
from tests.model_samples import HANDLE_TOP, exact, paddle, perforated

LIMITS = Limits(50.0, 300.0, 410.0, 100.0, 15.0, 200.0, 200.0)
SWINGS = "pivot 30mm, 20 swings, 20.42s"
BOTH = (weight_reading("231"), balance_reading("238"))


def refused(words: str, *readings: Reading) -> None:
    with pytest.raises(ReadingError, match=words):
        check_readings(readings, LIMITS)


@pytest.mark.parametrize(
    ("value", "words"), [("500", "beyond the tip at 410 mm"), ("40", "between 50 and 300 mm")]
)
def test_impossible_balance(value: str, words: str) -> None:
    refused(words, balance_reading(value))


@pytest.mark.parametrize(
    ("typed", "ending"),
    [
        ("23.8", "measure it again, or write 23.8cm if that is meant"),
        ("9.4", "measure it again, or write 9.4cm or 9.4in if that is meant"),
        ("45", "measure it again"),
    ],
)
def test_a_balance_without_its_unit(typed: str, ending: str) -> None:
    """The handle's own centre is at 130 mm / 2: no racquet with a face above it balances there."""
    size = Size(exact(14.0), exact(30.0))
    limits = limits_of(paddle(), parts_of(paddle(), HANDLE_TOP, prior_for("solid"), size), 30.0)
    with pytest.raises(ReadingError, match=f"the balance reading {typed} mm .* between 65 and 2.. mm") as why:
        check_readings([balance_reading(typed)], limits)
    assert str(why.value).endswith(ending)


@pytest.mark.parametrize(("construction", "outline"), [("solid", paddle()), ("perforated", perforated())])
def test_a_racquet_with_the_heaviest_handle_there_may_be_is_not_refused(
    construction: str, outline: Outline
) -> None:
    """Handle and butt 5 sds too heavy and all else 5 sds too light: no racquet that is sold."""
    prior = prior_for(construction)
    parts = parts_of(outline, HANDLE_TOP, prior, Size(exact(14.0), exact(30.0)))
    low = np.array([name in ("handle", "butt_cap") for name in parts.names])
    sds = np.array([next(p.log_sd for p in prior.parts if p.name == name) for name in parts.names])
    mass = np.exp(parts.log_mass + np.where(low, 5.0, -5.0) * sds)
    balance = float(mass @ parts.unit[:, 1] / mass.sum())
    assert balance < 160
    check_readings([balance_reading(f"{balance:.1f}")], limits_of(outline, parts, 30.0))


def test_the_balance_is_judged_before_what_hangs_on_it() -> None:
    refused("^the balance reading 604", BOTH[0], parse_reading("pendulum", SWINGS), balance_reading("604"))


def test_a_weight_in_another_unit() -> None:
    """A third to three times the usual weight is let through; 8.1 for 8.1 oz is not."""
    limits = replace(LIMITS, usual_g=240.0)
    for kind, text in (
        ("weight", "8.1"),
        ("weight", "23100"),
        ("published", "weight 8.1"),
        ("two_scales", "0mm 3g, 400mm 5g"),
    ):
        with pytest.raises(ReadingError, match="between 80 and 720 g: check its unit"):
            check_readings([parse_reading(kind, text)], limits)
    check_readings([weight_reading("85"), weight_reading("700")], limits)
    size = Size(exact(14.0), exact(30.0))
    parts = parts_of(paddle(), HANDLE_TOP, prior_for("solid"), size)
    assert limits_of(paddle(), parts, 30.0).usual_g == pytest.approx(np.exp(parts.log_mass).sum())


def test_balance_from_scales() -> None:
    refused(
        "two supports.* between", BOTH[0], parse_reading("two_supports", "block 0mm, scale 400mm, reads 200g")
    )
    refused("two scales", parse_reading("two_scales", "0mm 10g, 400mm 220g"))


def test_a_pendulum_below_a_point_mass() -> None:
    """The bound is M d²: 231 g at 208 mm is 99.9 kg cm²."""
    quick = 0.97 * pendulum_period_s(231 * 208**2 / 1e5, 231, 208)
    assert quick == pytest.approx(0.97 * 2 * math.pi * math.sqrt(208 / 9806.65))
    bad = parse_reading("pendulum", f"pivot 30mm, 50 swings, {50 * quick:.2f}s, amplitude 0°")
    refused("make at least 100 there", *BOTH, bad)
    fine = parse_reading("pendulum", f"pivot 30mm, 50 swings, {50 * 1.1 * quick:.2f}s, amplitude 0°")
    check_readings((*BOTH, fine), LIMITS)
    refused("at most", *BOTH, parse_reading("pendulum", "pivot 30mm, 10 swings, 20s"))


def test_a_pivot_off_the_racquet_or_at_the_balance_point() -> None:
    refused("nowhere near", *BOTH, parse_reading("pendulum", "pivot 3m, 10 swings, 9s"))
    refused("too near the balance point", *BOTH, parse_reading("pendulum", "pivot 235mm, 10 swings, 9s"))


def test_a_swing_weight_below_a_point_mass() -> None:
    """M d² at 50 mm is 231 · 188² / 1e5 = 81.6."""
    refused("is below 81.6", *BOTH, parse_reading("machine", "swing 70 at 50mm"))
    check_readings((*BOTH, parse_reading("machine", "swing 80 at 50mm")), LIMITS)  # balance is good to 1 mm


@pytest.mark.parametrize(
    "reading",
    [
        parse_reading("machine", "twist 62"),
        parse_reading("machine", "recoil 1100"),
        parse_reading("machine", "swing 11500 at 50mm"),
        parse_reading("published", "spin 1200"),
        parse_reading("bifilar", "twist, threads 900mm, spacing 300mm, 20 swings, 60s"),
    ],
)
def test_inertias_no_racquet_of_this_size_has(reading: Reading) -> None:
    refused("at most", *BOTH, reading)


def test_an_unused_reading_is_not_judged() -> None:
    unused = balance_reading("500, not used")
    check_readings((unused, balance_reading("240"), weight_reading("900")), LIMITS)


def test_a_twist_weight_below_the_slenderest_part() -> None:
    """Half of 231 g · 200 mm² is 0.231 kg cm²."""
    refused("at least 0.231", *BOTH, parse_reading("machine", "twist 0.2"))
    check_readings((*BOTH, parse_reading("machine", "twist 0.25")), LIMITS)


@pytest.mark.parametrize(("kind", "text"), [("length", "3mm"), ("length", "700mm"), ("width", "2m")])
def test_a_tape_measure_of_another_racquet(kind: str, text: str) -> None:
    refused("nowhere near the outline", parse_reading(kind, text))


def test_limits_of_a_racquet() -> None:
    parts = parts_of(paddle(), HANDLE_TOP, prior_for("solid"), Size(exact(14.0), exact(29.0)))
    limits = limits_of(paddle(), parts, 29.0)
    assert limits.lowest_mm == pytest.approx(130 / 2)
    assert 270 < limits.highest_mm < 290
    assert (limits.tip_mm, limits.width_mm, limits.half_width_mm) == (410.0, 190.0, 95.0)
    stack = next(p.stack.value for p in prior_for("solid").parts if p.name == "handle")
    assert limits.least_twist_mm2 == pytest.approx(34**2 / 12 + stack * 29**2 / 12)
