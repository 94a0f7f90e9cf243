"""Round holes to a fraction of a pixel: their one radius, and each one's centre.

Through a deep hole one sees, besides the table, its inner wall on the side that is turned to the camera. The
wall's lower end is a strong edge too, and so is what shades the face round the rim, but not equally far from
the centre all round: the rim is where the strongest edges of most rays, of all holes, agree.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.ndimage import gaussian_filter1d

from digitise.camera import Camera
from digitise.linear import LinearPhoto
from digitise.resting import Resting
from digitise.tone import FloatArray

RAYS, STEP_MM, HALF_STEP_MM = 48, 0.1, 0.3
"""Rays from a hole's centre, places along them, and half the distance of the two that are compared."""
REACH = (0.6, 1.4)
"""Where the rim is looked for, as shares of the radius so far."""
LEAST_LIGHT = 0.01
"""Step of linear light below which a ray shows no edge at all."""
DENSE_MM = 0.2
"""Width over which rims are counted together: the rim is as far on all rays, other edges are not."""
ROUGH_SD_MM = 0.6
"""How exact the radius is that the search for circles gives."""
PASSES, OFF_SHARE = 3, 0.15
"""Passes, and how far, as a share of the radius, a ray's edge may be off the circle to count."""
ON_RIM, OFF_RIM = 0.1, 0.25
"""Edges this near to a rim, as a share of the radius, are on it; those a little farther off tell where its
middle is."""


def rim_shares(
    linear: LinearPhoto,
    camera: Camera,
    upper: Resting,
    centres_mm: FloatArray,
    radius_mm: float,
) -> FloatArray:
    """Share (n,) of the rays from each place, which may be a bit off, on which a rim of this radius shows."""
    turn = np.linspace(0, 2 * np.pi, RAYS, endpoint=False)
    ways = np.column_stack([np.cos(turn), np.sin(turn)])
    shown = np.zeros(len(centres_mm))
    for _ in range(PASSES):
        rims = _rims(linear, camera, upper, centres_mm, radius_mm, ways)
        on = np.abs(rims / radius_mm - 1) < ON_RIM
        shown = np.maximum(shown, on.mean(axis=1))
        near = np.where(np.abs(rims / radius_mm - 1) < OFF_RIM, rims - radius_mm, np.nan)
        centres_mm = centres_mm + _shifts(near, ways)
    return shown


def _rims(
    linear: LinearPhoto,
    camera: Camera,
    upper: Resting,
    centres_mm: FloatArray,
    radius_mm: float,
    ways: FloatArray,
) -> FloatArray:
    """Distance (n, rays) of the strongest edge about each centre on rays in the directions ``ways``."""
    away = np.arange(REACH[0] * radius_mm, REACH[1] * radius_mm, STEP_MM)
    x_mm, y_mm = (centres_mm[:, None, None, k] + away * ways[:, None, k] for k in range(2))
    return rim_distances(linear.at_apart(upper.to_pixels_apart(camera, x_mm, y_mm)), away)


def refined(
    linear: LinearPhoto,
    camera: Camera,
    upper: Resting,
    centres_mm: FloatArray,
    radius_mm: float,
) -> tuple[FloatArray, float]:
    """Centres (n, 2) and the common radius of holes about ``centres_mm``, on the plane of the upper side."""
    rough_mm = radius_mm
    turn = np.linspace(0, 2 * np.pi, RAYS, endpoint=False)
    ways = np.column_stack([np.cos(turn), np.sin(turn)])
    for _ in range(PASSES):
        rims = _rims(linear, camera, upper, centres_mm, radius_mm, ways)
        radius_mm = commonest(rims[np.isfinite(rims)], rough_mm)
        off = np.where(np.abs(rims / radius_mm - 1) < OFF_SHARE, rims - radius_mm, np.nan)
        centres_mm = centres_mm + _shifts(off, ways)
    return centres_mm, radius_mm


def rim_distances(light: npt.NDArray[np.float32], away_mm: FloatArray) -> FloatArray:
    """Distance (n, rays) of the strongest edge on each ray, nan where there is none.

    ``light`` (n, rays, m, 3) is linear RGB at the distances ``away_mm`` (m,), STEP_MM apart.
    """
    half = round(HALF_STEP_MM / STEP_MM)
    apart = light[:, :, 2 * half :] - light[:, :, : -2 * half]
    apart *= apart
    # colour by colour: to sum along a last axis of three is slow work for numpy
    step = np.sqrt(apart[..., 0] + (apart[..., 1] + apart[..., 2]))
    size = gaussian_filter1d(
        step, half, axis=2
    )  # a sharp edge is as strong over a stretch: its middle counts
    away = away_mm[half : len(away_mm) - half]
    return np.where(size.max(axis=2) > LEAST_LIGHT, away[np.argmax(size, axis=2)], np.nan)


def commonest(values_mm: FloatArray, rough_mm: float) -> float:
    """Where values (n,) lie densest, near ``rough_mm``, as the mean of those about it; that without any.

    Only peaks count: on the slope of one, nearer to ``rough_mm``, there is no rim.
    """
    if len(values_mm) == 0:
        return rough_mm
    bins = np.arange(values_mm.min() - 1.0, values_mm.max() + 1.0, STEP_MM)
    dense = gaussian_filter1d(np.histogram(values_mm, bins)[0].astype(float), DENSE_MM / STEP_MM)
    near = np.exp(-0.5 * ((bins[:-1] + STEP_MM / 2 - rough_mm) / ROUGH_SD_MM) ** 2)
    peak = np.r_[False, (dense[1:-1] >= dense[:-2]) & (dense[1:-1] >= dense[2:]), False]
    middle = bins[int(np.argmax(np.where(peak, dense * near, 0.0)))] + STEP_MM / 2
    return float(values_mm[np.abs(values_mm - middle) < 2 * DENSE_MM].mean())


def _shifts(off_mm: FloatArray, ways: FloatArray) -> FloatArray:
    """The shift (n, 2) of each circle that fits what its rays (n, rays) are off, by least squares."""
    seen = np.isfinite(off_mm)
    shifts = np.zeros((len(off_mm), 2))
    for index in np.flatnonzero(seen.sum(axis=1) > RAYS // 3):
        here = seen[index]
        shifts[index] = np.linalg.lstsq(ways[here], off_mm[index, here], rcond=None)[0]
    return shifts
