"""How far a figure may be off either way with a stated chance, where some readings err within limits.

The error of an estimate is a sum: of what the prior leaves open and of normal reading errors, together
normal, and of one share of each reading error that lies evenly within limits (see ``ReadingBase.even``).
Its characteristic function is the product of theirs, and the chance of |error| ≤ q follows from it by

    P(|X| ≤ q) = (2 / π) ∫₀^∞ sin(q t) / t · φ(t) dt        (Gil-Pelaez 1951, for a symmetric law).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import ndtri

from model.calibrate import Calibration
from model.figures import six_slopes

Array = NDArray[np.float64]

USUAL_CHANCE = 0.9
FURTHEST_SDS = 6.0  # wider than any interval that is asked for
STEPS, HIGHEST = 800, 80.0  # of t, in one over sds; an error within limits alone falls off as slowly as 1/t
EVEN_ENOUGH = 1e-3  # of the variance: less than this from limits is as good as normal


def half_widths(found: Calibration, axis_mm: float, chance: float = USUAL_CHANCE) -> Array:
    """Half the interval (6,) that holds each of the six figures with this chance, in their units."""
    slopes = six_slopes(found.body.values, axis_mm) @ found.body_by_state
    sds = np.sqrt(np.einsum("ij,jk,ik->i", slopes, found.cov, slopes).clip(0))
    gains = slopes @ found.cov @ found.seen_by_state.T
    shares = [one.even_sd / one.sd**2 for one in found.seen]
    even = np.abs(gains) * np.array(shares) if shares else np.zeros((6, 0))
    return np.array([_half_width(float(sd), row, chance) for sd, row in zip(sds, even, strict=True)])


def _half_width(sd: float, even_sds: Array, chance: float) -> float:
    """Of a sum of that sd in all, of which each of ``even_sds`` is the sd of an error within limits."""
    normal = float(ndtri((1 + chance) / 2))
    if sd == 0 or (even_sds @ even_sds) < EVEN_ENOUGH * sd**2:
        return normal * sd
    limits = even_sds / sd * 3**0.5
    rest = max(1 - float(limits @ limits) / 3, 0.0)
    t = (np.arange(STEPS) + 0.5) * HIGHEST / STEPS
    law = np.exp(-rest * t * t / 2) * np.sinc(np.outer(limits, t) / np.pi).prod(axis=0)
    weights = 2 / np.pi * law / t * (HIGHEST / STEPS)
    return sd * float(brentq(lambda q: np.sin(q * t) @ weights - chance, 0.0, FURTHEST_SDS))
