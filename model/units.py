"""Quantities as people type them: ``231``, ``8.1oz``, ``23.8cm``, ``9.4in``, ``118 kg·cm²``, ``21.9s``."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from model.errors import UnitError

OUNCE_G = 28.349523125  # international avoirdupois ounce, exact by definition
INCH_MM = 25.4  # international inch, exact by definition

MASS_UNITS_G = {"g": 1.0, "kg": 1000.0, "oz": OUNCE_G, "lb": 16 * OUNCE_G, "lbs": 16 * OUNCE_G}
LENGTH_UNITS_MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": INCH_MM, '"': INCH_MM}
INERTIA_UNITS_KGCM2 = {
    "kgcm2": 1.0,
    "kgcm": 1.0,  # the exponent left out: nothing else can be meant
    "gcm2": 1e-3,
    "gm2": 10.0,
    "kgm2": 1e4,
    "ozin2": OUNCE_G * INCH_MM**2 / 1e5,
}
TIME_UNITS_S = {"s": 1.0, "ms": 1e-3, "min": 60.0}
ANGLE_UNITS_DEG = {"deg": 1.0, "°": 1.0, "rad": 180 / math.pi}

_TYPED = re.compile(r"([+-]?)(\d+(?:\.\d*)?|\.\d+)(?:e([+-]?\d+))?\s*([a-z\"°][a-z0-9\"°]*)?", re.IGNORECASE)

_AFTER_LETTERS = re.compile(r"(?<=[a-z])\s+", re.IGNORECASE)  # inside a unit of two


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


def parse_inertia(text: str, what: str = "inertia") -> Typed:
    """Kg cm² from text; a bare number is kg cm². Raises UnitError.

    The unit may be written with a dot, a star or a space between its two, and its square in any way.

    >>> parse_inertia("118.5 kg·cm²").value
    118.5
    """
    plain = _AFTER_LETTERS.sub("", re.sub(r"[·⋅*^]", " ", text)).replace("²", "2")
    return _parse(plain, INERTIA_UNITS_KGCM2, "kgcm2", what, "118.5 or 118.5kgcm2")


def parse_time(text: str, what: str = "time") -> Typed:
    """Seconds from text; a bare number is seconds. Raises UnitError."""
    return _parse(text, TIME_UNITS_S, "s", what, "21.86 or 21.86s")


def parse_angle(text: str, what: str = "angle") -> Typed:
    """Degrees from text; a bare number is degrees. Raises UnitError."""
    return _parse(text, ANGLE_UNITS_DEG, "deg", what, "10, 10deg or 10°")


def _parse(text: str, units: dict[str, float], bare: str, what: str, examples: str) -> Typed:
    found = _TYPED.fullmatch(text.strip())
    if found is None:
        raise UnitError(f"the {what} {text!r} is not a number with a unit: write it like {examples}")
    sign, digits, exponent, unit = found.groups()
    factor = units.get((unit or bare).lower())
    if factor is None:
        raise UnitError(f"the {what} {text!r} has the unknown unit {unit!r}: write it like {examples}")
    power = int(exponent or 0)
    if abs(power) > 12:
        raise UnitError(f"the {what} {text!r} is out of all proportion: write it like {examples}")
    decimals = len(digits.partition(".")[2])
    value = float(f"{sign}{digits}e{power}") * factor
    return Typed(value=value, step=10.0 ** (power - decimals) * factor)
