"""What the parts of a head that look different ways show in common.

A rim shows the same in each of them. A shadow falls one way, a card, a joint of tiles or a line of a mat lies
in one or two.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from digitise.table_model import Mask
from digitise.tone import FloatArray, Image

SECTORS, LEAST_ROWS, LEAST_SECTORS = 12, 25, 6
"""How many sectors, by the outline's direction; how many places 1 mm apart make one count; how many must."""
EVERY = 2
"""Of the places along every second is looked at."""
LEAST_SD = (0.04, 0.006, 0.006)
"""One sd of a step of log brightness and of both colour ratios at least: light differs, its colour hardly."""
AGREEING = 25.0
"""The percentile of the sectors' steps that counts: that many may show none."""


def courses(colour: Image, columns: npt.NDArray[np.intp], normal: FloatArray, free: Mask) -> Image:
    """The median log colour (s, m, 3) of each sector, of ``colour`` (n, k, 3) at ``columns`` (n, m) of each
    place, from places that are ``free`` (n,); none (0, m, 3) if too few sectors are seen."""
    sector = np.floor((np.arctan2(*normal.T) / (2 * np.pi) + 0.5) * SECTORS).astype(int) % SECTORS
    places = [np.flatnonzero(free & (sector == number)) for number in range(SECTORS)]
    seen = [rows[::EVERY] for rows in places if len(rows) >= LEAST_ROWS]
    if len(seen) < LEAST_SECTORS:
        return np.zeros((0, columns.shape[1], 3))
    return np.array([np.median(colour[rows[:, None], columns[rows]], axis=0) for rows in seen])


def steps_outward(along: Image, places: int) -> npt.NDArray[np.float64]:
    """Difference (s, m, 3) of the means over so many ``places`` from each on and before it; 0 near the ends.

    >>> steps_outward(np.array([1.0, 1, 1, 3, 3, 3]).reshape(1, 6, 1), 2)[0, :, 0]
    array([0., 0., 1., 2., 1., 0.])
    """
    total = np.cumsum(np.pad(along, ((0, 0), (1, 0), (0, 0))), axis=1)
    at = np.arange(places, along.shape[1] - places + 1)
    step = np.zeros(along.shape)
    step[:, at] = (total[:, at + places] - 2 * total[:, at] + total[:, at - places]) / places
    return step


def agreed(step: Image, covariance: FloatArray | None = None) -> FloatArray:
    """How large a step (m,), in sds, most sectors have in common, of ``step`` (s, m, 3).

    Told along Fisher's linear discriminant between their mean and no step, by the ``covariance`` (3, 3) of
    steps where there is none.
    """
    spread = np.diag(np.square(LEAST_SD)) + (0.0 if covariance is None else covariance)
    mean = step.mean(axis=0)
    way = mean @ np.linalg.inv(spread)
    sds = np.sqrt(np.maximum(np.sum(way * mean, axis=1), 1e-12))
    return np.asarray(np.percentile(np.einsum("skc,kc->sk", step, way) / sds, AGREEING, axis=0))
