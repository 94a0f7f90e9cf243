"""How round a quadrilateral's corners are: a card's are round, those of paper, tiles and grids are not."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from digitise.card_light import LightWindow
from digitise.card_lines import median
from digitise.card_shape import CardShape
from digitise.tone import FloatArray

_BESIDE_MM = 0.9  # how far beside an edge card and table are looked at
_FURTHER_MM = (3.5, 7.0)  # where the table goes on, but what lies beyond a joint of tiles or boards does not
_CARD_LIKE, _TABLE_LIKE = 0.55, 0.45  # of the way from table to card
_LEAST_STEP = 0.015  # light or colour by which card and table must differ


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
    return float(median(np.array(begins)))


def is_card_corner(
    window: LightWindow, corners_px: FloatArray, index: int, shape: CardShape, px_per_mm: float
) -> bool:
    """Whether corner ``index`` looks like a card's: card within the arc, table beyond it, both plain.

    Near the corner, card and table are taken beside its two straight sides; every place just inside the arc
    must look more like the card, every place just outside it, and the sharp corner itself, like the table.
    """
    corner = corners_px[index]
    ahead, behind = corners_px[(index + 1) % 4] - corner, corners_px[index - 1] - corner
    ahead, behind = ahead / math.hypot(*ahead), behind / math.hypot(*behind)
    radius = shape.corner_radius_mm

    def values(places_mm: FloatArray) -> FloatArray:
        """What is seen at places given in mm along the two sides from the sharp corner."""
        points = corner + px_per_mm * (places_mm[:, :1] * ahead + places_mm[:, 1:] * behind)
        return np.asarray(window.read(points[None])[0])

    run = np.linspace(radius, 3 * radius, 9)

    def beside(out_mm: float) -> FloatArray:
        """Places along both sides, ``out_mm`` outside of them, negative inside."""
        off = np.full(len(run), -out_mm)
        return np.concatenate([np.column_stack([run, off]), np.column_stack([off, run])])

    card = beside(-_BESIDE_MM)
    table = np.concatenate([beside(out_mm) for out_mm in (_BESIDE_MM, *_FURTHER_MM)])
    on_card, on_table = values(card), values(table)
    difference = on_card.mean(axis=0) - on_table.mean(axis=0)
    power = max(float(difference @ difference), 1e-12)
    angle = np.radians(np.linspace(200.0, 250.0, 5))
    spokes = np.column_stack([np.cos(angle), np.sin(angle)])
    inside = radius + (radius - _BESIDE_MM) * spokes
    outside = np.concatenate([radius + (radius + _BESIDE_MM) * spokes, [[0.0, 0.0]]])

    def share(seen: FloatArray) -> FloatArray:
        """0 like the table, 1 like the card."""
        return np.asarray((seen - on_table.mean(axis=0)) @ difference / power)

    plain = share(on_card).min() > _CARD_LIKE and share(on_table).max() < _TABLE_LIKE
    return bool(
        plain
        and share(values(inside)).min() > _CARD_LIKE
        and share(values(outside)).max() < _TABLE_LIKE
        and math.sqrt(power) > _LEAST_STEP
    )
