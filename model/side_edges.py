"""Where a racquet is widest, and where its side edges are straight, from its half widths along the axis."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.measured import Measured
from model.outline import Outline

Array = NDArray[np.float64]

STEP_MM = 1.0
ON_PLACE = 1e-9  # of a step: a corner of the ring on a place belongs to both its sides
EDGE_SD_MM = 0.2
"""How exact an outline from a photo is across its edge."""
STRAIGHT_MM, LEAST_MM = 0.3, 80.0
"""A side is straight where no place is farther from one line, if that goes on for so long. A round side that
passes has a radius of 1.3 m at least."""
LOOSER = 1.5
"""An end's sd is how far it moves when the side may stray by so many times as much."""
FLAT_SHARE = 0.6
"""Half widths over this share of the largest are the head's."""


@dataclass(frozen=True)
class StraightSides:
    """Start and end of the straight side edges, mm from the butt, each with its sd."""

    start_mm: Measured
    end_mm: Measured


def half_widths(outline: Outline) -> tuple[Array, Array]:
    """(y, half width), both (n,), mm, at every whole mm along the axis where the outline has two sides."""
    x, y = outline.outer_mm.T
    places = np.arange(np.ceil(y.min()) + 1, y.max() - 1, STEP_MM)
    right = _outermost(places, x, y)
    left = _outermost(places, -x, y)
    return places, (right + left) / 2


def _outermost(places: Array, x: Array, y: Array) -> Array:
    """The largest x at each of the equally spaced places along y, where a closed ring crosses it."""
    x2, y2 = np.roll(x, -1), np.roll(y, -1)
    # The places that each side of the ring crosses: from the first to the last of them.
    first = np.ceil((np.minimum(y, y2) - places[0]) / STEP_MM - ON_PLACE).clip(0).astype(int)
    last = (
        np.floor((np.maximum(y, y2) - places[0]) / STEP_MM + ON_PLACE).clip(-1, len(places) - 1).astype(int)
    )
    count = np.where(y == y2, 0, (last - first + 1).clip(0))
    side = np.repeat(np.arange(len(x)), count)
    place = np.arange(len(side)) - np.repeat(np.cumsum(count) - count - first, count)
    along = (places[place] - y[side]) / (y2 - y)[side]
    found = np.full(len(places), -np.inf)
    np.maximum.at(found, place, x[side] + along * (x2 - x)[side])
    return found


def widest(y: Array, half: Array) -> Measured:
    """Where a racquet of these half widths is widest: the middle of all that is as wide within the edge's sd,
    and its sd, that of an even chance over it."""
    flat = y[half > half.max() - EDGE_SD_MM]
    return Measured(float((flat[0] + flat[-1]) / 2), float((flat[-1] - flat[0] + STEP_MM) / np.sqrt(12)))


def straight_sides(y: Array, half: Array) -> StraightSides | None:
    """The longest straight stretch of the head's side edges, None where they are round all along."""
    head = half > FLAT_SHARE * half.max()
    y, half = y[head], half[head]
    tight = _longest(y, half, STRAIGHT_MM)
    if tight is None:
        return None
    loose = _longest(y, half, LOOSER * STRAIGHT_MM) or tight
    ends = [Measured(a, max(abs(a - b), STEP_MM)) for a, b in zip(tight, loose, strict=True)]
    return StraightSides(*ends)


def _longest(y: Array, half: Array, stray_mm: float) -> tuple[float, float] | None:
    """(start, end) of the longest stretch over which one line stays within ``stray_mm``."""
    best: tuple[float, float] | None = None
    for first in range(0, len(y), 2):
        low = first + int(max(LEAST_MM, 0.0 if best is None else best[1] - best[0] + 1) / STEP_MM)
        while low < len(y) and _stray(y[first : low + 1], half[first : low + 1]) <= stray_mm:
            best = (float(y[first]), float(y[low]))
            low += 2
    return best


def _stray(y: Array, half: Array) -> float:
    """Largest distance of places from their own least-squares line."""
    along, across = y - y.mean(), half - half.mean()
    return float(np.abs(across - along * (along @ across) / (along @ along)).max())
