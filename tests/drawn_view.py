"""Flat views drawn from rings of known measure, for the tests of what looks for a racquet in one."""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from digitise.axis import Axis
from digitise.flat import CELL_MM, FlatView
from digitise.tone import FloatArray

TABLE_LIGHT = (0.42, 0.36, 0.30)
PADDLE_LIGHT = (0.05, 0.12, 0.30)
_SHIFT = 6


def paddle_half_width(y_mm: FloatArray) -> FloatArray:
    """A paddle 400 mm long: a grip of 34 mm, a neck up to 190 mm, a head of 190 mm, round on top."""
    side = np.interp(y_mm, [0.0, 130.0, 190.0, 320.0], [17.0, 17.0, 95.0, 95.0])
    top = 95.0 * np.sqrt(np.clip(1 - ((y_mm - 320.0) / 80.0) ** 2, 0, 1))
    return np.where(y_mm > 320, top, side)


def paddle_ring() -> FloatArray:
    """Its outline (n, 2), counter-clockwise, in its own frame."""
    y_mm = np.linspace(0.0, 400.0, 801)
    right = np.column_stack([paddle_half_width(y_mm), y_mm])
    return np.vstack([right, right[::-1] * np.array([-1.0, 1.0])])


def empty_view(width_mm: float = 700.0, height_mm: float = 640.0) -> FlatView:
    """A view of nothing but an evenly lit table, its middle at the world's origin."""
    rows, cols = round(height_mm / CELL_MM), round(width_mm / CELL_MM)
    light = np.broadcast_to(np.array(TABLE_LIGHT, np.float32), (rows, cols, 3)).copy()
    return FlatView(light, np.ones((rows, cols), bool), np.array([-width_mm, height_mm]) / 2, CELL_MM, 15.0)


def cover(view: FlatView, world_mm: FloatArray) -> npt.NDArray[np.float32]:
    """Share (rows, cols) of each cell that a ring (n, 2) of the world covers."""
    cells = np.zeros(view.inside.shape, np.uint8)
    points = np.round(view.to_grid(world_mm) * 2**_SHIFT).astype(np.int32)
    cv2.fillPoly(cells, [points], 255, cv2.LINE_AA, _SHIFT)
    return (cells / 255.0).astype(np.float32)


def paint(view: FlatView, world_mm: FloatArray, light: tuple[float, float, float]) -> None:
    """Lay a thing of this light on the table."""
    share = cover(view, world_mm)[..., None]
    view.light[:] = (1 - share) * view.light + share * np.array(light, np.float32)


def shade(view: FlatView, factor: npt.NDArray[np.floating]) -> None:
    """Multiply all light by ``factor`` (rows, cols)."""
    view.light[:] = view.light * factor[..., None]


def roughen(view: FlatView, share: float, seed: int) -> None:
    """Noise of this relative size, alike in all colours."""
    rng = np.random.default_rng(seed)
    shade(view, np.exp(share * rng.standard_normal(view.inside.shape)))


def axis_at(x_mm: float, y_mm: float, turn_deg: float) -> Axis:
    """The frame whose butt is at (x, y) and whose tip is turned counter-clockwise from the world's +y."""
    turn = np.deg2rad(turn_deg)
    return Axis(np.array([x_mm, y_mm]), np.array([-np.sin(turn), np.cos(turn)]))
