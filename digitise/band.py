"""The photo in a thin band along a rough outline, straightened: rows run along it, columns across it.

Only these pixels are looked at in full resolution.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from digitise.camera import Camera
from digitise.linear import LinearPhoto
from digitise.resting import Body, Resting, rim_shift_mm
from digitise.tone import FloatArray, Image

Scalar = TypeVar("Scalar", bound=np.generic)

ALONG_MM = 1.0
ACROSS_MM = 0.25


@dataclass(frozen=True, eq=False)
class Band:
    """``light`` (n, k, 3) linear RGB at ``base_mm[i] + offset_mm[j] * normal[i]`` as the rim is seen.

    ``base_mm`` (n, 2) is a closed counter-clockwise ring about 1 mm apart in the racquet's middle plane,
    ``normal`` (n, 2) its outward unit normals, ``offset_mm`` (k,) grows outward from the place at which
    the rim of a racquet with just this outline would be seen.
    """

    light: Image
    base_mm: FloatArray
    normal: FloatArray
    offset_mm: FloatArray

    def within(self, reach_mm: tuple[float, float]) -> Band:
        """The same from ``reach_mm[0]`` inside the ring to ``reach_mm[1]`` outside it."""
        inside, outside = reach_mm
        ends = np.searchsorted(self.offset_mm, [-inside - ACROSS_MM / 4, outside + ACROSS_MM / 4])
        here = slice(*ends.tolist())
        return replace(self, light=self.light[:, here], offset_mm=self.offset_mm[here])

    def points_mm(self, offset_mm: FloatArray) -> FloatArray:
        """Points (n, 2) of the middle plane's outline for the rim seen at ``offset_mm`` (n,)."""
        return self.base_mm + offset_mm[:, None] * self.normal


def sample_band(
    linear: LinearPhoto,
    camera: Camera,
    resting: Resting,
    body: Body,
    base_mm: FloatArray,
    reach_mm: tuple[float, float],
    opening: bool = False,
    rows: npt.NDArray[np.intp] | None = None,
) -> Band:
    """Straighten the photo along the even ring ``base_mm``, from ``reach_mm`` inside it to outside it.

    For the rim of an ``opening`` the racquet lies outside the ring, and its rim is seen inside it. With
    ``rows`` the band has those points of the ring only.
    """
    normal = ring_normals(base_mm)
    if rows is not None:
        base_mm, normal = base_mm[rows], normal[rows]
    if opening:
        shift = -rim_shift_mm(camera, resting, body, base_mm, -normal)
    else:
        shift = rim_shift_mm(camera, resting, body, base_mm, normal)
    offset_mm = np.arange(-reach_mm[0], reach_mm[1] + ACROSS_MM / 2, ACROSS_MM)
    starts = base_mm + shift[:, None] * normal
    light = linear.at_apart(resting.lines_to_pixels(camera, starts, normal, offset_mm))
    return Band(light, base_mm, normal, offset_mm)


def even_ring(ring_mm: FloatArray, step_mm: float) -> FloatArray:
    """The closed ring (n, 2) resampled evenly, at about ``step_mm``."""
    closed = np.vstack([ring_mm, ring_mm[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    count = max(round(along[-1] / step_mm), 8)
    at = np.arange(count) * along[-1] / count
    return np.column_stack([np.interp(at, along, closed[:, k]) for k in range(2)])


def smooth_ring(ring_mm: FloatArray, sigma: float) -> FloatArray:
    """The even ring (n, 2) smoothed by a Gaussian of ``sigma`` points, round its closure."""
    if sigma <= 0:
        return ring_mm
    reach = int(4 * sigma) + 1
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    padded = np.take(ring_mm, np.arange(-reach, len(ring_mm) + reach), axis=0, mode="wrap")
    return np.column_stack([np.convolve(padded[:, k], kernel / kernel.sum(), "valid") for k in range(2)])


def ring_normals(ring_mm: FloatArray) -> FloatArray:
    """Outward unit normals (n, 2) of an even counter-clockwise ring."""
    tangent = np.roll(ring_mm, -1, axis=0) - np.roll(ring_mm, 1, axis=0)
    tangent /= np.maximum(np.linalg.norm(tangent, axis=1, keepdims=True), 1e-9)
    return np.column_stack([tangent[:, 1], -tangent[:, 0]])


def mirrored(values: npt.NDArray[Scalar]) -> npt.NDArray[Scalar]:
    """Values (n, ...) of the mirror place of each point: point i mirrors point -i."""
    return np.roll(values[::-1], 1, axis=0)
