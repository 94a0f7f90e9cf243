"""A grip's two sides, where the outline does not follow them: straight, and seen over all their length.

A grip of nearly the table's colour, on a table with strong lines or in its own shadow, may lose its sides to
any stronger edge near by. But its sides are straight, opposite each other, and run on past the whole hand.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.signal import find_peaks

from digitise.band import even_ring
from digitise.border_odds import of_both
from digitise.grip import GRIP_FROM_MM, GRIP_TO_MM, USUAL_OF_THICKNESS, suits_thickness, widths_mm
from digitise.handle_strip import STEP_MM, Odds, at_sides, cap_half_mm, column_of, half_widths, rows_mm
from digitise.tone import FloatArray

NARROWEST_MM, WIDEST_MM, TURN_MM = 9.0, 24.0, 3.0
"""Half widths of grips, and by how much either side may draw nearer to the axis or away from it."""
LIKELIEST, APART_MM = 40, 1.0
"""How many lines of each side are paired, and how far apart, at their two ends together, they are."""
UNSEEN, SEEN, MARGIN = -0.5, 0.5, 1.8
"""Mean log odds below which the outline's own sides are none, from which on others are seen, and by how much
those must be likelier."""
CLEAR = 1.5
"""Mean log odds of an outline's own sides from which on they stay, though no grip so thick is so narrow: the
thickness may be wrong, and what does not suit it is told as doubtful."""
OFF_MM = 3.0
"""How far the middle of a grip may lie from the axis: an outline farther off needs another axis."""
NARROW, OF_CAP, FAINT = 0.75, (0.78, 0.93), -4.0
"""Of some 700 rendered and 15 other outlines that were right grips were 0.79 to 0.93 times as wide as their
caps: between these shares the sides are looked for where the outline is narrower than the first, for then it
follows something within the grip; and the least mean log odds they have there, or where only the thickness
tells that width (calm bare table: -4.5). Where cap and thickness say the same, they are believed unseen."""
JOIN_TO_MM = 200.0
"""How far up the outline may keep to something else than the grip."""
COLLAR_TO_MM, COLLAR, COLLAR_MOST, OF_SHAFT, JUTS_OUT = 260.0, 0.55, 1.3, 1.3, 0.15
"""How far up a grip may end in a collar from which a shaft or a throat goes on, how wide that is at least and
at most, of the grip, and at least of what the outline has beside it; by how much of the grip it juts out."""


@dataclass(frozen=True)
class GripSides:
    """Half the grip's width at GRIP_FROM_MM and GRIP_TO_MM from the butt; ``around``: the outline lay within
    the grip, and what of it is wider near the butt, its cap, stays."""

    low_half_mm: float
    high_half_mm: float
    around: bool = False

    def half_at_mm(self, y_mm: FloatArray) -> FloatArray:
        """Half width (n,) at places (n,) along the axis."""
        share = (y_mm - GRIP_FROM_MM) / (GRIP_TO_MM - GRIP_FROM_MM)
        return np.asarray(self.low_half_mm + share * (self.high_half_mm - self.low_half_mm))


@dataclass(frozen=True, eq=False)
class _Line:
    """A side ``low_mm`` and ``high_mm`` from the axis at the two ends, with its log odds (rows,)."""

    low_mm: float
    high_mm: float
    odds: FloatArray


@dataclass(frozen=True)
class _Sought:
    """Half widths between which sides are looked for, and the mean log odds that they must have; ``around``
    as in GripSides, ``unseen`` where they are believed without any."""

    reach_mm: tuple[float, float]
    least: float
    around: bool = False
    unseen: bool = False


@dataclass(frozen=True, eq=False)
class Gripped:
    """A symmetric outline ``ring_mm`` (n, 2), its grip ``half_mm`` wide to either side up to ``to_mm``."""

    ring_mm: FloatArray
    half_mm: float
    to_mm: float


def with_grip(odds: Odds, base_mm: FloatArray, thick_mm: tuple[float, float]) -> Gripped | None:
    """The symmetric ring ``base_mm`` (n, 2), begun at the butt at y = 0, with the grip's own sides, where it
    misses them; None where it does not. ``odds`` are those of the strip about its axis, ``thick_mm`` is the
    handle's thickness and its sd.
    """
    sides = find_grip(odds, half_widths(base_mm), thick_mm)
    return None if sides is None else _joined(base_mm, sides)


def find_grip(odds: Odds, half_mm: FloatArray, thick_mm: tuple[float, float]) -> GripSides | None:
    """The grip's sides where they are seen elsewhere than at ``half_mm`` (rows,) from the axis, or None.

    Of an outline that is much narrower there than at its cap, they are where they are likeliest seen in the
    width that a grip above such a cap has; of one that is not clear and narrower than any of that thickness,
    in the width that such grips have. One that is too wide has a shadow beside it, and another axis.
    ``thick_mm`` is the handle's thickness and its sd.
    """
    rows = np.flatnonzero((rows_mm() > GRIP_FROM_MM) & (rows_mm() < GRIP_TO_MM))
    own_odds = float(at_sides(odds, rows, half_mm[rows]).mean())
    sought = _sought(own_odds, float(np.median(half_mm[rows])), cap_half_mm(half_mm), thick_mm)
    if sought is None:
        return None
    one, other, mean_odds = _likeliest_pair(odds, rows, sought.reach_mm)
    if mean_odds <= FAINT and sought.unseen:
        middle_mm = sum(sought.reach_mm) / 2
        return GripSides(middle_mm, middle_mm, sought.around)
    off_mm = max(abs(other.low_mm - one.low_mm), abs(other.high_mm - one.high_mm))
    if mean_odds <= sought.least or off_mm > 2 * OFF_MM:
        return None
    return GripSides((one.low_mm + other.low_mm) / 2, (one.high_mm + other.high_mm) / 2, sought.around)


def _sought(own_odds: float, own_mm: float, cap_mm: float, thick_mm: tuple[float, float]) -> _Sought | None:
    """Between which half widths sides are looked for, beside an outline's own at ``own_mm`` with mean log
    odds of ``own_odds``; None if those stay."""
    if own_mm < NARROW * cap_mm:
        reach_mm = OF_CAP[0] * cap_mm, OF_CAP[1] * cap_mm
        agreed = all(suits_thickness(2 * end_mm, *thick_mm) for end_mm in reach_mm)
        return _Sought(reach_mm, FAINT, around=True, unseen=agreed)
    if 2 * own_mm < thick_mm[0] and not suits_thickness(2 * own_mm, *thick_mm) and own_odds < CLEAR:
        least_mm, most_mm = widths_mm(USUAL_OF_THICKNESS, *thick_mm)
        return _Sought((least_mm / 2, most_mm / 2), FAINT, around=True)
    if own_odds > UNSEEN:
        return None
    return _Sought((NARROWEST_MM, WIDEST_MM), max(own_odds + MARGIN, SEEN))


def _likeliest_pair(
    odds: Odds, rows: npt.NDArray[np.int64], reach_mm: tuple[float, float]
) -> tuple[_Line, _Line, float]:
    """The likeliest lines on the left and on the right together, and their mean log odds."""
    left, right = (_likeliest(odds, rows, side, reach_mm) for side in (-1, 1))
    both = of_both(np.stack([line.odds for line in left])[:, None], np.stack([line.odds for line in right]))
    mean = both.mean(axis=2)
    i, j = np.unravel_index(int(np.argmax(mean)), mean.shape)
    return left[i], right[j], float(mean[i, j])


def _likeliest(
    odds: Odds, rows: npt.NDArray[np.int64], side: int, reach_mm: tuple[float, float]
) -> list[_Line]:
    """The likeliest lines on one side of the axis (-1 left, 1 right), so far from it, no two nearly alike."""
    share = np.linspace(0, 1, len(rows))
    offsets = np.arange(reach_mm[0], reach_mm[1] + STEP_MM / 2, STEP_MM)
    lines = []
    for low in offsets:
        for high in offsets[np.abs(offsets - low) <= TURN_MM]:
            columns = column_of(side * (low + (high - low) * share))
            lines.append(_Line(float(low), float(high), odds.side[rows, columns]))
    lines.sort(key=lambda line: -float(line.odds.sum()))
    kept: list[_Line] = []
    for line in lines:
        if all(abs(line.low_mm - k.low_mm) + abs(line.high_mm - k.high_mm) > APART_MM for k in kept):
            kept.append(line)
        if len(kept) == LIKELIEST:
            break
    return kept


def _joined(base_mm: FloatArray, sides: GripSides) -> Gripped | None:
    """The ring with these sides up to where it has them itself, or of one that lay within the grip up to its
    collar; None where neither is."""
    right = base_mm[: len(base_mm) // 2]
    beyond = right[int(np.argmax(right[:, 1] > GRIP_TO_MM)) :]
    off_mm = np.abs(beyond[:, 0]) - sides.half_at_mm(beyond[:, 1])
    # from narrower to as wide, or from wider to as narrow
    met = int(np.argmax(np.sign(off_mm) != np.sign(off_mm[0])))
    if met == 0 or beyond[met, 1] > JOIN_TO_MM:
        met = _collar(beyond, sides) if sides.around else 0
    if met == 0:
        return None
    join_mm = float(beyond[met, 1])
    y_mm = np.arange(0.0, join_mm, 1.0)
    grip_mm = sides.half_at_mm(y_mm)
    if sides.around:
        own_mm = np.interp(y_mm, right[:, 1], np.abs(right[:, 0]))
        grip_mm = np.where(y_mm < GRIP_FROM_MM, np.maximum(own_mm, grip_mm), grip_mm)
    half = np.vstack([np.column_stack([grip_mm, y_mm]), beyond[met:]])
    ring_mm = np.vstack([[[0.0, 0.0]], half, half[::-1] * np.array([-1.0, 1.0])])
    middle = np.array([(GRIP_FROM_MM + GRIP_TO_MM) / 2])
    return Gripped(even_ring(ring_mm, 1.0), float(sides.half_at_mm(middle)[0]), join_mm)


def _collar(beyond_mm: FloatArray, sides: GripSides) -> int:
    """Index of where an outline's right side (n, 2) beyond the grip juts out before its head: there a grip
    that shows less than its shaft ends in a collar. 0 where there is none."""
    half_mm = np.abs(beyond_mm[beyond_mm[:, 1] < COLLAR_TO_MM, 0])
    grip_mm = sides.half_at_mm(np.array([GRIP_TO_MM]))[0]
    least_mm = max(COLLAR * grip_mm, OF_SHAFT * float(np.median(half_mm)))
    peaks, _ = find_peaks(half_mm, height=(least_mm, COLLAR_MOST * grip_mm), prominence=JUTS_OUT * grip_mm)
    return int(peaks[0]) if len(peaks) else 0
