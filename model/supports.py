"""A racquet laid across two supports, one of them on a scale: what the scale shows.

Moments about the other support: R (scale - block) = M (b - block), b the balance point, all
distances from the butt. If the racquet is not level, b is the point on the line of contacts
straight below the balance point: b - h tan(tilt), h its height above that line.
"""

from __future__ import annotations

import math


def scale_shows_g(
    mass_g: float,
    balance_mm: float,
    block_mm: float,
    scale_mm: float,
    tilt_deg: float = 0.0,
    height_mm: float = 0.0,
) -> float:
    """What the scale under one support shows; ``tilt_deg`` is positive when the tip is the higher end.

    >>> round(scale_shows_g(231, 238, 10, 390), 1)
    138.6
    """
    below = balance_mm - height_mm * math.tan(math.radians(tilt_deg))
    return mass_g * (below - block_mm) / (scale_mm - block_mm)


def balance_from_scale_mm(
    mass_g: float,
    shown_g: float,
    block_mm: float,
    scale_mm: float,
    tilt_deg: float = 0.0,
    height_mm: float = 0.0,
) -> float:
    """The balance point from what the scale shows: :func:`scale_shows_g` turned round."""
    level = block_mm + shown_g / mass_g * (scale_mm - block_mm)
    return level + height_mm * math.tan(math.radians(tilt_deg))


def width_sd_mm(width_mm: float) -> float:
    """Sd of where on a flat support of this width a racquet rests: anywhere on it alike, width / √12."""
    return width_mm / math.sqrt(12)
