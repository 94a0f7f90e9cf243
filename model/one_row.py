"""A linear program with a single row, by sorting: a fractional knapsack (Dantzig 1957).

Most searches have one limit, so their program has one row. Its answer needs no solver: cells are
filled, or emptied, in the order of what a unit of the row costs there until the row is met.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

MET = 1e-9  # of the row's largest term: a row that can be met but for rounding is met


def one_row(cost: Array, row: Array, side: float, room: Array) -> tuple[Array, float] | None:
    """x (n,) of least cost·x with row·x ≤ side and 0 ≤ x ≤ room, and the row's price; None if there is none.

    One unit more of ``side`` lowers the least cost by the price.
    """
    x = np.where(cost < 0, room, 0.0)
    terms = row * room
    over = float(row @ x) - side
    if over <= 0:
        return x, 0.0
    # To lower the row, full cells of positive terms are emptied and empty ones of negative terms filled.
    helps = np.flatnonzero(np.where(cost < 0, terms > 0, terms < 0))
    price = -cost[helps] / row[helps]
    order = price.argsort(kind="stable")
    helps, price = helps[order], price[order]
    lowered = np.abs(terms[helps]).cumsum()
    short = MET * float(np.abs(terms).max())
    if not len(helps) or lowered[-1] < over - short:
        return None
    last = min(int(lowered.searchsorted(over)), len(helps) - 1)
    whole, part = helps[:last], helps[last]
    x[whole] = room[whole] - x[whole]
    share = min(1.0 - (float(lowered[last]) - over) / abs(float(terms[part])), 1.0)
    x[part] = room[part] * (share if cost[part] >= 0 else 1.0 - share)
    return x, float(price[last])
