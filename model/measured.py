"""A number and its standard deviation."""

from __future__ import annotations

import math
from dataclasses import dataclass

from model.errors import ModelError


@dataclass(frozen=True)
class Measured:
    """A value with the standard deviation of its error, both in the unit its holder's name states.

    Raises ModelError when either is not finite or the sd is negative.

    >>> Measured(231.0, 0.5)
    Measured(value=231.0, sd=0.5)
    """

    value: float
    sd: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.value) and math.isfinite(self.sd)):
            raise ModelError(
                f"a measured value and its sd must be finite numbers, not {self.value} ± {self.sd}"
            )
        if self.sd < 0:
            raise ModelError(f"a standard deviation can't be negative, but {self.sd} was given")
