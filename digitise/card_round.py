"""How round a quadrilateral's corners are: a card's are round, those of paper, tiles and grids are not."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from digitise.card_light import LightWindow
from digitise.tone import FloatArray


def corner_rounding_mm(
    window: LightWindow,
    corners_px: FloatArray,
    px_per_mm: float,
    counted: npt.NDArray[np.bool_] | None = None,
) -> float:
    """How far inside the sharp corner the card begins along the diagonal, in mm: the median of the corners
    (of those ``counted`` (4,), if given; at least one).

    0.41 times the corner's radius for a right-angled corner, 0 for a sharp one.
    """
    begins = []
    reach = np.arange(-3.0, 5.0, 0.1)
    for index in range(4) if counted is None else np.flatnonzero(counted):
        corner = corners_px[index]
        ahead, behind = corners_px[(index + 1) % 4] - corner, corners_px[index - 1] - corner
        inward = ahead / math.hypot(*ahead) + behind / math.hypot(*behind)
        inward /= math.hypot(*inward)
        light = window.read((corner + (reach * px_per_mm)[:, None] * inward)[None])[0]
        card = light[reach > 3.0].mean(axis=0)
        table = light[reach < -1.0].mean(axis=0)
        share = (light - table) @ (card - table) / max(float((card - table) @ (card - table)), 1e-9)
        begins.append(float(np.trapezoid(1.0 - np.clip(share, 0, 1), reach) + reach[0]))
    return float(np.median(begins))
