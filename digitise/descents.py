"""Several least-squares problems of one form, solved side by side by damped Gauss-Newton steps.

Levenberg's and Marquardt's method (Marquardt 1963): the normal matrix's diagonal is raised by a share that
falls while steps succeed. Where one problem takes as little as a card's profiles do, calling a solver takes
longer than solving; here numpy works on all of them at once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from digitise.tone import FloatArray

_DAMPING, _EASED, _RAISED = 1e-2, 0.1, 10.0
_LEAST_DAMPING, _MOST_DAMPING = 1e-8, 1e6
_LEAST_DIAGONAL = 1e-12
"""Of the largest entry of a normal matrix's diagonal: a parameter that moves nothing is left where it is."""


@dataclass(frozen=True, eq=False)
class Quadratics:
    """Half sums of squares ``cost`` (k,), their ``gradient`` (k, n), and JᵀJ, ``normal`` (k, n, n)."""

    cost: FloatArray
    gradient: FloatArray
    normal: FloatArray


@dataclass(frozen=True, eq=False)
class Fits:
    """The ``parameters`` (k, n) reached, and what is there."""

    parameters: FloatArray
    there: Quadratics

    def best(self, count: int) -> npt.NDArray[np.intp]:
        """Which ``count`` of them cost least, the best first."""
        return np.asarray(np.argsort(self.there.cost, kind="stable")[:count], np.intp)


Look = Callable[[FloatArray, npt.NDArray[np.intp]], Quadratics]
"""The quadratics at parameters (j, n) of those problems whose numbers (j,) are given."""


def descents(look: Look, starts: FloatArray, steps: int, settled: float = 1e-3) -> Fits:
    """Each problem after at most ``steps`` steps from its start (k, n).

    One that gained less than the share ``settled`` of its cost in a step rests there.
    """
    reached = np.array(starts)
    every = np.arange(len(starts))
    there = look(reached, every)
    cost, gradient, normal = there.cost.copy(), there.gradient.copy(), there.normal.copy()
    damping = np.full(len(starts), _DAMPING)
    going = every
    for _ in range(steps):
        if len(going) == 0:
            break
        raised = normal[going]
        diagonal = np.einsum("kii->ki", raised)
        diagonal += damping[going, None] * diagonal
        np.maximum(diagonal, _LEAST_DIAGONAL * diagonal.max(axis=1, keepdims=True), out=diagonal)
        tried = reached[going] - np.linalg.solve(raised, gradient[going, :, None])[..., 0]
        ahead = look(tried, going)
        better = ahead.cost < cost[going]
        resting = better & (cost[going] - ahead.cost <= settled * cost[going])
        gained = going[better]
        reached[gained], cost[gained] = tried[better], ahead.cost[better]
        gradient[gained], normal[gained] = ahead.gradient[better], ahead.normal[better]
        damping[going] *= np.where(better, _EASED, _RAISED)
        damping = np.maximum(damping, _LEAST_DAMPING)
        going = going[~resting & (damping[going] < _MOST_DAMPING)]
    return Fits(reached, Quadratics(cost, gradient, normal))
