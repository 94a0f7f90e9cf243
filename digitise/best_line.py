"""The line through a picture, one column for each row, that gains most in all: dynamic programming.

Used with rows along an outline or an axis and columns across it. Several pictures are searched at once,
which costs hardly more than one; so each is searched from both ends to its middle.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from digitise.tone import Image

LEAD_ROWS = 80
"""Rows by which a closed line is prolonged at both ends, so that where it is cut open does not show."""
RULED_OUT = np.float32(-1e6)
"""As much as a place can lose: far more than a whole line gains."""
_AT_ONCE = 16_000  # places looked at in one go, so that they stay in the processor's nearest memory


@dataclass(frozen=True)
class _Moves:
    """``cost`` (2 max_step + 1,) of each move from one row to the next, and that of a jump."""

    cost: Image
    max_step: int
    jump: float


def best_lines(
    gain: Image, step_cost: float, max_step: int, jump_cost: float = np.inf
) -> npt.NDArray[np.int64]:
    """Columns (b, rows) of the lines that gain most, of ``gain`` (b, rows, cols).

    From row to row a line moves by up to ``max_step`` columns, each at ``step_cost``; for ``jump_cost``
    it may start anew from wherever the row before gained most.
    """
    count, rows, cols = gain.shape
    middle = rows // 2
    # From the start to the middle row and from the end to it, where there is one row less if rows are even.
    ways = np.zeros((middle + 1, 2 * count, cols), np.float32)
    ways[:, :count] = gain[:, : middle + 1].swapaxes(0, 1)
    ways[1 - rows % 2 :, count:] = gain[:, middle:][:, ::-1].swapaxes(0, 1)
    np.maximum(ways, RULED_OUT, out=ways)  # of an infinite loss nothing could be taken away again
    cost = step_cost * np.abs(np.arange(-max_step, max_step + 1))
    moves = _Moves(cost.astype(np.float32), max_step, jump_cost)
    padded = _totals(ways, moves)
    before = _before(padded, moves)
    at_middle = padded[-1, :, max_step : max_step + cols]
    meet = (at_middle[:count] + at_middle[count:] - ways[-1, :count]).argmax(axis=1)
    lines = np.empty((count, rows), np.int64)
    for k, column in enumerate(meet.tolist()):
        lines[k, : middle + 1] = _way_back(before[:, k], column)
        lines[k, middle:] = _way_back(before[:, count + k], column)[1 - rows % 2 :][::-1]
    return lines


def _totals(gain: Image, moves: _Moves) -> Image:
    """Most that a line to each place gains, of ``gain`` (rows, b, cols), padded by max_step columns."""
    rows, count, cols = gain.shape
    step = moves.max_step
    padded = np.full((rows, count, cols + 2 * step), -1e9, np.float32)
    totals = padded[:, :, step : step + cols]
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * step + 1, axis=2).transpose(0, 3, 1, 2)
    cost = moves.cost[:, None, None]
    options = np.empty((2 * step + 1, count, cols), np.float32)
    totals[0] = gain[0]
    for row in range(1, rows):
        here = totals[row]
        np.subtract(windows[row - 1], cost, out=options)
        np.maximum.reduce(options, axis=0, out=here)
        if moves.jump < np.inf:
            peak = np.maximum.reduce(totals[row - 1], axis=1, keepdims=True)
            np.maximum(here, peak - np.float32(moves.jump), out=here)
        here += gain[row]
    return padded


def _before(padded: Image, moves: _Moves) -> npt.NDArray[np.int16]:
    """The column (rows - 1, b, cols) that the best line to each place of the next row comes from."""
    rows, count, width = padded.shape
    before = np.empty((rows - 1, count, width - 2 * moves.max_step), np.int16)
    few = max(_AT_ONCE // (count * width), 1)
    for first in range(0, rows - 1, few):
        part = slice(first, min(first + few, rows - 1))
        before[part] = _comes_from(padded[part], moves)
    return before


def _comes_from(padded: Image, moves: _Moves) -> npt.NDArray[np.integer[Any]]:
    """``_before`` for some of the rows."""
    step = moves.max_step
    cols = padded.shape[2] - 2 * step
    most = padded[:, :, :cols] - moves.cost[0]
    moved = np.zeros(most.shape, np.int16)
    option = np.empty_like(most)
    for k in range(1, 2 * step + 1):
        np.subtract(padded[:, :, k : k + cols], moves.cost[k], out=option)
        np.putmask(moved, option > most, k)
        np.maximum(most, option, out=most)
    moved += np.arange(-step, cols - step, dtype=np.int16)
    if moves.jump == np.inf:
        return moved
    totals = padded[:, :, step : step + cols]
    peak = totals.argmax(axis=2, keepdims=True)
    jumps = np.take_along_axis(totals, peak, axis=2) - np.float32(moves.jump) > most
    return np.where(jumps, peak, moved)


def _way_back(before: npt.NDArray[np.int16], column: int) -> list[int]:
    """Columns of each row of the line that ends in ``column`` of the last one."""
    line = [column]
    table, cols = np.ascontiguousarray(before).ravel().tolist(), before.shape[1]
    for row in range(len(before) - 1, -1, -1):
        column = table[row * cols + column]
        line.append(column)
    return line[::-1]


def best_closed_line(gain: Image, step_cost: float, max_step: int) -> npt.NDArray[np.int64]:
    """Column (n,) of each row of ``gain`` (n, k), cyclic in n, that gains most in all."""
    lead = min(len(gain), LEAD_ROWS)
    unrolled = np.concatenate([gain[-lead:], gain, gain[:lead]])[None]
    return best_lines(unrolled, step_cost, max_step)[0, lead : lead + len(gain)]


def best_mirrored_line(gain: Image, step_cost: float, max_step: int) -> npt.NDArray[np.int64]:
    """The same for a ``gain`` (n, k) of which row i equals row -i: the line has that symmetry too.

    Half of it is searched. No closed line gains more: any one's better half, mirrored, gains as much.
    """
    last = len(gain) // 2
    half = np.array(gain[None, : last + 1])
    half[0, 0] /= 2  # rows that mirror themselves count once, all others twice
    if len(gain) % 2 == 0:
        half[0, -1] /= 2
    line = best_lines(half, step_cost, max_step)[0]
    return np.concatenate([line, line[1 : len(gain) - last][::-1]])
