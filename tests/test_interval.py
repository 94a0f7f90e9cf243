"""Intervals of figures where readings err evenly within limits."""

from __future__ import annotations

import numpy as np
import pytest

from model.calibrate import Calibration, calibrate
from model.interval import half_widths
from model.parts import Size, parts_of
from model.priors import prior_for
from model.reading_text import parse_reading
from model.reading_words import spell
from tests.model_samples import HANDLE_TOP, exact, paddle

PARTS = parts_of(paddle(), HANDLE_TOP, prior_for("solid"), Size(exact(14.0), exact(29.0)))
NORMAL_90 = 1.6448536269514722
NEAR = 2e-3  # of a width: what the integral leaves


def found(*texts: tuple[str, str]) -> Calibration:
    return calibrate(PARTS, [parse_reading(kind, text) for kind, text in texts])


def sds(one: Calibration) -> np.ndarray:
    return np.sqrt(np.diag(one.body.cov))


def test_normal_errors_alone_give_the_normal_quantile() -> None:
    one = found(("weight", "228, sd 0.3"), ("balance", "238, sd 1"))
    widths = half_widths(one, 50.0)
    assert widths[:2] == pytest.approx(NORMAL_90 * sds(one)[:2], rel=1e-9)
    assert widths[3] == pytest.approx(NORMAL_90 * sds(one)[3], rel=1e-9)


@pytest.mark.parametrize("chance", [0.5, 0.9, 0.99])
def test_one_reading_within_limits_decides_the_weight(chance: float) -> None:
    """Nearly all of the weight's error is the scale's, which lies evenly within 0.5 g."""
    one = found(("weight", "228, within 0.5g"), ("balance", "238, within 1mm"))
    assert half_widths(one, 50.0, chance)[0] == pytest.approx(0.5 * chance, rel=5 * NEAR)


def test_two_equal_limits_make_a_triangle() -> None:
    """The mean of two readings within ± a: P(|error| > x) = (1 - x/a)²."""
    one = found(*[("weight", text) for text in ("228.1, within 0.4g", "227.9, within 0.4g")])
    assert half_widths(one, 50.0)[0] == pytest.approx(0.4 * (1 - 0.1**0.5), rel=NEAR)


def test_a_mixture_against_draws() -> None:
    """Weight from a reading within limits and a normal one: the error of the estimate, drawn."""
    one = found(("weight", "228, within 0.6g"), ("weight", "228, sd 0.25g"))
    rng = np.random.default_rng(4)
    even, normal = rng.uniform(-0.6, 0.6, 400_000), rng.normal(0, 0.25, 400_000)
    share = 0.25**2 / (0.6**2 / 3 + 0.25**2)
    drawn = np.quantile(np.abs(share * even + (1 - share) * normal), 0.9)
    assert half_widths(one, 50.0)[0] == pytest.approx(drawn, rel=5e-3)


def test_limits_are_kept_as_they_were_written() -> None:
    for kind, text in (
        ("weight", "231g, within 0.5g"),
        ("balance", "238mm, within 1mm"),
        ("pendulum", "pivot 30mm, 20 swings, 20.9s, within 0.05s"),
        ("machine", "swing 118.5 at 50mm, within 0.5"),
        ("component", "butt cap 5g, within 0.3g"),
    ):
        reading = parse_reading(kind, text)
        assert reading.even
        assert parse_reading(kind, spell(reading)) == reading
    assert parse_reading("weight", "231, within 0.5g").sd == pytest.approx(0.5 / 3**0.5)  # type: ignore[union-attr]
    assert not parse_reading("weight", "231, sd 0.5g").even


def test_a_mean_of_timed_runs_is_as_good_as_normal() -> None:
    runs = ("pendulum", "pivot 50mm, 20 swings, 20.4s, 20.5s, within 0.1s")
    (seen,) = (
        row for row in found(("weight", "228"), ("balance", "238"), runs).seen if row.name == "pendulum"
    )
    assert seen.even_sd == 0.0
    single = ("pendulum", "pivot 50mm, 20 swings, 20.45s, within 0.1s")
    (seen,) = (
        row for row in found(("weight", "228"), ("balance", "238"), single).seen if row.name == "pendulum"
    )
    assert seen.even_sd == pytest.approx(0.1 / 3**0.5)
