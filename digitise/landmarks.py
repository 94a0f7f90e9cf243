"""Places along the outline that the mass model needs: the handle's width and top, the butt's width.

Read from the half width along the axis, which is even and needs no picture; ``handle_top`` then looks at it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from digitise.grip import GRIP_FROM_MM, GRIP_TO_MM
from digitise.tone import FloatArray

FLARED, TAPERED = 1.25, 0.70
"""Half width, as a share of the grip's, at which the neck or the shaft has surely begun."""
LEAST_TOP_MM = 60.0
"""No handle is shorter."""
STEP_SPAN_MM, STEP_DOWN_MM = 8.0, 0.9
"""A shaft begins where the half width falls by so much within such a length, and stays so."""
SHAFT_MM = 50.0
"""How far beyond such a step it is looked whether it stays so: an open throat's shaft widens again later."""
FILLET_MM = (4.0, 16.0)
"""Half widths over the grip's at which a neck is looked at. It begins as a fillet, which widens with the
square of the way: so it begins as far before the first of these places as that is before the second."""
AFTER_BEGIN_MM, WIDENED_SD_MM = 2.0, 4.0
"""How far beyond a neck's beginning the grip ends, and the sd of that: a neck may run on under the grip, by
5 mm on racquets of ``tests.render``, and hardly at all on those made elsewhere."""
WIDENED_MM = 2.0
"""Half width over the grip's by which a neck has surely begun."""
NARROWED_MM, NARROWED_SD_MM = 0.5, 2.0
"""Half width under the grip's by which a shaft has begun, just where the grip ended, with this sd."""
COLLAR_SEARCH_MM, COLLAR_FALL_MM = 28.0, 0.15
"""How far before the neck a collar is looked for, and the least by which the half width falls behind it."""
UNSEEN_SHARE, UNSEEN_SD_MM = 0.35, 25.0
"""Where neither neck nor shaft shows: the handle's usual share of the length, hardly known."""

LEAST_HEAD = 0.15
"""Share of a racquet's length that its head has at the very least."""


@dataclass(frozen=True)
class HandleMarks:
    """``width_mm`` of the grip, ``butt_width_mm`` of the butt cap, ``top_mm`` where the grip ends,
    and ``collar``, where before the neck the half width falls a little, and by how much."""

    width_mm: float
    butt_width_mm: float
    top_mm: float
    top_sd_mm: float
    collar: tuple[float, float] | None = None


def has_head(marks: HandleMarks, length_mm: float) -> bool:
    """Whether a head is left beyond the handle: at least ``LEAST_HEAD`` of the whole length."""
    return marks.top_mm < (1 - LEAST_HEAD) * length_mm


