"""Typed masses and lengths."""

from __future__ import annotations

import pytest

from model.errors import UnitError
from model.units import parse_inertia, parse_length, parse_mass


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
    ("text", "kgcm2", "step"),
    [
        ("118.5", 118.5, 0.1),
        ("118.5 kg·cm²", 118.5, 0.1),
        ("118.5kg⋅cm²", 118.5, 0.1),
        ("118.5 kg * cm ^2", 118.5, 0.1),
        ("118.5 KG cm 2", 118.5, 0.1),
        ("118.5kgcm", 118.5, 0.1),
        ("1.185e2 kg·cm²", 118.5, 0.1),
        ("6200 g cm²", 6.2, 1e-3),
        ("3 g·m²", 30, 10),
        ("400 oz·in²", 400 * 28.349523125 * 25.4**2 / 1e5, 28.349523125 * 25.4**2 / 1e5),
    ],
)
def test_inertias(text: str, kgcm2: float, step: float) -> None:
    typed = parse_inertia(text)
    assert typed.value == pytest.approx(kgcm2, rel=1e-12)
    assert typed.step == pytest.approx(step, rel=1e-12)


@pytest.mark.parametrize("text", ["118 .5", "kg·cm²", "118.5 kg·cm²·cm", "118.5 kg/cm²", "118.5 cm²", ""])
def test_what_is_no_inertia_is_refused(text: str) -> None:
    with pytest.raises(UnitError, match=r"write it like 118\.5 or 118\.5kgcm2"):
        parse_inertia(text)


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
