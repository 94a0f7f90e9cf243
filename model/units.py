"""Masses and lengths as people type them: ``231``, ``8.1oz``, ``23.8cm``, ``9.4in``."""

from __future__ import annotations

import re
from dataclasses import dataclass

from model.errors import UnitError

OUNCE_G = 28.349523125  # international avoirdupois ounce, exact by definition
INCH_MM = 25.4  # international inch, exact by definition

MASS_UNITS_G = {"g": 1.0, "kg": 1000.0, "oz": OUNCE_G, "lb": 16 * OUNCE_G, "lbs": 16 * OUNCE_G}
LENGTH_UNITS_MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": INCH_MM, '"': INCH_MM}

_TYPED = re.compile(r"([+-]?)(\d+(?:\.\d*)?|\.\d+)(?:e([+-]?\d+))?\s*([a-z\"]*)", re.IGNORECASE)


@dataclass(frozen=True)
class Typed:
    """A quantity someone typed, in the base unit, and the step of its last digit in the same unit."""

    value: float
    step: float


def parse_mass(text: str, what: str = "mass") -> Typed:
    """Grams from text; a bare number is grams. Raises UnitError.

    >>> parse_mass("231")
    Typed(value=231.0, step=1.0)
    >>> round(parse_mass("0.51lb").value, 2)
    231.33
    """
    return _parse(text, MASS_UNITS_G, "g", what, "231, 231g, 8.1oz or 0.51lb")


def parse_length(text: str, what: str = "length") -> Typed:
    """Millimetres from text; a bare number is millimetres. Raises UnitError.

    >>> parse_length("23.8cm")
    Typed(value=238.0, step=1.0)
    """
    return _parse(text, LENGTH_UNITS_MM, "mm", what, "238, 238mm, 23.8cm or 9.4in")


def _parse(text: str, units: dict[str, float], bare: str, what: str, examples: str) -> Typed:
    found = _TYPED.fullmatch(text.strip())
    if found is None:
        raise UnitError(f"the {what} {text!r} is not a number with a unit: write it like {examples}")
    sign, digits, exponent, unit = found.groups()
    factor = units.get(unit.lower() or bare)
    if factor is None:
        raise UnitError(f"the {what} {text!r} has the unknown unit {unit!r}: write it like {examples}")
    power = int(exponent or 0)
    if abs(power) > 12:
        raise UnitError(f"the {what} {text!r} is out of all proportion: write it like {examples}")
    decimals = len(digits.partition(".")[2])
    value = float(f"{sign}{digits}e{power}") * factor
    return Typed(value=value, step=10.0 ** (power - decimals) * factor)
