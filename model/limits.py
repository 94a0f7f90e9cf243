"""Limits and targets as a person writes them: ``twist at least +10%``, ``balance between 235 and 240``."""

from __future__ import annotations

import re
from dataclasses import dataclass

from model.errors import SearchError, UnitError
from model.figure_rows import NAMES, unit_of
from model.units import parse_inertia, parse_length, parse_mass

_WORDS = {
    **dict.fromkeys(("at least", "not under", "not less than", "more than", "over", "≥"), ">="),
    **dict.fromkeys(("at most", "not over", "not more than", "less than", "under", "≤"), "<="),
}
_SIGNS = re.compile("|".join(sorted(_WORDS, key=len, reverse=True)))
_ALIASES = {"mass": "added", "added mass": "added", "tape": "added"}
MOST_SHARE = 100.0  # of the figure before; more is a slip
_BARE = r"[+-]?[\d.]+(?:e[+-]?\d+)?"
_NUMBER = rf"{_BARE}\s*(?:%|\"|[a-z][a-z·⋅*^²2\s]*)?"
_BETWEEN = re.compile(
    rf"between ({_NUMBER}) and ({_NUMBER})|(?:from )?({_NUMBER})\s*(?:\.\.|\bto\b)\s*({_NUMBER})"
)
_TARGET = re.compile(rf"(?:=|to)?\s*({_NUMBER})")
_FIGURE = re.compile(
    r"(added mass|mass|tape|" + "|".join(NAMES) + r")(?: weight)?\s*(.*)", re.IGNORECASE | re.DOTALL
)


@dataclass(frozen=True)
class Limit:
    """A figure kept between ``low`` and ``high`` (None: no bound), in its own unit.

    ``change`` says that the bounds are on the change from before, not on the figure itself.
    ``text`` is what the person wrote.
    """

    figure: str
    low: float | None
    high: float | None
    change: bool = False
    text: str = ""

    def absolute(self, before: float) -> Limit:
        """The same limit on the figure itself, given its value before."""
        if not self.change:
            return self
        low = None if self.low is None else before + self.low
        high = None if self.high is None else before + self.high
        return Limit(self.figure, low, high, False, self.text)

    def missed_by(self, value: float) -> float:
        """How far a value lies outside, in the figure's unit; 0 inside."""
        below = 0.0 if self.low is None else self.low - value
        above = 0.0 if self.high is None else value - self.high
        return max(below, above, 0.0)

    def describe(self) -> str:
        """The limit in words, for a sentence."""
        if self.text:
            return self.text
        unit = unit_of(self.figure)
        if self.low is not None and self.high is not None:
            return f"{self.figure} between {self.low:.5g} and {self.high:.5g} {unit}"
        word, value = ("at least", self.low) if self.low is not None else ("at most", self.high)
        return f"{self.figure} {word} {value:.5g} {unit}"


def parse_limit(text: str, before: dict[str, float]) -> Limit:
    """Read a limit; ``before`` holds the figures before, for per cents. Raises SearchError.

    FIGURE is weight, balance, swing, twist, recoil, spin or added (mass). Then ``at least`` /
    ``>=``, ``at most`` / ``<=`` and a number, or ``between A and B`` / ``A to B`` / ``A..B``. A sign means a
    change (``+1.5``, ``-2``), a per cent sign a share of the figure before (``+10%``). A unit or per cent
    sign behind one of two numbers holds for both.

    >>> parse_limit("twist at least +10%", {"twist": 6.0})
    Limit(figure='twist', low=0.6000000000000001, high=None, change=True, text='twist at least +10%')
    """
    figure, rest = _figure(text)
    if found := _BETWEEN.fullmatch(rest):
        values = _two_values(found[1] or found[3], found[2] or found[4], figure, text, before)
        if values[0][1] != values[1][1]:
            raise SearchError(
                f"the limit {text!r} mixes a change and a value: give both with a sign or neither"
            )
        low, high = values[0][0], values[1][0]
        if low > high:
            raise SearchError(f"the limit {text!r} ends below where it begins: turn the two numbers round")
        return Limit(figure, low, high, values[0][1], text)
    rest = _SIGNS.sub(lambda word: _WORDS[word[0]], rest)
    if found := re.fullmatch(rf"(>=|<=)\s*({_NUMBER})", rest):
        value, change = _value(found[2], figure, text, before)
        return (
            Limit(figure, value, None, change, text)
            if found[1] == ">="
            else Limit(figure, None, value, change, text)
        )
    raise SearchError(
        f"the limit {text!r} can't be read: write it like 'twist at least +10%', 'swing <= 115' or "
        "'balance between 235 and 240'"
    )