def half_widths(ring_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """(y_mm, half width_mm), 1 mm apart from the butt, of a ring (n, 2) in the racquet's frame."""
    low, high = ring_mm[:, 1].min(), ring_mm[:, 1].max()
    y_mm = np.arange(np.ceil(low) + 1, high, 1.0)
    nxt = np.roll(ring_mm, -1, axis=0)
    ends = np.searchsorted(y_mm, np.column_stack([ring_mm[:, 1], nxt[:, 1]]))
    first, count = ends.min(axis=1), np.ptp(ends, axis=1)
    # One entry for each place that a side of the ring crosses.
    side = np.repeat(np.arange(len(ring_mm)), count)
    at = first[side] + np.arange(len(side)) - (np.cumsum(count) - count)[side]
    from_start, along = y_mm[at] - ring_mm[side, 1], nxt[side] - ring_mm[side]
    crossed = np.abs(ring_mm[side, 0] + from_start / along[:, 1] * along[:, 0])
    half = np.bincount(at, crossed, minlength=len(y_mm)) / 2
    return y_mm - low, half


def handle_marks(y_mm: FloatArray, half_mm: FloatArray) -> HandleMarks:
    """Handle marks from half widths ``half_mm`` at ``y_mm``, both (n,), y from the butt, increasing."""
    even_mm = np.arange(float(np.ceil(y_mm[0])), float(y_mm[-1]) + 0.5, 1.0)
    half_mm, y_mm = np.interp(even_mm, y_mm, half_mm), even_mm
    grip = (y_mm > GRIP_FROM_MM) & (y_mm < GRIP_TO_MM)
    half = float(np.median(half_mm[grip])) if grip.any() else float(half_mm[: len(half_mm) // 4].mean())
    butt = float(np.quantile(half_mm[(y_mm > 1) & (y_mm < 15)], 0.85)) if len(y_mm) > 15 else half
    return HandleMarks(2 * half, 2 * max(butt, half), *_end_of_grip(y_mm, half_mm, half))


def _end_of_grip(
    y_mm: FloatArray, half_mm: FloatArray, grip_mm: float
) -> tuple[float, float, tuple[float, float] | None]:
    """Where the grip ends by its width alone, how sure that is, and the collar's end if there is one;
    ``grip_mm`` is its half width."""
    # A neck goes on widening into the head; what is as narrow as the grip again was a stray thing beside it.
    wide = half_mm > FLARED * grip_mm
    neck = wide & (np.arange(len(y_mm)) > _last(~wide, int(np.argmax(half_mm))))
    past = (y_mm > GRIP_TO_MM) & (neck | (half_mm < TAPERED * grip_mm))
    if not past.any():
        return UNSEEN_SHARE * float(y_mm[-1]), UNSEEN_SD_MM, None
    end = int(np.argmax(past))
    step = _step_down(y_mm, half_mm, grip_mm, end)
    if step is not None:
        before_mm = _level(y_mm, half_mm, float(y_mm[step]), 35.0, 12.0)
        index = _last(half_mm >= before_mm - NARROWED_MM, step + int(STEP_SPAN_MM) // 2)
        return max(float(y_mm[index]), LEAST_TOP_MM), NARROWED_SD_MM, None
    before_mm = _level(y_mm, half_mm, float(y_mm[end]), 45.0, 18.0)
    index = _last(half_mm <= before_mm + WIDENED_MM, end)
    end_mm = _neck_begin(y_mm, half_mm, before_mm) + AFTER_BEGIN_MM
    return max(end_mm, LEAST_TOP_MM), WIDENED_SD_MM, _collar(y_mm, half_mm, index)


def _neck_begin(y_mm: FloatArray, half_mm: FloatArray, before_mm: float) -> float:
    """Where the fillet of a neck begins, beside a grip whose half width is ``before_mm``."""
    widest = int(np.argmax(half_mm))
    near_mm, far_mm = (float(y_mm[_last(half_mm <= before_mm + more, widest)]) for more in FILLET_MM)
    return near_mm - (far_mm - near_mm)


def _collar(y_mm: FloatArray, half_mm: FloatArray, neck: int) -> tuple[float, float] | None:
    """Middle and depth of the fall of the half width behind a collar, in COLLAR_SEARCH_MM before ``neck``."""
    first = max(neck - int(COLLAR_SEARCH_MM), 0)
    before = half_mm[first : neck + 1]
    fall = np.maximum.accumulate(before) - before
    low = int(np.argmax(fall))
    high = int(np.argmax(before[: low + 1]))
    if fall[low] < COLLAR_FALL_MM or before[high] < before[0] + COLLAR_FALL_MM / 2:
        return None
    middle = high + int(np.argmax(before[high : low + 1] < (before[high] + before[low]) / 2))
    return float(y_mm[first + middle]), float(fall[low])


def _step_down(y_mm: FloatArray, half_mm: FloatArray, grip_mm: float, end: int) -> int | None:
    """Index of the middle of the largest step down before ``end``, None if the width does not stay fallen."""
    span = int(STEP_SPAN_MM)
    drop = half_mm[:-span] - half_mm[span:]
    middle = np.arange(len(drop)) + span // 2
    inside = (y_mm[middle] > GRIP_TO_MM) & (middle < end + 2)
    if not inside.any():
        return None
    best = int(np.argmax(np.where(inside, drop, -np.inf)))
    at_mm = float(y_mm[middle[best]])
    after = (y_mm > at_mm + 5) & (y_mm < at_mm + np.clip(float(y_mm[end]) - 10 - at_mm, 20, SHAFT_MM))
    if drop[best] < STEP_DOWN_MM or not after.any() or np.quantile(half_mm[after], 0.85) > grip_mm - 0.5:
        return None
    return int(middle[best])


def _level(y_mm: FloatArray, half_mm: FloatArray, at_mm: float, from_mm: float, to_mm: float) -> float:
    """Median half width between two distances before a place."""
    before = (y_mm > at_mm - from_mm) & (y_mm < at_mm - to_mm)
    return float(np.median(half_mm[before])) if before.any() else float(half_mm[0])


def _last(flags: npt.NDArray[np.bool_], up_to: int) -> int:
    """Index of the last true flag up to one index, 0 if there is none."""
    true = np.flatnonzero(flags[: up_to + 1])
    return int(true[-1]) if len(true) else 0
