"""Typed masses and lengths."""

from __future__ import annotations

import pytest

from model.errors import UnitError
from model.units import parse_length, parse_mass


@pytest.mark.parametrize(
    ("text", "grams", "step"),
    [
        ("231", 231, 1),
        ("231g", 231, 1),
        ("231.4 g", 231.4, 0.1),
        ("8.1oz", 8.1 * 28.349523125, 0.1 * 28.349523125),
        ("0.51lb", 0.51 * 453.59237, 0.01 * 453.59237),
        ("0.228 kg", 228, 1),
        (" 3G ", 3, 1),
        ("2.31e2", 231, 1),
    ],
)
def test_masses(text: str, grams: float, step: float) -> None:
    typed = parse_mass(text)
    assert typed.value == pytest.approx(grams, rel=1e-12)
    assert typed.step == pytest.approx(step, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "millimetres"),
    [("238mm", 238), ("23.8cm", 238), ("9.4in", 9.4 * 25.4), ('3"', 76.2), ("-180", -180), ("+7in", 177.8)],
)
def test_lengths(text: str, millimetres: float) -> None:
    assert parse_length(text).value == pytest.approx(millimetres, rel=1e-12)


@pytest.mark.parametrize(
    "text", ["", "g", "8,1oz", "three", "231 stones", "1e999", "nan", "inf", "12mm", "--3"]
)
def test_bad_mass_is_one_sentence_with_the_text_and_an_example(text: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_mass(text, "weight")
    message = str(caught.value)
    assert message.startswith(f"the weight {text!r}")
    assert "8.1oz" in message
    assert "\n" not in message


def test_length_does_not_take_a_mass_unit() -> None:
    with pytest.raises(UnitError, match="unknown unit 'g'"):
        parse_length("238g")
