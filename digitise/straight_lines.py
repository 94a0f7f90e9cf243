"""Long straight lines in a reduced picture: joints of tiles and boards, a mat's grid, a table's edge."""

from __future__ import annotations

import math

import numpy as np

from digitise.tone import FloatArray

MOST_LINES = 16
_LEAST_SPAN, _LEAST_PIECE = 0.3, 0.03
"""Length of a line, and of what it is put together from, of the picture's longer side: few racquets
show lines as long as that (``vanishing`` leaves them out), and a line's bow grows with the square of its
length."""
_COVERED = 0.4
"""Least share of its length along which a line is seen: it may go on behind the racquet."""
_SEEDS, _PASSES = 48, 2
_APART_PX, _SLOPE = 1.5, 0.05
"""How far from a line its pieces' ends may lie, as a lens bends it, and by how much they may be turned."""


def long_lines(pieces: FloatArray, size_px: tuple[int, int]) -> FloatArray:
    """Lines (m, 4) as x0, y0, x1, y1 that ``pieces`` (n, 4) of edges lie along, at most MOST_LINES.

    First come those that a lens bends most: long ones far from the middle of the picture, whose width and
    height are ``size_px``.
    """
    long_px = max(size_px)
    start, end = pieces[:, :2], pieces[:, 2:]
    length = np.hypot(*(end - start).T)
    kept = np.flatnonzero(length >= _LEAST_PIECE * long_px)
    order = kept[np.argsort(-length[kept], kind="stable")]
    start, end, length = start[order], end[order], length[order]
    middle, half = (start + end) / 2, (end - start) / 2
    left = np.ones(len(order), bool)
    found: list[tuple[float, FloatArray]] = []
    for _ in range(_SEEDS):
        if not left.any():
            break
        seed = int(np.argmax(left))
        near = _in_line(middle, half, length, seed)
        left[near] = left[seed] = False
        line = _spanned(start[near], end[near], length[near])
        span = float(np.hypot(*(line[2:] - line[:2])))
        covered = _covered(start[near], end[near], line)
        if span >= _LEAST_SPAN * long_px and covered >= _COVERED * span:
            found.append((_from_middle(line, size_px) * span * covered, line))
    found.sort(key=lambda each: -each[0])
    return np.array([line for _, line in found[:MOST_LINES]]).reshape(-1, 4)


def _in_line(middle: FloatArray, half: FloatArray, length: FloatArray, seed: int) -> FloatArray:
    """Which pieces (n,) lie along the line through piece ``seed``."""
    near = np.zeros(len(length), bool)
    near[seed] = True
    for _ in range(_PASSES):
        line = _spanned(middle[near] - half[near], middle[near] + half[near], length[near])
        along = (line[2:] - line[:2]) / np.hypot(*(line[2:] - line[:2]))
        normal = np.array([-along[1], along[0]])
        turned = np.abs(half @ normal)
        apart = np.abs((middle - line[:2]) @ normal) + turned
        near = (apart < _APART_PX) & (turned < _SLOPE / 2 * length)
        near[seed] = True
    return near


def _spanned(start: FloatArray, end: FloatArray, length: FloatArray) -> FloatArray:
    """The straight line (4,) through pieces (k, 2), from the first to the last of their ends."""
    ends, weight = np.concatenate([start, end]), np.concatenate([length, length])
    middle = weight @ ends / weight.sum()
    away = ends - middle
    x, y = away.T
    turn = 0.5 * math.atan2(2 * float(weight @ (x * y)), float(weight @ (x * x - y * y)))
    along = np.array([math.cos(turn), math.sin(turn)])
    reach = away @ along
    return np.concatenate([middle + reach.min() * along, middle + reach.max() * along])


def _covered(start: FloatArray, end: FloatArray, line: FloatArray) -> float:
    """Length of ``line`` that its pieces cover."""
    along = (line[2:] - line[:2]) / np.hypot(*(line[2:] - line[:2]))
    reach = np.sort(np.column_stack([(start - line[:2]) @ along, (end - line[:2]) @ along]), axis=1)
    reach = reach[np.argsort(reach[:, 0], kind="stable")]
    before = np.maximum.accumulate(np.concatenate([[0.0], reach[:-1, 1]]))
    return float(np.maximum(reach[:, 1] - np.maximum(reach[:, 0], before), 0).sum())


def _from_middle(line: FloatArray, size_px: tuple[int, int]) -> float:
    """Distance of ``line`` from the middle of the picture."""
    along = (line[2:] - line[:2]) / np.hypot(*(line[2:] - line[:2]))
    away = (np.array(size_px) - 1) / 2 - line[:2]
    return float(abs(along[0] * away[1] - along[1] * away[0]))
