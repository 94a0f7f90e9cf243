"""The racquet's long axis, found as the line about which its edges mirror best.

A mask alone would do if shadows did not cling to one side of it. Sharp edges are mirrored about the
axis in place and in direction; shadows, prints and other things are not.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from digitise.flat import FlatView
from digitise.table_model import Image, Mask
from digitise.tone import FloatArray

ComplexImage = npt.NDArray[np.complex64]

EDGE_HALF_STRENGTH = 3.0
"""Change per cell, in multiples of the table's spread, at which an edge counts half of a strong one."""

BORDER_MM = 16.0
"""Depth from the mask's border to which edges count fully when the axis is sought."""

PEAKS, PEAK_TURN_DEG, PEAK_SHIFT_MM = 3, 2.5, 7.0
"""How many axes are tried, and how far apart two must be to count as different: a racquet's shadow mirrors
it, too, about a line of its own."""


@dataclass(frozen=True)
class Axis:
    """Racquet frame in the world: ``origin_mm`` (2,) on the axis, ``up`` (2,) unit vector butt to tip."""

    origin_mm: FloatArray
    up: FloatArray

    @property
    def right(self) -> FloatArray:
        """Unit vector (2,) to the racquet's right as seen from above."""
        return np.array([self.up[1], -self.up[0]])

    def to_racquet(self, world_mm: FloatArray) -> FloatArray:
        """Points (n, 2) of the world in the racquet's frame, mm."""
        away = np.asarray(world_mm, float) - self.origin_mm
        return np.asarray(away @ np.column_stack([self.right, self.up]))

    def to_world(self, racquet_mm: FloatArray) -> FloatArray:
        """Points (n, 2) of the racquet's frame in the world, mm."""
        return np.asarray(self.origin_mm + np.asarray(racquet_mm, float) @ np.vstack([self.right, self.up]))

    def moved(self, turn_rad: float, right_mm: float, up_mm: float) -> Axis:
        """The frame shifted to its own point (right_mm, up_mm), then turned counter-clockwise."""
        origin_mm = self.to_world(np.array([[right_mm, up_mm]]))[0]
        cos, sin = np.cos(turn_rad), np.sin(turn_rad)
        return Axis(origin_mm, np.array([[cos, -sin], [sin, cos]]) @ self.up)


def edge_field(unlike: Image) -> ComplexImage:
    """Edges of a picture (rows, cols, 3) as complex numbers: size 0 to 1, twice the gradient's angle.

    Doubling the angle makes dark-to-light equal to light-to-dark; angles are those of the world's frame.
    """
    strength2 = np.full(unlike.shape[:2], -1.0, np.float32)
    best_x = np.zeros_like(strength2)
    best_y = np.zeros_like(strength2)
    for k in range(unlike.shape[2]):
        channel = cv2.GaussianBlur(np.ascontiguousarray(unlike[..., k]), (0, 0), 0.7)
        along_x = cv2.Sobel(channel, cv2.CV_32F, 1, 0, scale=1 / 8)
        along_y = -cv2.Sobel(channel, cv2.CV_32F, 0, 1, scale=1 / 8)  # rows run down, the world's y up
        here2 = along_x**2 + along_y**2
        stronger = here2 > strength2
        strength2 = np.where(stronger, here2, strength2)
        best_x, best_y = np.where(stronger, along_x, best_x), np.where(stronger, along_y, best_y)
    size = np.sqrt(np.maximum(strength2, 0))
    direction = (best_x + 1j * best_y) / np.maximum(size, 1e-9)
    return (size / (size + EDGE_HALF_STRENGTH) * direction**2).astype(np.complex64)


