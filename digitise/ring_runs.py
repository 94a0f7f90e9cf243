"""Stretches of a ring on which a flag holds."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from digitise.table_model import Mask


def ring_runs(flags: Mask) -> list[tuple[int, int]]:
    """(first, last) of each run of true flags (n,) on a ring; a run over the seam stays whole."""
    if flags.all():
        return [(0, len(flags) - 1)]
    start = int(np.argmin(flags))
    turned = np.roll(flags, -start).astype(int)
    steps = np.diff(np.concatenate([[0], turned, [0]]))
    firsts, lasts = np.flatnonzero(steps == 1), np.flatnonzero(steps == -1) - 1
    size = len(flags)
    return [((int(a) + start) % size, (int(b) + start) % size) for a, b in zip(firsts, lasts, strict=True)]


def run_rows(first: int, last: int, size: int) -> npt.NDArray[np.intp]:
    """Numbers of the points from ``first`` to ``last``, both among them, of a ring of ``size``.

    >>> run_rows(4, 1, 6)
    array([4, 5, 0, 1])
    """
    return (first + np.arange((last - first) % size + 1)) % size
