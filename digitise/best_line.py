"""The line through a picture, one column for each row, that gains most in all: dynamic programming.

Used with rows along an outline or an axis and columns across it. Several pictures are searched at once,
which costs hardly more than one; so each is searched from both ends to its middle.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from digitise.tone import Image

LEAD_ROWS = 80
"""Rows by which a closed line is prolonged at both ends, so that where it is cut open does not show."""
RULED_OUT, BESIDE = np.float32(-1e6), np.float32(-1e9)
"""As much as a place can lose, far more than a whole line gains, and what one beside the picture does."""
_AT_ONCE = 12_000  # places looked at in one go, so that they stay in the processor's nearest memory


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
    middle, odd = rows // 2, rows % 2
    # From the start to the middle row and from the end to it, where there is one row less if rows are even.
    ways = np.full((middle + 1, 2 * count, cols + 2 * max_step), BESIDE, np.float32)
    seen = ways[:, :, max_step : max_step + cols]
    seen[:, :count] = gain[:, : middle + 1].swapaxes(0, 1)
    seen[0, count:] = 0
    seen[1 - odd :, count:] = gain[:, middle:][:, ::-1].swapaxes(0, 1)
    np.maximum(seen, RULED_OUT, out=seen)  # of an infinite loss nothing could be taken away again
    cost = step_cost * np.abs(np.arange(-max_step, max_step + 1))
    moves = _Moves(cost.astype(np.float32), max_step, jump_cost)
    twice = seen[-1, :count].copy()
    _add_up(ways, moves)
    meet = (seen[-1, :count] + seen[-1, count:] - twice).argmax(axis=1)
    ways_back = _ways_back if jump_cost == np.inf else _ways_back_jumping
    halves = ways_back(ways, np.tile(meet, 2), moves)
    return np.hstack([halves[:count], halves[count:, 1 - odd : middle][:, ::-1]])


def _add_up(ways: Image, moves: _Moves) -> None:
    """Make of what each place of ``ways`` (rows, b, cols) gains the most that a line to it gains.

    There are max_step columns BESIDE at each side. A row of all pictures is gone through as one line, which
    is several times faster: what reaches over from one picture to the next meets a column BESIDE.
    """
    width = ways.shape[2]
    flat = ways.reshape(len(ways), -1)
    size = flat.shape[1] - 2 * moves.max_step
    inner = slice(moves.max_step, moves.max_step + size)
    cost, jump = moves.cost[:, None], np.float32(moves.jump)
    options, best = np.empty((len(cost), size), np.float32), np.empty(size, np.float32)
    windows = np.lib.stride_tricks.sliding_window_view(flat, size, axis=1)
    # where results go is told by place, not by name: of so short calls that is a tenth of the time
    subtract, add, most = np.subtract, np.add, np.maximum.reduce
    for before, window, here in zip(ways, windows, flat[1:, inner], strict=False):
        subtract(window, cost, options)
        most(options, 0, out=best)
        if jump < np.inf:
            peak = np.maximum.reduce(before, axis=1) - jump
            np.maximum(best, peak.repeat(width)[inner], out=best)
        add(here, best, here)


def _ways_back(totals: Image, columns: npt.NDArray[np.int64], moves: _Moves) -> npt.NDArray[np.int64]:
    """Columns (b, rows) of the lines that end in ``columns`` (b,) of the last row, of the ``totals`` (rows,
    b, cols) that ``_add_up`` leaves."""
    rows, count, width = totals.shape
    came_by = _came_by(totals, moves).data  # one by one its values come faster than an array's
    lines = np.empty((count, rows), np.int64)
    lines[:, -1] = columns
    for k, line in enumerate(lines):
        at, first = int(columns[k]), k * width
        for row in range(rows - 2, -1, -1):
            at += came_by[row, first + at] - moves.max_step
            line[row] = at
    return lines


def _came_by(totals: Image, moves: _Moves) -> npt.NDArray[np.uint8]:
    """By which of the moves the best line to each place of the next row comes (rows - 1, places), of all
    pictures one beside the other. Of all places at once: to ask along a line, row by row, takes longer."""
    rows = len(totals)
    flat = totals.reshape(rows, -1)
    size = flat.shape[1] - 2 * moves.max_step
    came_by = np.zeros((rows - 1, size), np.uint8)
    few = max(_AT_ONCE // size, 1)
    for part in (slice(first, min(first + few, rows - 1)) for first in range(0, rows - 1, few)):
        best = flat[part, :size] - moves.cost[0]
        option, better = np.empty_like(best), np.empty(best.shape, bool)
        for move in range(1, len(moves.cost)):
            np.subtract(flat[part, move : move + size], moves.cost[move], out=option)
            np.greater(option, best, out=better)
            np.maximum(best, option, out=best)
            # of moves in rising order the last that is better is the best
            np.maximum(came_by[part], better.view(np.uint8) * np.uint8(move), out=came_by[part])
    return came_by


def _ways_back_jumping(totals: Image, columns: npt.NDArray[np.int64], moves: _Moves) -> npt.NDArray[np.int64]:
    """The same where lines may jump, row by row of all pictures at once, for there are many of them."""
    rows, count, width = totals.shape
    values, picture = totals.ravel(), np.arange(count)
    peaks = totals.max(axis=2) - np.float32(moves.jump)
    chosen = np.empty((rows, count), np.int64)
    # Where in ``values`` the places are from which the line may come.
    at = (((rows - 2) * count + picture) * width + columns)[:, None] + np.arange(len(moves.cost))
    to_next_row = -moves.max_step - count * width
    for row in range(rows - 2, -1, -1):
        options = values.take(at)
        options -= moves.cost
        here = options.argmax(axis=1, out=chosen[row])
        for k in np.flatnonzero(peaks[row] > options.max(axis=1)):
            here[k] = totals[row, k].argmax() + (row * count + k) * width - at[k, 0]
        at += (here + to_next_row)[:, None]
    chosen -= moves.max_step
    chosen[-1] = columns
    return chosen[::-1].cumsum(axis=0)[::-1].T


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
