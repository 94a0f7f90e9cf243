"""A rim of the table's own colour: an outer border so faint that a rough shape stopped at the inner one.

At no single place does such a rim stand out. But its border runs beside the inner one at the same distance
all round the head: added up over both sides it does.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from digitise.axis import ComplexImage
from digitise.band import even_ring, ring_normals, smooth_ring
from digitise.flat import FlatView
from digitise.half_width import STEP_MM, SymmetricShape
from digitise.landmarks import half_widths
from digitise.remap import remap_linear
from digitise.tone import FloatArray

DISTANCES_MM = np.arange(0.0, 15.0, 1.0)
NARROWEST_MM, WIDEST_MM = 4.0, 12.0
"""Widths of rims; nearer borders blur into one, and farther ones are shadows'."""
LEAST_STRENGTH, LEAST_RISE = 0.2, 0.015
"""Mean strength that a second border has at least, and by how much it rises from the trough before it."""
ABOVE_GRIP_MM, BLEND_MM = 20.0, 20.0
"""From where on above the handle the head has a rim, and over how long the rim's width grows from nothing."""
SMOOTH_MM = 6.0


def with_rim(view: FlatView, edges: ComplexImage, shape: SymmetricShape) -> SymmetricShape | None:
    """The shape with a rim put round its head where a second border runs round it, else None.

    ``edges`` is ``edge_field`` on the grid of ``view``, soft ones too.
    """
    ring = even_ring(shape.ring_from_butt_mm(), 1.0)
    normal = ring_normals(smooth_ring(ring, SMOOTH_MM))
    from_mm = max(shape.grip_to_mm, 100.0) + ABOVE_GRIP_MM
    strength = _border_strength(view, edges, shape, ring, normal, ring[:, 1] > from_mm)
    width_mm = _second_border(strength)
    if width_mm is None:
        return None
    share = np.clip((ring[:, 1] - from_mm + ABOVE_GRIP_MM) / BLEND_MM, 0, 1)
    y_mm, half_mm = half_widths(ring + (share * width_mm)[:, None] * normal)
    at = np.arange(0.0, float(y_mm[-1]) + STEP_MM, STEP_MM)
    return replace(shape, y_mm=at, half_width_mm=np.interp(at, y_mm, half_mm), rim_mm=width_mm)


def _border_strength(
    view: FlatView,
    edges: ComplexImage,
    shape: SymmetricShape,
    ring_mm: FloatArray,
    normal: FloatArray,
    head: np.ndarray[tuple[int, ...], np.dtype[np.bool_]],
) -> FloatArray:
    """Mean strength (k,) of edges along the ring, alike on both sides of the head, at DISTANCES_MM."""
    parts = np.dstack([edges.real, edges.imag]).astype(np.float32)
    across = normal @ np.vstack([shape.axis.right, shape.axis.up])
    turn = np.conj((across[:, 0] + 1j * across[:, 1]) ** 2)
    strength = []
    for distance_mm in DISTANCES_MM:
        grid = view.to_grid(shape.axis.to_world(ring_mm + distance_mm * normal)).astype(np.float32)
        seen = remap_linear(parts, grid[:, None, :], beyond=0.0).reshape(-1, 2)
        along = np.maximum(((seen[:, 0] + 1j * seen[:, 1]) * turn).real, 0)
        strength.append(float(np.sqrt(along * np.roll(along[::-1], 1))[head].mean()))
    return np.array(strength)


def _second_border(strength: FloatArray) -> float | None:
    """Distance of the strongest border that is one of its own, behind a trough."""
    trough = np.minimum.accumulate(strength)
    inner = (DISTANCES_MM >= NARROWEST_MM) & (DISTANCES_MM <= WIDEST_MM)
    peak = np.r_[False, (strength[1:-1] >= strength[:-2]) & (strength[1:-1] >= strength[2:]), False]
    fits = inner & peak & (strength >= LEAST_STRENGTH) & (strength - trough >= LEAST_RISE)
    if not fits.any():
        return None
    return float(DISTANCES_MM[int(np.argmax(np.where(fits, strength, 0)))])
