"""What a person measured on the racquet: readings with their sd."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from model.errors import ReadingError
from model.measured import Measured
from model.units import parse_length, parse_mass

SCALE_SD_FLOOR_G = 0.2  # a kitchen scale's own error when it shows tenths
BALANCE_SD_FLOOR_MM = 1.0  # finding the balance point on a straight edge by hand


class ReadingKind(StrEnum):
    """Which figure a reading is of."""

    WEIGHT = "weight"
    BALANCE = "balance"


@dataclass(frozen=True)
class Reading:
    """One reading: grams for weight, mm from the butt for balance. Unused ones are kept, not counted."""

    kind: ReadingKind
    measured: Measured
    used: bool = True

    def __post_init__(self) -> None:
        if not self.measured.value > 0:
            raise ReadingError(
                f"the {self.kind} reading must be more than zero, not {self.measured.value:g}: read it again"
            )
        if not self.measured.sd > 0:
            raise ReadingError(
                f"the {self.kind} reading needs an sd of more than zero: state how fine it was read"
            )


def weight_reading(text: str) -> Reading:
    """A weight as typed (``231``, ``8.1oz``); its sd is half the last digit's step, at least 0.2 g.

    >>> weight_reading("231").measured
    Measured(value=231.0, sd=0.5)
    """
    typed = parse_mass(text, "weight")
    return Reading(ReadingKind.WEIGHT, Measured(typed.value, max(typed.step / 2, SCALE_SD_FLOOR_G)))


def balance_reading(text: str) -> Reading:
    """A balance as typed (``238``, ``9.4in``); its sd is half the last digit's step, at least 1 mm.

    >>> balance_reading("238").measured
    Measured(value=238.0, sd=1.0)
    """
    typed = parse_length(text, "balance")
    return Reading(ReadingKind.BALANCE, Measured(typed.value, max(typed.step / 2, BALANCE_SD_FLOOR_MM)))


def check_readings(readings: tuple[Reading, ...], lowest_mm: float, highest_mm: float, tip_mm: float) -> None:
    """Refuse balance readings that no positive masses can give. Raises ReadingError with the bound.

    ``lowest_mm`` and ``highest_mm`` are the heights of the lowest and highest part's own centre.
    """
    for reading in readings:
        value = reading.measured.value
        if not reading.used or reading.kind is not ReadingKind.BALANCE or lowest_mm < value < highest_mm:
            continue
        where = (
            f"beyond the tip at {tip_mm:.0f} mm" if value > tip_mm else "where no such racquet can balance"
        )
        raise ReadingError(
            f"the balance reading {value:.0f} mm lies {where}: for this outline it must be between "
            f"{lowest_mm:.0f} and {highest_mm:.0f} mm from the butt, so measure it again"
        )
