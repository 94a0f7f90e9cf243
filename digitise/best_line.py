"""The line through a picture, one column for each row, that gains most in all: dynamic programming.

Used with rows along an outline or an axis and columns across it. Several pictures are searched at once,
which costs hardly more than one.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from digitise.table_model import Image

LEAD_ROWS = 200
"""Rows by which a closed line is prolonged at both ends, so that where it is cut open does not show."""


def best_lines(
    gain: Image, step_cost: float, max_step: int, jump_cost: float = np.inf
) -> npt.NDArray[np.int64]:
    """Columns (b, rows) of the lines that gain most, of ``gain`` (b, rows, cols).

    From row to row a line moves by up to ``max_step`` columns, each at ``step_cost``; for ``jump_cost``
    it may start anew from wherever the row before gained most.
    """
    count, rows, cols = gain.shape
    cost = step_cost * np.abs(np.arange(-max_step, max_step + 1)).astype(np.float32)
    padded = np.full((count, rows, cols + 2 * max_step), -1e9, np.float32)
    totals = padded[:, :, max_step : max_step + cols]
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * max_step + 1, axis=2)
    options = np.empty((count, cols, 2 * max_step + 1), np.float32)
    totals[:, 0] = gain[:, 0]
    jumps = np.isfinite(jump_cost)
    for row in range(1, rows):
        here = totals[:, row]
        np.subtract(windows[:, row - 1], cost, out=options)
        np.max(options, axis=2, out=here)
        if jumps:
            np.maximum(here, totals[:, row - 1].max(axis=1, keepdims=True) - np.float32(jump_cost), out=here)
        here += gain[:, row]
    lines = np.empty((count, rows), np.int64)
    for k in range(count):
        lines[k] = _way_back(totals[k], padded[k], cost, max_step, jump_cost)
    return lines


def _way_back(
    totals: Image, padded: Image, cost: Image, max_step: int, jump_cost: float
) -> npt.NDArray[np.int64]:
    rows = len(totals)
    line = np.empty(rows, np.int64)
    line[-1] = int(totals[-1].argmax())
    for row in range(rows - 1, 0, -1):
        at = line[row]
        options = padded[row - 1, at : at + 2 * max_step + 1] - cost
        best = int(options.argmax())
        line[row - 1] = at + best - max_step
        if np.isfinite(jump_cost):
            peak = int(totals[row - 1].argmax())
            if totals[row - 1, peak] - jump_cost > options[best]:
                line[row - 1] = peak
    return line


def best_closed_line(gain: Image, step_cost: float, max_step: int) -> npt.NDArray[np.int64]:
    """Column (n,) of each row of ``gain`` (n, k), cyclic in n, that gains most in all."""
    lead = min(len(gain), LEAD_ROWS)
    unrolled = np.concatenate([gain[-lead:], gain, gain[:lead]])[None]
    return best_lines(unrolled, step_cost, max_step)[0, lead : lead + len(gain)]
