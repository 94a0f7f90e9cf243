"""Clock positions as people type them, told apart from distances: ``3``, ``3:30``, but not ``3.5``."""

from __future__ import annotations

import re

from model.errors import UnitError

_CLOCK = re.compile(r"(\d{1,2})(?::(\d{1,2}))?")
_BARE = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?", re.IGNORECASE)
NO_CLOCK = 25  # so much and more is on no clock: a bare number can only be meant in mm


def clock_hours(text: str) -> float | None:
    """Hours (0 to 12) of a clock position, None for what is a distance.

    Raises UnitError for a clock position that does not exist, and for a bare number that might be meant as
    either: one that is no whole hour, 1 to 12.

    >>> clock_hours("3:30"), clock_hours("3mm"), clock_hours("180")
    (3.5, None, None)
    """
    clock = _CLOCK.fullmatch(text)
    if clock is not None and (clock[2] is not None or 1 <= int(clock[1]) <= 12):
        hours, minutes = int(clock[1]), int(clock[2] or 0)
        if hours > 12 or minutes > 59:
            raise UnitError(
                f"the clock position {text!r} does not exist: use 12, 1 to 11, and minutes from 00 to 59"
            )
        return hours % 12 + minutes / 60
    if _BARE.fullmatch(text) is None or abs(float(text)) >= NO_CLOCK:
        return None
    value = float(text)
    if 1 <= value < 13:
        minutes = (round(value * 60) - 60) % 720 + 60
        instead = f"write {minutes // 60}:{minutes % 60:02d} for a clock position, {text}mm for a distance"
    else:
        instead = f"use 12 or 1 to 11, or write {text}mm for a distance"
    raise UnitError(f"the place {text!r} is no clock position: {instead}")
