"""Which stretches of the outline may be wrong, in words a person can follow to the place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.ndimage import binary_closing

from digitise.contour import Contour

FAINT_EDGE = 0.35
"""Edge strength under which the eye, too, hardly finds the border."""
UNEQUAL_MM = 1.2
"""Difference between a side and the common outline that a racquet's own asymmetry seldom reaches."""
LEAST_MM = 6.0
MUCH = 0.15
"""Share of the outline that, in doubt, calls for correction by hand."""


@dataclass(frozen=True)
class Doubt:
    """A stretch of points ``first`` to ``last`` (indices of the ring, inclusive, may wrap), and why."""

    first: int
    last: int
    length_mm: float
    side: str
    from_mm: float
    to_mm: float
    reason: str

    def words(self) -> str:
        """The stretch in one phrase: ``left side, 210 to 256 mm from the butt, 46 mm long: faint edge``."""
        low, high = sorted((self.from_mm, self.to_mm))
        where = f"{self.side}, {low:.0f} to {high:.0f} mm from the butt"
        return f"{where}, {self.length_mm:.0f} mm long: {self.reason}"


def doubtful_stretches(contour: Contour) -> tuple[Doubt, ...]:
    """The stretches of at least LEAST_MM where the edge is faint or the two sides do not agree."""
    faint = contour.strength < FAINT_EDGE
    unequal = contour.borrowed | (np.abs(contour.apart_mm) > UNEQUAL_MM)
    doubts = []
    for first, last in _runs(binary_closing(np.pad(faint | unequal, 5, mode="wrap"), np.ones(7))[5:-5]):
        count = (last - first) % len(faint) + 1
        if count < LEAST_MM:
            continue
        where = (first + np.arange(count)) % len(faint)
        points = contour.ring_mm[where]
        side = "right side" if points[:, 0].mean() > 0 else "left side"
        reason = "the two sides differ" if unequal[where].mean() > faint[where].mean() else "faint edge"
        doubts.append(
            Doubt(first, last, float(count), side, float(points[0, 1]), float(points[-1, 1]), reason)
        )
    return tuple(doubts)


def doubtful_share(doubts: tuple[Doubt, ...], contour: Contour) -> float:
    """Share of the outline that lies in doubtful stretches."""
    return sum(doubt.length_mm for doubt in doubts) / len(contour.ring_mm)


def _runs(flags: npt.NDArray[np.bool_]) -> list[tuple[int, int]]:
    """(first, last) of each run of true flags on a ring; a run over the seam stays whole."""
    if flags.all():
        return [(0, len(flags) - 1)]
    start = int(np.argmin(flags))
    turned = np.roll(flags, -start).astype(int)
    steps = np.diff(np.concatenate([[0], turned, [0]]))
    firsts, lasts = np.flatnonzero(steps == 1), np.flatnonzero(steps == -1) - 1
    size = len(flags)
    return [((int(a) + start) % size, (int(b) + start) % size) for a, b in zip(firsts, lasts, strict=True)]
