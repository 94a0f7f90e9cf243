"""Which points lie near each other, and which things hang together by such pairs."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from digitise.tone import FloatArray


def near_pairs(points: FloatArray, reach: float) -> npt.NDArray[np.intp]:
    """Pairs (m, 2) of ``points`` (n, 2) up to ``reach`` apart, each once, the first of them the earlier one.

    >>> near_pairs(np.array([[0.0, 0.0], [9.0, 0.0], [3.0, 4.0]]), 5.0).tolist()
    [[0, 2]]
    """
    # A sweep over x in rows as high as the reach. The trees of scipy and Shapely do it as fast, but take long
    # to load.
    if len(points) == 0:
        return np.zeros((0, 2), np.intp)
    row = np.floor(points[:, 1] / reach)
    apart = float(np.ptp(points[:, 0])) + 3 * reach
    place = points[:, 0] + apart * row
    order = np.argsort(place, kind="stable")
    (x, y), place = points[order].T, place[order]
    own = np.arange(len(points))
    slack = 1e-9 * float(np.abs(place).max())
    firsts, seconds = [], []
    for ahead, from_ in ((0.0, own + 1), (apart, np.searchsorted(place, place + apart - reach - slack))):
        partners = np.searchsorted(place, place + ahead + reach + slack, side="right") - from_
        first = np.repeat(own, partners)
        firsts.append(first)
        seconds.append(np.arange(len(first)) + np.repeat(from_ - np.cumsum(partners) + partners, partners))
    first, second = np.concatenate(firsts), np.concatenate(seconds)
    near = (x[first] - x[second]) ** 2 + (y[first] - y[second]) ** 2 <= reach**2
    pairs = np.sort(np.column_stack([order[first[near]], order[second[near]]]), axis=1)
    return np.asarray(pairs[np.lexsort(pairs.T[::-1])], np.intp)


def hanging_together(
    first: npt.NDArray[np.intp], second: npt.NDArray[np.intp], count: int
) -> npt.NDArray[np.intp]:
    """Number (count,) of the group, 0, 1, ... in order of their first members, that each of ``count`` things
    is in, where ``first`` and ``second`` (m,) are joined.

    >>> hanging_together(np.array([0, 2]), np.array([3, 0]), 5).tolist()
    [0, 1, 0, 0, 2]
    """
    least = np.arange(count)
    while True:
        low = np.minimum(least[first], least[second])
        lower = least.copy()
        np.minimum.at(lower, first, low)
        np.minimum.at(lower, second, low)
        lower = lower[lower]
        if np.array_equal(lower, least):
            return np.asarray(np.unique(least, return_inverse=True)[1], np.intp)
        least = lower