def find_axes(view: FlatView, edges: ComplexImage, mask: Mask, inner_weight: float) -> list[Axis]:
    """Mirror axes of the thing under ``mask``, best first, PEAKS at most; which end is the butt is left open.

    ``edges`` is ``edge_field`` on the grid of ``view``; ``inner_weight`` (0 to 1) is how much edges far
    inside the mask count: little where a print need not be symmetric, fully where the mask's own
    border may be that of a shadow.
    """
    start = _principal_axis(view, mask)
    near = cv2.dilate(mask.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    weight = _border_weight(mask, view.cell_mm, inner_weight)
    kept: ComplexImage = np.asarray(np.where(near & view.inside, edges, 0) * weight, np.complex64)
    threshold = float(np.quantile(np.abs(kept[near]), 0.75))
    rows, cols = np.nonzero(np.abs(kept) > threshold)
    points = view.to_world(np.column_stack([cols, rows]))
    values = kept[rows, cols]
    look = _Look(view, points, values)
    field = _blurred(kept, 2.5)
    axes = _peaks(look, field, start)
    for blur_cells, turns_deg, shifts_mm in (
        (1.2, np.arange(-1.0, 1.01, 0.25), np.arange(-4, 4.1, 1.0)),
        (0.8, np.arange(-0.3, 0.31, 0.1), np.arange(-1, 1.01, 0.25)),
    ):
        field = _blurred(kept, blur_cells)
        axes = [max(_scored(look, field, axis, turns_deg, shifts_mm))[3] for axis in axes]
    return axes


@dataclass(frozen=True, eq=False)
class _Look:
    """Edges whose mirror images are looked up: ``points`` (n, 2) of the world, ``values`` (n,)."""

    view: FlatView
    points: FloatArray
    values: ComplexImage


def _peaks(look: _Look, field: ComplexImage, start: Axis) -> list[Axis]:
    """The best axes about ``start`` that are not next to a better one."""
    scored = _scored(look, field, start, np.arange(-16, 16.1, 1.0), np.arange(-40, 40.1, 3.0))
    kept: list[tuple[float, float, Axis]] = []
    for _, turn, shift, axis in sorted(scored, reverse=True):
        if all(abs(turn - t) > PEAK_TURN_DEG or abs(shift - s) > PEAK_SHIFT_MM for t, s, _ in kept):
            kept.append((turn, shift, axis))
        if len(kept) == PEAKS:
            break
    return [axis for _, _, axis in kept]


def _scored(
    look: _Look, field: ComplexImage, start: Axis, turns_deg: FloatArray, shifts_mm: FloatArray
) -> list[tuple[float, float, float, Axis]]:
    """(score, turn in degrees, shift in mm, axis) of ``start`` turned and shifted each way."""
    return [
        (_mirror_score(look, field, axis), float(turn), float(shift), axis)
        for turn in turns_deg
        for shift in shifts_mm
        for axis in [start.moved(float(np.deg2rad(turn)), float(shift), 0.0)]
    ]


def _border_weight(mask: Mask, cell_mm: float, inner_weight: float) -> Image:
    depth_mm = cell_mm * cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 3)
    return np.asarray(inner_weight + (1 - inner_weight) * np.exp(-((depth_mm / BORDER_MM) ** 2)), np.float32)


def _blurred(field: ComplexImage, sigma: float) -> ComplexImage:
    real, imag = (
        cv2.GaussianBlur(np.ascontiguousarray(part), (0, 0), sigma) for part in (field.real, field.imag)
    )
    return np.asarray(real + 1j * imag, np.complex64)


def _mirror_score(look: _Look, field: ComplexImage, axis: Axis) -> float:
    """Agreement of each edge with what stands at its mirror place, its direction mirrored too."""
    mirrored = axis.to_world(axis.to_racquet(look.points) * np.array([-1.0, 1.0]))
    grid = np.rint(look.view.to_grid(mirrored)).astype(int)
    rows, cols = field.shape
    ok = (grid[:, 0] >= 0) & (grid[:, 0] < cols) & (grid[:, 1] >= 0) & (grid[:, 1] < rows)
    there = field[grid[ok, 1], grid[ok, 0]]
    # A direction at angle a, mirrored about a line at angle t, stands at 2t - a; doubled: 4t - 2a.
    line = complex(*axis.up) ** 4
    return float(np.sum((np.conj(look.values[ok]) * line * np.conj(there)).real))


def _principal_axis(view: FlatView, mask: Mask) -> Axis:
    rows, cols = np.nonzero(mask)
    points = view.to_world(np.column_stack([cols, rows]))
    centre = points.mean(axis=0)
    _, vectors = np.linalg.eigh(np.cov((points - centre).T))
    return Axis(centre, vectors[:, 1])
