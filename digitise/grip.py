"""Whether a shape has a handle that a hand can hold: every racquet has, and half of one may not."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.ndimage import median_filter

from digitise.tone import FloatArray

GRIP_FROM_MM, GRIP_TO_MM = 28.0, 70.0
"""Where every racquet has plain grip: past the butt cap, well before the shortest handle ends."""
NARROWEST_MM, WIDEST_MM, UNEVEN = 15.0, 60.0, 0.25
"""A shaft whose grip was missed is narrower, no hand closes round more, and by what share of its half width a
grip may change."""
USUAL_OF_THICKNESS, POSSIBLE_OF_THICKNESS = (0.94, 1.3), (0.88, 1.42)
"""How many times as wide as thick a grip is: rendered ones 0.96 to 1.29. Of 2,283 outlines those farther off
than the second lay on a highlight, a wrap or a shadow; those that were right had 0.95 to 1.34."""
SHORTEST_GRIP_MM = 85.0
"""From the butt's end to where the neck or shaft begins, of bats that are held by a few fingers."""
RIPPLE_MM = 15.0
"""Notches and spurs of a rough shape up to this long do not end a grip."""


def grip_length_mm(y_mm: FloatArray, half_mm: FloatArray) -> float:
    """How far from the butt a shape goes on as wide as its grip, 0 where it is too wide to be one.

    ``half_mm`` (n,) are its half widths at the even places ``y_mm`` (n,) from the butt.
    """
    half = grip_half_mm(y_mm, half_mm)
    if 2 * half > WIDEST_MM:
        return 0.0
    smooth = median_filter(half_mm, max(round(RIPPLE_MM / (y_mm[1] - y_mm[0])), 1), mode="nearest")
    uneven = (y_mm > GRIP_FROM_MM) & (np.abs(smooth / half - 1) > UNEVEN)
    return float(y_mm[int(np.argmax(uneven))] if uneven.any() else y_mm[-1])


def has_grip(y_mm: FloatArray, half_mm: FloatArray) -> bool:
    """Whether the shape begins with a handle as long and as thick as a hand needs."""
    thick = 2 * grip_half_mm(y_mm, half_mm) >= NARROWEST_MM
    return thick and grip_length_mm(y_mm, half_mm) >= SHORTEST_GRIP_MM


def suits_thickness(width_mm: float, thickness_mm: float, sd_mm: float) -> bool:
    """Whether a grip of that width may be as thick as that, known to ``sd_mm``."""
    narrowest_mm, widest_mm = widths_mm(POSSIBLE_OF_THICKNESS, thickness_mm, sd_mm)
    return narrowest_mm <= width_mm <= widest_mm


def widths_mm(of_thickness: tuple[float, float], thickness_mm: float, sd_mm: float) -> tuple[float, float]:
    """Least and greatest width of a grip that is between so many times as wide as thick, its thickness known
    to ``sd_mm``."""
    least, most = of_thickness
    return least * (thickness_mm - sd_mm), most * (thickness_mm + sd_mm)


def unsuited_grip(
    ring_mm: FloatArray, width_mm: float, top_mm: float, thickness_mm: float, sd_mm: float
) -> npt.NDArray[np.bool_]:
    """Where (n,) a ring (n, 2) is that of a grip which cannot be as thick as that, known to ``sd_mm``; it is
    ``width_mm`` wide and ends at ``top_mm`` from the butt."""
    if suits_thickness(width_mm, thickness_mm, sd_mm):
        return np.zeros(len(ring_mm), bool)
    y_mm = ring_mm[:, 1] - ring_mm[:, 1].min()
    return np.asarray((y_mm > GRIP_FROM_MM) & (y_mm < max(top_mm, GRIP_TO_MM)))


def grip_half_mm(y_mm: FloatArray, half_mm: FloatArray) -> float:
    """Median half width of the grip, infinite where the shape ends before one; arguments as for
    ``grip_length_mm``."""
    grip = (y_mm > GRIP_FROM_MM) & (y_mm < GRIP_TO_MM)
    return float(np.median(half_mm[grip])) if grip.any() else np.inf
