"""Median over neighbouring rows of a picture, faster than a filter of any shape."""

from __future__ import annotations

import numpy as np

from digitise.tone import Image

_AT_ONCE = 24_000  # values in one go, so that they stay in the processor's nearest memory


def row_median(values: Image, rows: int) -> Image:
    """Median (n, k), float32, of ``values`` (n, k) over ``rows`` rows, an odd number, round the closure.

    Of a few more than half of the rows neither the least nor the most can be the median; both are left
    out, the next row takes a place, and so on until one is left.
    """
    count, cols = values.shape
    reach = rows // 2
    around = np.arange(-reach, count + reach) % count
    padded = np.asarray(values, np.float32)[around]
    out = np.empty((count, cols), np.float32)
    few = max(_AT_ONCE // cols, 1)
    for first in range(0, count, few):
        last = min(first + few, count)
        out[first:last] = _median_of([padded[first + k : last + k] for k in range(rows)])
    return out


def column_median(values: Image, rows: int) -> Image:
    """The same of a picture that does not close on itself: past its ends it goes on as its mirror image."""
    reach = rows // 2
    padded = np.pad(np.asarray(values, np.float32), ((reach, reach), (0, 0)), mode="symmetric")
    return _median_of([padded[k : k + len(values)] for k in range(rows)])


def _median_of(values: list[Image]) -> Image:
    """Median of an odd number of pictures, place by place."""
    first = len(values) // 2 + 2
    kept = [value.copy() for value in values[:first]]
    rest = iter(values[first:])
    spare = np.empty_like(kept[0])
    while len(kept) > 1:
        spare = _ends_apart(kept, spare)
        kept = kept[1:-1]
        if (value := next(rest, None)) is not None:
            kept.append(value.copy())
    return kept[0]


def _ends_apart(kept: list[Image], spare: Image) -> Image:
    """Bring the least of each place to the first picture and the most to the last; gives a free array."""
    count = len(kept)
    pairs = [(k, count - 1 - k) for k in range(count // 2)]
    pairs += [(0, k) for k in range(1, (count + 1) // 2)]
    pairs += [(k, count - 1) for k in range(count // 2, count - 1)]
    for low, high in pairs:
        np.minimum(kept[low], kept[high], out=spare)
        np.maximum(kept[low], kept[high], out=kept[high])
        kept[low], spare = spare, kept[low]
    return spare
