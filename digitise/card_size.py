"""What rectangle serves as the reference: a bank card, a sheet of paper, or any of known sides."""

from __future__ import annotations

import re

from digitise.card_shape import ID1, CardShape
from model.errors import ModelError
from model.units import parse_length

SIZE_RANGE_MM = (40.0, 450.0)
"""Sides believed: a shorter one gives no scale worth having, a longer one leaves no room for a racquet."""
MOST_RATIO = 4.0
STATED_SD_MM = 0.3
"""Least sd of a side that somebody measured: a ruler read at two ends."""
PAPER_MM = 0.1

# ISO 216 lets a side of up to 150 mm stray by 1.5 mm and one of up to 600 mm by 2 mm; taken as three standard
# deviations each way. ANSI/ASME Y14.1 gives letter paper (size A) the size alone; the same is taken.
_A4 = CardShape(297.0, 210.0, 0.0, PAPER_MM, long_sd_mm=0.67, short_sd_mm=0.67)
_A5 = CardShape(210.0, 148.0, 0.0, PAPER_MM, long_sd_mm=0.67, short_sd_mm=0.5)
_LETTER = CardShape(279.4, 215.9, 0.0, PAPER_MM, long_sd_mm=0.67, short_sd_mm=0.67)

NAMED: dict[str, CardShape] = {"card": ID1, "a4": _A4, "a5": _A5, "letter": _LETTER}
"""Rectangles that have a name; ``card`` is ISO/IEC 7810 ID-1, the size of bank cards."""

_SIDES = re.compile(r"\s*([0-9.]+)\s*(?:[x×*]|by)\s*([0-9.]+)\s*([a-z\"]*)\s*", re.IGNORECASE)


def card_size(text: str) -> CardShape:
    """The rectangle of a name in NAMED, or of two sides such as ``100x70`` or ``10 x 7 cm``.

    A rectangle given by its sides has square corners and is as thin as paper; each side's sd is half its
    last digit's step, at least STATED_SD_MM. Raises ModelError for anything else.

    >>> shape = card_size("70x100")
    >>> shape.long_mm, shape.short_mm, shape.long_sd_mm
    (100.0, 70.0, 0.5)
    """
    named = NAMED.get(text.strip().lower())
    if named is not None:
        return named
    found = _SIDES.fullmatch(text)
    if found is None:
        raise ModelError(
            f"the card size {text!r} is neither {', '.join(NAMED)} nor two sides in mm such as 100x70"
        )
    first, second, unit = found.groups()
    sides = sorted(
        (parse_length(side + unit, "card's side") for side in (first, second)), key=lambda s: -s.value
    )
    long, short = sides
    low, high = SIZE_RANGE_MM
    if not (low <= short.value and long.value <= high and long.value <= MOST_RATIO * short.value):
        raise ModelError(
            f"a rectangle of {long.value:g} × {short.value:g} mm is no use as a reference: its sides must be "
            f"between {low:g} and {high:g} mm, and the long one at most {MOST_RATIO:g} times the short one"
        )
    long_sd, short_sd = (max(side.step / 2, STATED_SD_MM) for side in (long, short))
    return CardShape(long.value, short.value, 0.0, PAPER_MM, long_sd, short_sd)
