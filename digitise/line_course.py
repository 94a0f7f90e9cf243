"""How straight lines run in the photo at full size: by how much they stray from the chord between their ends.

A narrow band along each line is cut into blocks, whose mean profiles are all the same but for a shift.
Shifts and the common profile are found in turns (Lucas and Kanade 1981), from blurred to sharp, and what the
shifts do along the line is fitted robustly: grain, prints and what lies across a line move single blocks.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from digitise.remap import remap_linear
from digitise.tone import FloatArray

BLOCKS = 40
_ROWS = 5  # looked at in each block
_REACH_PX = 14
_BLURS_PX, _TURNS = (3.0, 1.5, 0.8), 4
_MOST_STEP_PX = 3.0
_EDGE = 3  # columns at either end of the profile that may have come in from outside the band
_ROBUST_PASSES = 3
_OUTLYING, _LEAST_SCATTER_PX = 2.0, 0.02
_BLOCKS_ALIKE = 2.0  # grain goes on from block to block
_LOOSE = 1e-9
_MEAN = np.full((1, 3), 1 / 3, np.float32)


@dataclass(frozen=True, eq=False)
class Courses:
    """Shifts of n lines as sums of k given ``terms``: ``fit`` (n, k) px and ``covariance`` (n, k, k)."""

    fit: FloatArray
    covariance: FloatArray


def chord_places(lines_px: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Middles (n, BLOCKS, 2) of the blocks along lines (n, 4), and the lines' normals (n, 2)."""
    start, along = lines_px[:, None, :2], lines_px[:, None, 2:] - lines_px[:, None, :2]
    share = (np.arange(BLOCKS) + 0.5) / BLOCKS
    across = np.column_stack([-along[:, 0, 1], along[:, 0, 0]])
    return start + share[None, :, None] * along, across / np.linalg.norm(across, axis=1, keepdims=True)


def courses(
    pixels_rgb: npt.NDArray[np.uint8],
    lines_px: FloatArray,
    terms: FloatArray,
    blurs_px: tuple[float, ...] = _BLURS_PX,
) -> Courses:
    """Fit ``terms`` (n, BLOCKS, k) to how lines (n, 4) of a picture (h, w, 3) shift along their normals, seen
    through one blur after the other."""
    profiles = _profiles(pixels_rgb, lines_px)
    shift = np.zeros(profiles.shape[:2])
    for blur in blurs_px:
        seen = _blurred(profiles, blur)
        for _ in range(_TURNS):
            moved = shift + _steps(seen, shift)
            fit, covariance = _fitted(moved, terms)
            shift = np.einsum("nbk,nk->nb", terms, fit)
    return Courses(fit, covariance)


def _profiles(pixels_rgb: npt.NDArray[np.uint8], lines_px: FloatArray) -> npt.NDArray[np.float32]:
    """Mean brightness (n, BLOCKS, 2 _REACH_PX + 1) of each block across the lines."""
    share = (np.arange(BLOCKS * _ROWS) + 0.5) / (BLOCKS * _ROWS)
    across = np.arange(-_REACH_PX, _REACH_PX + 1.0)
    normals = chord_places(lines_px)[1]
    seen = []
    for line, normal in zip(lines_px, normals, strict=True):
        feet = (line[:2] + share[:, None] * (line[2:] - line[:2])).astype(np.float32)
        where = feet[:, None] + (across[:, None] * normal).astype(np.float32)
        band = cv2.transform(remap_linear(pixels_rgb, where), _MEAN)
        seen.append(band.reshape(BLOCKS, _ROWS, -1).mean(axis=1, dtype=np.float32))
    return np.array(seen, np.float32)


def _blurred(profiles: npt.NDArray[np.float32], blur_px: float) -> npt.NDArray[np.float32]:
    rows = profiles.reshape(-1, profiles.shape[2])
    blurred = cv2.GaussianBlur(rows, (0, 0), sigmaX=blur_px, sigmaY=1e-3)  # rows stay as they are
    return np.asarray(blurred, np.float32).reshape(profiles.shape)


def _steps(profiles: npt.NDArray[np.float32], shift: FloatArray) -> FloatArray:
    """How much farther than ``shift`` (n, b) the profiles (n, b, k) are shifted from their common one."""
    at = np.clip(np.arange(profiles.shape[2]) + shift[..., None], 0, profiles.shape[2] - 1 - 1e-3)
    left = at.astype(int)
    share = at - left
    here, ahead = (np.take_along_axis(profiles, left + k, axis=2) for k in range(2))
    seen = (here * (1 - share) + ahead * share)[..., _EDGE:-_EDGE]
    common = np.median(seen, axis=1, keepdims=True)
    # Levels say nothing: of a step of brightness more or less is in the band, as it is shifted.
    slope = _level(np.gradient(common, axis=2))
    apart = np.sum(_level(common - seen) * slope, axis=2)
    size2 = np.sum(slope**2, axis=2) + _LOOSE
    return np.asarray(np.clip(apart / size2, -_MOST_STEP_PX, _MOST_STEP_PX))


def _level(values: FloatArray) -> FloatArray:
    return np.asarray(values - values.mean(axis=2, keepdims=True))


def _fitted(shift: FloatArray, terms: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Robust least squares of shifts (n, b) by terms (n, b, k): what is found, and its covariance."""
    weight = np.ones_like(shift)
    loose = _LOOSE * np.eye(terms.shape[2])
    for _ in range(_ROBUST_PASSES):
        weighted = terms * weight[..., None]
        normal = np.einsum("nbi,nbj->nij", weighted, terms) + loose
        fit = np.linalg.solve(normal, np.einsum("nbi,nb->ni", weighted, shift)[..., None])[..., 0]
        left = shift - np.einsum("nbk,nk->nb", terms, fit)
        scatter = 1.4826 * np.median(np.abs(left), axis=1, keepdims=True) + _LEAST_SCATTER_PX
        weight = 1 / (1 + (left / (_OUTLYING * scatter)) ** 2) ** 2
    free = np.maximum(weight.sum(axis=1) - terms.shape[2], 1)
    variance = (weight * left**2).sum(axis=1) / free + _LEAST_SCATTER_PX**2
    return fit, _BLOCKS_ALIKE * np.linalg.inv(normal) * variance[:, None, None]
