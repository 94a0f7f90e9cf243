"""The six figures of a racquet, with sd, from five that say everything about it as a rigid body.

Swing weight about any axis is recoil weight + M d² (parallel axes), so weight, balance, recoil,
twist and spin with their joint covariance are enough to restate the figures at another axis
and to add strips of known mass.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.measured import Measured

Array = NDArray[np.float64]

KGCM2_GMM2 = 1e5  # g mm² in one kg cm²
BODY_ORDER = ("weight_g", "balance_mm", "recoil_weight_kgcm2", "twist_weight_kgcm2", "spin_weight_kgcm2")


@dataclass(frozen=True, eq=False)
class Body:
    """``values`` (5,) in the order and units of BODY_ORDER, and their covariance ``cov`` (5, 5)."""

    values: Array
    cov: Array


@dataclass(frozen=True)
class Figures:
    """The six figures; the swing weight is about ``swing_axis_mm`` from the butt."""

    weight_g: Measured
    balance_mm: Measured
    swing_weight_kgcm2: Measured
    twist_weight_kgcm2: Measured
    recoil_weight_kgcm2: Measured
    spin_weight_kgcm2: Measured
    swing_axis_mm: float


FIGURE_NAMES = (
    "weight_g",
    "balance_mm",
    "swing_weight_kgcm2",
    "twist_weight_kgcm2",
    "recoil_weight_kgcm2",
    "spin_weight_kgcm2",
)


def body_values(totals: Array) -> Array:
    """Weight, balance, recoil, twist and spin from the mass integrals of (1, x, y, xx, yy, zz), g and mm."""
    mass, x, y, xx, yy, zz = totals
    recoil = yy + zz - y * y / mass
    spin = xx + yy - (x * x + y * y) / mass
    return np.array([mass, y / mass, recoil / KGCM2_GMM2, (xx + zz) / KGCM2_GMM2, spin / KGCM2_GMM2])


def body_slopes(totals: Array) -> Array:
    """Derivatives (5, 6) of :func:`body_values` by the integrals."""
    mass, x, y = totals[:3]
    b, c = y / mass, x / mass
    weight = [1, 0, 0, 0, 0, 0]
    balance = [-b / mass, 0, 1 / mass, 0, 0, 0]
    recoil = np.array([b * b, 0, -2 * b, 0, 1, 1]) / KGCM2_GMM2
    twist = np.array([0, 0, 0, 1, 0, 1]) / KGCM2_GMM2
    spin = np.array([b * b + c * c, -2 * c, -2 * b, 1, 1, 0]) / KGCM2_GMM2
    return np.array([weight, balance, recoil, twist, spin])


def swing_of(values: Array, axis_mm: float) -> float:
    """Swing weight (kg cm²) about an axis: recoil + M d²."""
    return float(values[2] + values[0] * (values[1] - axis_mm) ** 2 / KGCM2_GMM2)


def six(values: Array, axis_mm: float) -> Array:
    """The six figures (6,) in the order of FIGURE_NAMES from the body's five."""
    weight, balance, recoil, twist, spin = values
    return np.array([weight, balance, swing_of(values, axis_mm), twist, recoil, spin])


def six_slopes(values: Array, axis_mm: float) -> Array:
    """Derivatives (6, 5) of :func:`six` by the body's five."""
    distance = values[1] - axis_mm
    slopes = np.zeros((6, 5))
    slopes[[0, 1, 3, 4, 5], [0, 1, 3, 2, 4]] = 1.0
    slopes[2] = [distance**2 / KGCM2_GMM2, 2 * values[0] * distance / KGCM2_GMM2, 1, 0, 0]
    return slopes


def figures_of(body: Body, axis_mm: float) -> Figures:
    """The six figures ± sd at a swing axis (mm from the butt)."""
    slopes = six_slopes(body.values, axis_mm)
    return as_figures(six(body.values, axis_mm), spread(slopes, body.cov), axis_mm)


def as_figures(values: Array, sds: Array, axis_mm: float) -> Figures:
    """Figures from six values and six sds in the order of FIGURE_NAMES."""
    pairs = [Measured(float(v), float(s)) for v, s in zip(values, sds, strict=True)]
    weight, balance, swing, twist, recoil, spin = pairs
    return Figures(weight, balance, swing, twist, recoil, spin, axis_mm)


def spread(slopes: Array, cov: Array) -> Array:
    """Standard deviations of linear functions, rows of ``slopes``, of something with covariance ``cov``."""
    variance = np.einsum("ij,jk,ik->i", slopes, cov, slopes)
    return np.asarray(np.sqrt(np.clip(variance, 0.0, None)))  # rounding may leave -1e-20


def slopes_by_steps(function: Callable[[Array], Array], at: Array) -> Array:
    """Derivatives (m, n) of a smooth function of n numbers by central differences."""
    columns = []
    for i, value in enumerate(at):
        step = 1e-5 * max(abs(value), 1.0)
        up, down = at.copy(), at.copy()
        up[i] += step
        down[i] -= step
        columns.append((function(up) - function(down)) / (2 * step))
    return np.array(columns).T
