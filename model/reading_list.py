"""A racquet's list of readings: new ones come in, old ones are set aside, nothing is lost unasked."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from model.errors import ReadingError
from model.reading_text import parse_reading
from model.reading_words import NAMES, brief
from model.readings import Reading, plain_name


def with_new(
    readings: Sequence[Reading], new: Sequence[Reading], beside: bool = False
) -> tuple[list[Reading], list[str]]:
    """The list with new readings at its end, and what happened in plain words.

    A new reading takes the place of used ones of the same quantity, which are kept unused, for most
    are the same reading taken again; ``beside`` counts both. One that is there already, used, is not
    taken twice.
    """
    kept, said = list(readings), []
    for one in new:
        if one in kept and one.used:
            said.append(f"the {describe(one)} is there already and counts once")
            continue
        if not beside and one.used:
            for i, old in enumerate(kept[: len(readings)]):
                if old.used and same_quantity(old, one):
                    kept[i] = old.model_copy(update={"used": False})
                    said.append(f"reading {i + 1}, the {describe(old)}, is kept but no longer used")
        kept.append(one)
    return kept, said


def set_used(readings: Sequence[Reading], number: int, used: bool) -> list[Reading]:
    """The list with one reading (from 1) used or not. Raises ReadingError where there is none."""
    return _changed(readings, number, lambda old: old.model_copy(update={"used": used}))


def edited(readings: Sequence[Reading], text: str) -> list[Reading]:
    """The list with one reading written anew: ``NUMBER: reading``. Raises ReadingError."""
    number, colon, rest = text.partition(":")
    if not colon or not number.strip().isdigit():
        raise ReadingError(f"the edit {text!r} must be NUMBER: READING, for example '2: 238.5mm'")

    def again(old: Reading) -> Reading:
        new = parse_reading(old.kind, rest)
        return new.model_copy(update={"fitted": True, "pieces": old.pieces}) if old.fitted else new

    return _changed(readings, int(number), again)


def without(readings: Sequence[Reading], numbers: Sequence[int]) -> list[Reading]:
    """The list without some readings (from 1). Raises ReadingError where there is none."""
    for number in numbers:
        _check(readings, number)
    return [one for i, one in enumerate(readings) if i + 1 not in numbers]


def same_quantity(one: Reading, other: Reading) -> bool:
    """Whether the two are readings of one thing, taken alike, so that the later one stands for both."""
    return _quantity(one) == _quantity(other)


def _quantity(reading: Reading) -> list[object]:
    told = ("kind", "on", "figure", "axis_mm", "leads", "pivot_mm", "strip", "block_mm", "scale_mm")
    return [plain_name(getattr(reading, "name", "")), *(getattr(reading, name, None) for name in told)]


def describe(reading: Reading) -> str:
    """``weight 231g`` and the like, for a sentence."""
    return f"{NAMES[reading.kind]} {brief(reading)}"


def _changed(readings: Sequence[Reading], number: int, change: Callable[[Reading], Reading]) -> list[Reading]:
    _check(readings, number)
    return [change(one) if i + 1 == number else one for i, one in enumerate(readings)]


def _check(readings: Sequence[Reading], number: int) -> None:
    if not 1 <= number <= len(readings):
        count = f"1 to {len(readings)}" if readings else "none at all"
        raise ReadingError(f"there is no reading {number}: the file has {count}; --list shows them")
