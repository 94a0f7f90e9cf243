"""The clauses that typed readings are made of, and how each kind of reading is written."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import NoReturn

from model.errors import ReadingError, UnitError
from model.units import Typed

EXAMPLES = {
    "weight": "231g, or 231.4, 231.2, 231.4 for repeats",
    "balance": "238mm",
    "scale_check": "200g shows 200.4g",
    "two_supports": "block 10mm, scale 380mm, reads 139.2g",
    "two_scales": "10mm 91.8g, 380mm 139.2g",
    "head_reading": "136.4g, butt at 5mm, tip at 405mm",
    "butt_reading": "94.6g, butt at 5mm, tip at 405mm",
    "pendulum": "pivot 30mm, 20 swings, 21.86s",
    "bifilar": "twist, threads 900mm, spacing 150mm, 20 swings, 31.2s",
    "machine": "swing 118.5 at 50mm, or twist 6.2",
    "published": "swing 115 at 50mm, or weight 8.1oz",
    "component": "butt cap 5.2g, or overgrip 6g from 0mm to 150mm, not counted",
    "length": "409mm",
    "width": "201mm",
}
"""How each kind of reading is written."""

MOST_APART = 1.3  # repeats scatter by a few per cent; a decimal comma or a swing too many makes more


class Clauses:
    """The clauses of a typed reading, taken one after the other."""

    def __init__(self, kind: str, text: str) -> None:
        self.kind, self.left = kind, [c.strip() for c in text.split(",") if c.strip()]

    def take(self, pattern: str) -> re.Match[str] | None:
        """The first clause that is the pattern as a whole (case does not matter), and drop it."""
        for clause in self.left:
            found = re.fullmatch(pattern, clause, re.IGNORECASE)
            if found:
                self.left.remove(clause)
                return found
        return None

    def number(self, pattern: str, parse: Callable[[str, str], Typed]) -> float | None:
        """The quantity in the pattern's first group, in base units; None where no clause fits."""
        found = self.take(pattern)
        return None if found is None else parse(found[1], self.words).value

    def need(self, pattern: str, parse: Callable[[str, str], Typed]) -> float:
        """As :meth:`number`, but it must be there."""
        found = self.number(pattern, parse)
        if found is None:
            self.fail("leaves something out")
        return found

    def flag(self, pattern: str) -> bool:
        """Whether a clause is there."""
        return self.take(pattern) is not None

    def limits_to_sd(self) -> bool:
        """Whether limits are stated, as ``within 0.5g``; the clause becomes their sd's, 1/√3 as much."""
        found = self.take(r"within (?:±|\+-)?\s*([\d.]+)\s*(.*)")
        if found is None:
            return False
        try:
            self.left.append(f"sd {float(found[1]) / 3**0.5:.12f}{found[2]}")
        except ValueError:
            self.fail(f"has limits {found[1]!r} that are no number")
        return True

    def quantities(self, parse: Callable[[str, str], Typed]) -> list[Typed]:
        """All clauses that are left, each a bare quantity; at least one."""
        if not self.left:
            self.fail("leaves something out")
        try:
            found = [parse(clause, self.words) for clause in self.left]
        except UnitError as error:
            raise ReadingError(f"{error}; a whole reading is written {EXAMPLES[self.kind]}") from None
        self._alike([one.value for one in found])
        self.left = []
        return found

    def _alike(self, values: list[float]) -> None:
        """Raise ReadingError for repeats of one reading that cannot be, such as 231,4 for 231.4."""
        low, high = min(values), max(values)
        if low > 0 and high > MOST_APART * low:
            self.fail(
                f"has the repeats {', '.join(self.left)}, too different to be of one thing; write decimals "
                "with a point, as 231.4, and time the same number of swings in every run"
            )

    @property
    def words(self) -> str:
        """The kind of reading in plain words."""
        return f"{self.kind.replace('_', ' ')} reading"

    def done(self) -> None:
        """Raise ReadingError where a clause is left."""
        if self.left:
            self.fail(f"has {self.left[0]!r}, which is not understood")

    def fail(self, what: str) -> NoReturn:
        """Raise ReadingError with an example."""
        raise ReadingError(f"the {self.words} {what}: write it like {EXAMPLES[self.kind]}")
