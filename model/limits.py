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
    change (``+1.5``, ``-2``), a per cent sign a share of the figure before (``+10%``).

    >>> parse_limit("twist at least +10%", {"twist": 6.0})
    Limit(figure='twist', low=0.6000000000000001, high=None, change=True, text='twist at least +10%')
    """
    figure, rest = _figure(text)
    if found := _BETWEEN.fullmatch(rest):
        words = [found[1] or found[3], found[2] or found[4]]
        values = [_value(word, figure, text, before) for word in words]
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


def _value(word: str, figure: str, text: str, before: dict[str, float]) -> tuple[float, bool]:
    word = word.strip()
    change = word[:1] in ("+", "-") and figure != "added"
    if word.endswith("%"):
        share = _plain(word[:-1], text) / 100
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
