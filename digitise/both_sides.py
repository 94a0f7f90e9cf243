"""One smooth outline for both sides of a racquet, from the edge found on each.

A racquet's outline is smooth and the same left and right; what disturbs an edge, grain, a shadow or a stray
thing, is neither. So one spline is fitted to both sides at once, single places that do not fit count
little, and it bends more closely only where both sides ask for it.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.interpolate import make_lsq_spline
from scipy.ndimage import gaussian_filter1d

from digitise.tone import FloatArray

KNOTS_MM = (24.0, 12.0, 6.0, 3.0)
"""Distances of the spline's knots, from the first fit to where both sides ask for the closest one."""
UNEVEN_MM = 0.12
"""Residual that both sides show alike and that calls for closer knots."""
FIT_SCALE_MM = 0.3
"""Residual at which a place counts half (Cauchy's weight)."""
WINDOW_MM = 2.5
"""Residuals are judged averaged along the outline over a Gaussian of this width."""


def common_offsets(offset_mm: FloatArray, weight: FloatArray, along_mm: float) -> FloatArray:
    """Offsets (n,), the same at point i and -i, that fit those of both sides (n,) with their ``weight``."""
    half = len(offset_mm) // 2 + 1
    sides = np.stack([offset_mm[:half], _mirrored(offset_mm)[:half]])
    weights = np.stack([weight[:half], _mirrored(weight)[:half]]) + 1e-3
    place = np.asarray(np.arange(half) * along_mm, float)
    knots = _even_knots(place[-1], KNOTS_MM[0])
    fitted = _fit(place, sides, weights, knots)
    for spacing_mm in KNOTS_MM[1:]:
        wanted = _uneven(sides - fitted, weights, along_mm)
        if not wanted.any():
            break
        closer = _even_knots(place[-1], spacing_mm)
        needed = closer[wanted[np.clip(np.rint(closer / along_mm).astype(int), 0, half - 1)]]
        knots = _spaced(np.concatenate([knots, needed]), 0.7 * spacing_mm)
        fitted = _fit(place, sides, weights, knots)
    whole = np.concatenate([fitted, fitted[1 : len(offset_mm) - half + 1][::-1]])
    return np.asarray(whole)


def _even_knots(length_mm: float, spacing_mm: float) -> FloatArray:
    count = max(round(length_mm / spacing_mm), 2)
    return np.asarray(np.linspace(0, length_mm, count + 1)[1:-1])


def _spaced(knots: FloatArray, least_mm: float) -> FloatArray:
    """Knots in order, each at least ``least_mm`` after the one before."""
    kept: list[float] = []
    for knot in np.sort(knots):
        if not kept or knot - kept[-1] >= least_mm:
            kept.append(float(knot))
    return np.array(kept)


def _fit(place: FloatArray, sides: FloatArray, weights: FloatArray, knots: FloatArray) -> FloatArray:
    """The cubic spline with ``knots`` at ``place``, fitted to both sides with outliers played down.

    The outline crosses its axis at right angles, so the values are prolonged by their mirror image.
    """
    fitted = np.median(sides, axis=0)
    fitted = gaussian_filter1d(fitted, 3.0, mode="mirror")
    inner = np.concatenate([-knots[:3][::-1], [0.0], knots, [place[-1]], 2 * place[-1] - knots[-3:][::-1]])
    margin = int(np.searchsorted(place, max(knots[:3].max(), place[-1] - knots[-3:].min()), "right")) + 2
    margin = min(margin, len(place) - 1)
    step = place[1] - place[0]
    along = np.arange(-margin, len(place) + margin) * step
    inner = inner[(inner > along[0]) & (inner < along[-1])]
    full = np.concatenate([[along[0]] * 4, inner, [along[-1]] * 4])
    for _ in range(6):
        trust = weights / (1 + ((sides - fitted) / FIT_SCALE_MM) ** 2) + 1e-6
        total = trust.sum(axis=0)
        values = (trust * sides).sum(axis=0) / total
        spline = make_lsq_spline(
            along,
            np.pad(values, margin, mode="reflect"),
            full,
            w=np.sqrt(np.pad(total, margin, mode="reflect")),
        )
        fitted = spline(place)
    return np.asarray(fitted)


def _uneven(rest: FloatArray, weights: FloatArray, along_mm: float) -> npt.NDArray[np.bool_]:
    """Where both sides' residuals (2, m), averaged along the outline, agree that the fit is off."""
    sigma = WINDOW_MM / along_mm
    clipped = np.clip(rest, -1.5, 1.5)
    smooth = gaussian_filter1d(clipped * weights, sigma, axis=1, mode="mirror") / gaussian_filter1d(
        weights, sigma, axis=1, mode="mirror"
    )
    alike = np.where(smooth[0] * smooth[1] > 0, np.abs(smooth).min(axis=0), 0)
    wanted = alike > UNEVEN_MM
    reach = max(round(2 * WINDOW_MM / along_mm), 1)
    return np.asarray(np.convolve(wanted, np.ones(2 * reach + 1), "same") > 0)


def _mirrored(values: FloatArray) -> FloatArray:
    return np.roll(values[::-1], 1, axis=0)
