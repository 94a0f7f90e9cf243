"""The reference card: ISO/IEC 7810, size ID-1."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from digitise.tone import FloatArray


@dataclass(frozen=True)
class CardShape:
    """A rectangular card with rounded corners; ``*_sd_mm`` is how far real ones stray from the size."""

    long_mm: float
    short_mm: float
    corner_radius_mm: float
    thickness_mm: float
    long_sd_mm: float
    short_sd_mm: float

    @property
    def ratio(self) -> float:
        """Long side over short side."""
        return self.long_mm / self.short_mm

    @property
    def corners_mm(self) -> FloatArray:
        """Sharp corners (4, 2): 0 to 1 is a long side, counter-clockwise seen from above."""
        x, y = self.long_mm / 2, self.short_mm / 2
        return np.array([[-x, -y], [x, -y], [x, y], [-x, y]])


# The standard allows 85.47 to 85.72 by 53.92 to 54.03 mm; taken as three standard deviations each way.
ID1 = CardShape(85.60, 53.98, 3.18, 0.76, long_sd_mm=0.042, short_sd_mm=0.018)
