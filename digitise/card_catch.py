"""From a rough quadrilateral to within a pixel of a card's sides: the straight line that most edge lies on.

A rough side may be a dozen pixels off at full size, too far for a fit that starts on the edge. Here every
line between a few offsets at either end of it is tried, and scored by the edge strength along it.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from digitise.card_light import LightWindow
from digitise.card_lines import SideLine, crossings, outlines
from digitise.card_shape import CardShape
from digitise.tone import FloatArray

_ROWS = 48
_WEAK_SLOPE = 0.012  # change of the root of light per pixel at which an edge counts half
_STEEPEST = 0.5  # difference between the end offsets, as a share of twice the reach


def caught(
    window: LightWindow, corners_px: FloatArray, shape: CardShape, reach_px: float
) -> FloatArray | None:
    """Corners (4, 2) of the lines nearest the rough sides that bear most edge; None where they do not meet.

    Each side is looked for up to ``reach_px`` either way of where it is expected.
    """
    lines = []
    for index, line in enumerate(outlines(corners_px)):
        clear = shape.corner_radius_mm / (shape.long_mm if index % 2 == 0 else shape.short_mm)
        lines.append(line.shifted(*_best_offsets(window, line, clear, reach_px)))
    return crossings(lines)


def _shares(clear: float) -> FloatArray:
    """Where along a side (_ROWS,) it is looked at."""
    return np.linspace(clear, 1 - clear, _ROWS)


@lru_cache(maxsize=8)
def _tried(count: int, clear: float) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """Which of ``count`` offsets a line has at its ends, (n, 2), and the cells (n, _ROWS) it runs through."""
    shares = _shares(clear)
    first, last = np.meshgrid(np.arange(count), np.arange(count), indexing="ij")
    pairs = np.column_stack([first.ravel(), last.ravel()])
    pairs = pairs[np.abs(pairs[:, 0] - pairs[:, 1]) <= _STEEPEST * count]
    columns = np.rint(pairs[:, :1] * (1 - shares) + pairs[:, 1:] * shares).astype(np.intp)
    return pairs, columns + count * np.arange(_ROWS)


def _best_offsets(window: LightWindow, line: SideLine, clear: float, reach_px: float) -> tuple[float, float]:
    """Outward offsets at the two ends of the line with most edge on it."""
    step = max(0.5, reach_px / 24)
    count = math.ceil(reach_px / step)
    offsets = np.arange(-count, count + 1) * step
    shares = _shares(clear)
    places = (
        line.start + shares[:, None, None] * (line.end - line.start) + offsets[None, :, None] * line.outward
    )
    tone = window.read(places)
    tone[..., 0] = np.sqrt(np.maximum(tone[..., 0], 0))  # near to stored values, where noise is even
    slope = np.zeros(tone.shape[:2])
    slope[:, 1:-1] = np.linalg.norm(tone[:, 2:] - tone[:, :-2], axis=2) / (2 * step)
    strength = slope / (slope + _WEAK_SLOPE)
    pairs, cells = _tried(len(offsets), clear)
    score = strength.ravel()[cells].mean(axis=1)
    # among equals the nearest to where the side was expected
    away = np.abs(offsets[pairs]).sum(axis=1) / reach_px
    best = pairs[int(np.argmax(score - 0.01 * away))]
    return float(offsets[best[0]]), float(offsets[best[1]])