def parse_target(text: str, before: dict[str, float]) -> Limit:
    """Read ``FIGURE VALUE``, for example ``swing 115`` or ``twist +10%``. Raises SearchError."""
    figure, rest = _figure(text)
    found = _TARGET.fullmatch(rest)
    if found is None:
        raise SearchError(f"the target {text!r} can't be read: write it like 'swing 115' or 'twist +10%'")
    value, change = _value(found[1], figure, text, before)
    return Limit(figure, value, value, change, text).absolute(before[figure])


def _figure(text: str) -> tuple[str, str]:
    found = _FIGURE.fullmatch(text.strip())
    if found is None:
        raise SearchError(f"{text!r} names no figure: begin with one of {', '.join(NAMES)}")
    name = found[1].lower()
    return _ALIASES.get(name, name), found[2].strip().lower()


def _two_values(
    first: str, second: str, figure: str, text: str, before: dict[str, float]
) -> list[tuple[float, bool]]:
    """Both ends of a limit, each with whether it is a change.

    A unit said once holds for both, unless only as written the second is the larger: ``235 and 24cm``. Nor
    is it guessed at where the second stands bare and would be the larger either way.
    """
    words = (first.strip(), second.strip())
    numbers, units = zip(*(_parted(word) for word in words), strict=True)
    written = [_value(word, figure, text, before) for word in words]
    if bool(units[0]) == bool(units[1]):
        return written
    unit = units[0] or units[1]
    shared = [_value(f"{number}{unit}", figure, text, before) for number in numbers]
    as_shared, as_written = (values[0][0] <= values[1][0] for values in (shared, written))
    if units[0] and as_shared and as_written and shared != written:
        either = " or ".join(words[1] + each for each in (unit, unit_of(figure)))
        raise SearchError(f"in {text!r}, the second number has no unit: write {either}")
    return shared if as_shared or not as_written else written


def _parted(word: str) -> tuple[str, str]:
    """A number as written and what stands behind it."""
    number = re.match(_BARE, word)
    end = 0 if number is None else number.end()
    return word[:end], word[end:].strip()


def _value(word: str, figure: str, text: str, before: dict[str, float]) -> tuple[float, bool]:
    word = word.strip()
    change = word[:1] in ("+", "-") and figure != "added"
    if word.endswith("%"):
        if figure == "added":
            raise SearchError(f"in {text!r}, {word} is a share of nothing: give grams")
        share = _plain(word[:-1], text) / 100
        if abs(share) > MOST_SHARE:
            raise SearchError(f"in {text!r}, {word} is out of all proportion: write it like +10%")
        return share * before[figure], change
    return amount(word, figure, text), change


def amount(word: str, figure: str, text: str) -> float:
    """A number with or without a unit in the figure's own unit. Raises SearchError; ``text`` is all of it.

    >>> amount("500 g·cm²", "twist", "twist +500 g·cm²")
    0.5
    """
    word = word.strip()
    found = re.fullmatch(rf"({_BARE})\s*(.*)", word, re.IGNORECASE)
    if found is None:
        raise SearchError(f"in {text!r}, {word!r} is no number")
    number, unit = found.groups()
    _plain(number, text)
    parse = {"g": parse_mass, "mm": parse_length}.get(unit_of(figure), parse_inertia)
    try:
        bare = parse(number, figure).value
    except UnitError as error:
        raise SearchError(f"in {text!r}, {error}") from None
    try:
        return parse(word, figure).value if unit else bare
    except UnitError:
        raise SearchError(
            f"in {text!r}, the unit {unit!r} does not fit: {figure} is in {unit_of(figure)}"
        ) from None


def _plain(word: str, text: str) -> float:
    try:
        return float(word.replace(" ", ""))
    except ValueError:
        raise SearchError(f"in {text!r}, {word!r} is no number") from None
