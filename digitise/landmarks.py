"""Places along the outline that the mass model needs: the handle's width and top, the butt's width.

Read from the half width along the axis, which is even and needs no picture.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d

from digitise.tone import FloatArray

GRIP_FROM_MM, GRIP_TO_MM = 28.0, 70.0
"""Where every racquet has plain grip: past the butt cap, well before the shortest handle ends."""
FLARED, TAPERED = 1.25, 0.70
"""Half width, as a share of the grip's, at which the neck or the shaft has surely begun."""
COLLAR_STEP_MM = 0.5
"""Least step down at the end of a grip, in half width: the thickness of a wrap or of its collar."""
COLLAR_SEARCH_MM = 30.0
"""How far before the neck or shaft the grip's end is looked for."""

LEAST_HEAD = 0.15
"""Share of a racquet's length that its head has at the very least."""


@dataclass(frozen=True)
class HandleMarks:
    """``width_mm`` of the grip, ``butt_width_mm`` of the butt cap, ``top_mm`` where the grip ends."""

    width_mm: float
    butt_width_mm: float
    top_mm: float
    top_sd_mm: float


def has_head(marks: HandleMarks, length_mm: float) -> bool:
    """Whether a head is left beyond the handle: at least ``LEAST_HEAD`` of the whole length."""
    return marks.top_mm < (1 - LEAST_HEAD) * length_mm


def half_widths(ring_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """(y_mm, half width_mm), 1 mm apart from the butt, of a ring (n, 2) in the racquet's frame."""
    low, high = ring_mm[:, 1].min(), ring_mm[:, 1].max()
    y_mm = np.arange(np.ceil(low) + 1, high, 1.0)
    nxt = np.roll(ring_mm, -1, axis=0)
    half = np.zeros_like(y_mm)
    for (x0, y0), (x1, y1) in zip(ring_mm, nxt, strict=True):
        first, last = np.searchsorted(y_mm, [min(y0, y1), max(y0, y1)])
        if last > first:
            t = (y_mm[first:last] - y0) / (y1 - y0)
            half[first:last] += np.abs(x0 + t * (x1 - x0)) / 2
    return y_mm - low, half


def handle_marks(y_mm: FloatArray, half_mm: FloatArray) -> HandleMarks:
    """Handle marks from half widths ``half_mm`` at ``y_mm``, both (n,), y from the butt, 1 mm apart."""
    grip = (y_mm > GRIP_FROM_MM) & (y_mm < GRIP_TO_MM)
    half = float(np.median(half_mm[grip])) if grip.any() else float(half_mm[: len(half_mm) // 4].mean())
    butt = float(np.quantile(half_mm[(y_mm > 1) & (y_mm < 15)], 0.85)) if len(y_mm) > 15 else half
    past = (y_mm > GRIP_TO_MM) & ((half_mm > FLARED * half) | (half_mm < TAPERED * half))
    end = float(y_mm[int(np.argmax(past))]) if past.any() else 0.35 * float(y_mm[-1])
    step_mm, at_mm = _collar(y_mm, half_mm, max(GRIP_TO_MM, end - COLLAR_SEARCH_MM), end)
    if step_mm > COLLAR_STEP_MM:
        return HandleMarks(2 * half, 2 * max(butt, half), at_mm, 2.0)
    changed = (y_mm > GRIP_TO_MM) & (np.abs(half_mm / half - 1) > 0.08) & (y_mm <= end)
    top = float(y_mm[int(np.argmax(changed))]) if changed.any() else end
    return HandleMarks(2 * half, 2 * max(butt, half), top, 5.0)


def _collar(y_mm: FloatArray, half_mm: FloatArray, from_mm: float, to_mm: float) -> tuple[float, float]:
    """Largest step down in half width within 4 mm between two places, and where it is."""
    smooth = gaussian_filter1d(half_mm, 0.8)
    drop = smooth[:-4] - smooth[4:]
    middle = y_mm[2:-2]
    inside = (middle > from_mm) & (middle < to_mm)
    if not inside.any():
        return 0.0, to_mm
    best = int(np.argmax(np.where(inside, drop, -np.inf)))
    return float(drop[best]), float(middle[best])
