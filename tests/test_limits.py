"""Limits and targets as text, and the figures' rows."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.errors import SearchError
from model.figure_rows import (
    NAMES,
    ONLY_GROWS,
    figure_values,
    loose_row_at_most,
    moment_row,
    row_at_least,
    row_at_most,
    slope,
)
from model.figures import slopes_by_steps
from model.limits import Limit, parse_limit, parse_target

BODY = np.array([230.0, 238.0, 28.0, 6.0, 34.0])
AXIS = 50.0
BEFORE = figure_values(BODY, np.zeros(6), AXIS)
SOME = 8 * np.array([1.0, 20, 300, 90**2, 300**2 + 400, 16])


@pytest.mark.parametrize(
    ("text", "figure", "low", "high", "change"),
    [
        ("twist at least 7", "twist", 7, None, False),
        ("Twist weight >= 7", "twist", 7, None, False),
        ("twist ≥ +0.5", "twist", 0.5, None, True),
        ("swing at most +3%", "swing", None, 0.03 * BEFORE["swing"], True),
        ("swing <= 110%", "swing", None, 1.1 * BEFORE["swing"], False),
        ("balance between 235 and 24cm", "balance", 235, 240, False),
        ("balance 235..240", "balance", 235, 240, False),
        ("balance -1..+2", "balance", -1, 2, True),
        ("balance 236 to 240", "balance", 236, 240, False),
        ("balance from 23.6cm to 24cm", "balance", 236, 240, False),
        ("twist more than +0.3", "twist", 0.3, None, True),
        ("twist over 7", "twist", 7, None, False),
        ("swing not more than +4", "swing", None, 4, True),
        ("swing not less than 100", "swing", 100, None, False),
        ("swing less than 118", "swing", None, 118, False),
        ("added mass at most 0.5oz", "added", None, 14.1747615625, False),
        ("mass <= 12", "added", None, 12, False),
        ("weight <= 240g", "weight", None, 240, False),
        ("twist at least +0.5 kg·cm²", "twist", 0.5, None, True),
        ("twist at least +0.5kgcm2", "twist", 0.5, None, True),
        ("twist at least +0.5 kg·cm2", "twist", 0.5, None, True),
        ("twist at least +0.5 kg cm^2", "twist", 0.5, None, True),
        ("twist at least +0.5kgcm", "twist", 0.5, None, True),
        ("twist at least +500 g·cm²", "twist", 0.5, None, True),
        ("swing between 110 kg·cm² and 115 kg·cm²", "swing", 110, 115, False),
        ("swing 110 kg·cm² to 115kgcm2", "swing", 110, 115, False),
        ("spin 3 g·m²..4 g·m²", "spin", 30, 40, False),
        ("swing at most 1.1e2", "swing", None, 110, False),
        ("swing at most 1.1E2kg⋅cm²", "swing", None, 110, False),
        ("swing between 1.1e2 kg * cm ^ 2 and 1.15e2", "swing", 110, 115, False),
        ("swing 1.1e2..1.15e2 kgcm", "swing", 110, 115, False),
        ("balance 2.36e2mm to 24e1", "balance", 236, 240, False),
        ("twist at least +1e1%", "twist", 0.6, None, True),
        ("weight between 8.2 and 8.4oz", "weight", 8.2 * 28.349523125, 8.4 * 28.349523125, False),
        ("weight 8.2oz to 8.4", "weight", 8.2 * 28.349523125, 8.4 * 28.349523125, False),
        ("balance between +1 and +2%", "balance", 2.38, 4.76, True),
        ("balance +0.01% .. +0.02%", "balance", 0.0238, 0.0476, True),
        ("swing 101 to 103 %", "swing", 1.01 * BEFORE["swing"], 1.03 * BEFORE["swing"], False),
        ("twist from 7000 to 7500 g·cm²", "twist", 7, 7.5, False),
        ("balance between 23.5cm and 240mm", "balance", 235, 240, False),
    ],
)
def test_limits(text: str, figure: str, low: float | None, high: float | None, change: bool) -> None:
    limit = parse_limit(text, BEFORE)
    assert (limit.figure, limit.change) == (figure, change)
    assert limit.low == (None if low is None else pytest.approx(low))
    assert limit.high == (None if high is None else pytest.approx(high))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("speed >= 3", "names no figure"),
        ("twist", "can't be read"),
        ("twist >= lots", "can't be read"),
        ("balance between 240 and 235", "turn the two numbers round"),
        ("balance between 235 and +3", "mixes a change and a value"),
        ("twist >= 7mm", "the unit 'mm' does not fit"),
        ("twist >= 7.1.2", "no number"),
        ("swing <= 1e99", "the swing '1e99' is out of all proportion"),
        ("twist >= 7 kg cm 3", "can't be read"),
        ("twist >= 7 kg·cm²·cm", r"the unit 'kg·cm²·cm' does not fit: twist is in kg·cm²"),
        ("twist >= 7 kg", "the unit 'kg' does not fit: twist is in kg·cm²"),
        ("balance 23.5cm to 240", "the second number has no unit: write 240cm or 240mm"),
        ("twist +1% to +2", r"the second number has no unit: write \+2% or \+2kg·cm²"),
        ("added at most 5%", "5% is a share of nothing: give grams"),
        ("added between 1 and 5%", "5% is a share of nothing"),
        ("twist at least +1e999%", r"\+1e999% is out of all proportion"),
        ("twist at least +1e99%", r"\+1e99% is out of all proportion"),
        ("twist between 1e999% and 1e9999%", "out of all proportion"),
        ("balance >= 235 kg·cm²", "the unit 'kg·cm²' does not fit: balance is in mm"),
    ],
)
def test_bad_limits(text: str, words: str) -> None:
    with pytest.raises(SearchError, match=words):
        parse_limit(text, BEFORE)


def test_targets_and_distances() -> None:
    target = parse_target("twist +10%", BEFORE)
    assert [target.low, target.high] == pytest.approx([6.6, 6.6])
    assert parse_target("swing to 112", BEFORE).low == 112
    assert parse_target("swing 116 kg·cm²", BEFORE).low == 116
    assert parse_target("twist +0.2 kgcm2", BEFORE).low == pytest.approx(BEFORE["twist"] + 0.2)
    with pytest.raises(SearchError, match="can't be read"):
        parse_target("swing at most 112", BEFORE)
    with pytest.raises(SearchError, match="1e999% is out of all proportion"):
        parse_target("twist 1e999%", BEFORE)
    with pytest.raises(SearchError, match=r"\+10% is a share of nothing"):
        parse_target("added +10%", BEFORE)
    limit = Limit("balance", 235, 240)
    assert [limit.missed_by(v) for v in (230, 237, 241)] == [5, 0, 1]
    assert limit.describe() == "balance between 235 and 240 mm"


@settings(deadline=None)
@given(grams=st.floats(0, 300), y=st.floats(-20, 420), x=st.floats(-100, 100), z=st.floats(-20, 20))
def test_what_only_grows_never_falls(grams: float, y: float, x: float, z: float) -> None:
    after = figure_values(BODY, grams * np.array([1.0, x, y, x * x, y * y, z * z]), AXIS)
    assert all(after[figure] >= BEFORE[figure] - 1e-9 for figure in ONLY_GROWS)
    assert set(NAMES) - set(ONLY_GROWS) == {"balance"}
    assert after["balance"] - BEFORE["balance"] == pytest.approx(grams * (y - 238) / (230 + grams), abs=1e-9)


@pytest.mark.parametrize("figure", NAMES)
def test_slopes_are_the_derivatives(figure: str) -> None:
    def value(added: np.ndarray) -> np.ndarray:
        return np.array([figure_values(BODY, added, AXIS)[figure]])

    want = slopes_by_steps(value, SOME)[0]
    assert slope(figure, BODY, SOME, AXIS) == pytest.approx(want, rel=1e-5, abs=1e-9)


@pytest.mark.parametrize("figure", ["weight", "balance", "swing", "twist", "added"])
@settings(deadline=None)
@given(grams=st.floats(0, 30), y=st.floats(-20, 420), x=st.floats(0, 100))
def test_straight_rows_say_what_the_limit_says(figure: str, grams: float, y: float, x: float) -> None:
    added = grams * np.array([1.0, 0, y, x * x, y * y, 16])
    value, bound = figure_values(BODY, added, AXIS)[figure], BEFORE[figure] + 0.01
    g, h = row_at_most(figure, bound, BODY, AXIS, SOME)
    if abs(value - bound) > 1e-6:
        assert (g @ added <= h) == (value <= bound)
        g, h = row_at_least(figure, bound, BODY, AXIS, SOME)
        assert (g @ added <= h) == (value >= bound)


@pytest.mark.parametrize("figure", ["recoil", "spin"])
@settings(deadline=None)
@given(grams=st.floats(0, 30), y=st.floats(0, 420), x=st.floats(0, 100))
def test_curved_rows_are_on_the_safe_side(figure: str, grams: float, y: float, x: float) -> None:
    added = grams * np.array([1.0, 0, y, x * x, y * y, 16])
    value = figure_values(BODY, added, AXIS)[figure]
    g, h = row_at_least(figure, value, BODY, AXIS, SOME)
    assert g @ added <= h + 1e-6  # a tangent never cuts off what meets a lower limit
    moment = float(moment_row(BODY) @ added)
    assert moment == pytest.approx(grams * (y - BODY[1]))
    g, h = loose_row_at_most(figure, value, BODY, AXIS, (moment - 300, moment + 200))
    assert g @ added <= h + 1e-6
    assert h - g @ added < (250**2 + moment**2 * grams / 230) / 230 / 1e5 + 1e-6  # and is not far off
