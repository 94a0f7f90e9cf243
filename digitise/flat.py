"""The photo redrawn as a map of the table: square cells of known size, seen from straight above.

Finding the racquet needs no fine detail, and is simpler where a millimetre is the same everywhere and
a symmetric thing looks symmetric. Grid points are (column, row); the centre of cell (0, 0) is the
grid's (0, 0). World x runs along the columns and world y against the rows, so the map is not mirrored.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
import numpy.typing as npt

from digitise.camera import Camera
from digitise.remap import shrunk
from digitise.tone import LIGHT_OF_BYTE, FloatArray, log_colour

CELL_MM = 2.0
"""Cell size: a quarter of the thinnest part of any racquet (a shaft of 8 mm)."""
MAX_CELLS = 4_000_000
"""A picture that covers more than 16 m² of table is too oblique or too far to be of use."""


@dataclass(frozen=True, eq=False)
class FlatView:
    """``light`` (rows, cols, 3) float32 linear RGB; ``inside`` (rows, cols) bool: where the photo reaches.

    ``origin_mm`` is the world (x, y) of the centre of cell (0, 0); ``cell_mm`` the size of a cell;
    ``plane_z_mm`` the height above the table for which the map is true.
    """

    light: npt.NDArray[np.float32]
    inside: npt.NDArray[np.bool_]
    origin_mm: FloatArray
    cell_mm: float
    plane_z_mm: float

    @cached_property
    def colour(self) -> npt.NDArray[np.float32]:
        """Log colour (rows, cols, 3) of ``light``."""
        return np.asarray(log_colour(self.light), np.float32)

    def to_grid(self, world_mm: FloatArray) -> FloatArray:
        """Grid points (n, 2) as (column, row) of world points (n, 2) in mm."""
        return np.asarray(
            (np.asarray(world_mm, float) - self.origin_mm) * np.array([1.0, -1.0]) / self.cell_mm
        )

    def nearest(self, world_mm: FloatArray) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
        """Rows and columns (n,) of the cells nearest to world points (n, 2) in mm, kept inside the map."""
        col, row = np.rint(self.to_grid(world_mm)).astype(np.int64).T
        rows, cols = self.inside.shape
        return np.clip(row, 0, rows - 1), np.clip(col, 0, cols - 1)

    def to_world(self, grid: FloatArray) -> FloatArray:
        """World points (n, 2) in mm of grid points (n, 2)."""
        return np.asarray(np.asarray(grid, float) * np.array([1.0, -1.0]) * self.cell_mm + self.origin_mm)

    def cells_in(self, rings_mm: Iterable[FloatArray]) -> npt.NDArray[np.uint8]:
        """1 in cells (rows, cols) that lie in any of the world's rings (n, 2) in mm, else 0."""
        cells = np.zeros(self.inside.shape, np.uint8)
        for ring_mm in rings_mm:
            cv2.fillPoly(cells, [np.rint(self.to_grid(ring_mm)).astype(np.int32)], 1)
        return cells


def flatten(
    pixels_rgb: npt.NDArray[np.uint8],
    camera: Camera,
    plane_z_mm: float,
    cell_mm: float = CELL_MM,
    half_rgb: npt.NDArray[np.uint8] | None = None,
) -> FlatView:
    """Redraw an upright photo (h, w, 3) as a map of the plane z = ``plane_z_mm``; ``half_rgb`` is the photo
    ``halved``, if it is known.

    The lens's radial term is left out: at this size it moves nothing by a whole cell.
    Raises ValueError if the camera sees past the horizon or more than MAX_CELLS cells.
    """
    height_px, width_px = pixels_rgb.shape[:2]
    to_px = plane_homography(camera, plane_z_mm)
    corners = np.array([[0, 0], [width_px - 1, 0], [width_px - 1, height_px - 1], [0, height_px - 1]], float)
    on_plane = _through(np.asarray(np.linalg.inv(to_px), float), corners)
    low, high = on_plane.min(axis=0), on_plane.max(axis=0)
    cols, rows = (math.ceil(extent / cell_mm) for extent in high - low)
    if not np.isfinite(on_plane).all() or cols * rows > MAX_CELLS:
        raise ValueError("the camera looks too far along the table")
    origin_mm = np.array([low[0], high[1]])

    shrink = max(1, int(cell_mm / 1.5 / _mm_per_px(on_plane, corners)))
    small = shrunk(pixels_rgb, (width_px // shrink, height_px // shrink), half=half_rgb)
    to_small = np.array(
        [[1 / shrink, 0, (1 / shrink - 1) / 2], [0, 1 / shrink, (1 / shrink - 1) / 2], [0, 0, 1]]
    )
    to_mm = np.array([[cell_mm, 0, origin_mm[0]], [0, -cell_mm, origin_mm[1]], [0, 0, 1]])
    light = cv2.warpPerspective(
        cv2.LUT(small, LIGHT_OF_BYTE),
        to_small @ to_px @ to_mm,
        (cols, rows),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=(-1.0, -1.0, -1.0),
    )
    inside = cv2.inRange(light, (0.0,) * 3, (np.inf,) * 3) > 0
    return FlatView(np.maximum(light, 0), inside, origin_mm, cell_mm, plane_z_mm)


def outer_cells(mask: npt.NDArray[np.bool_]) -> npt.NDArray[np.int32]:
    """First and last cell (column, row) of each row of a mask, (n, 2): its convex hull's are among them."""
    rows = np.flatnonzero(mask.any(axis=1))
    first = mask[rows].argmax(axis=1)
    last = mask.shape[1] - 1 - mask[rows, ::-1].argmax(axis=1)
    return np.column_stack([np.concatenate([first, last]), np.concatenate([rows, rows])]).astype(np.int32)


def plane_homography(camera: Camera, plane_z_mm: float) -> FloatArray:
    """The (3, 3) map from world (x, y, 1) at height ``plane_z_mm`` to pixels, radial term left out."""
    intrinsic = np.array([[camera.focal_px, 0, camera.cx_px], [0, camera.focal_px, camera.cy_px], [0, 0, 1]])
    raised = camera.rotation[:, 2] * plane_z_mm + camera.translation_mm
    return intrinsic @ np.column_stack([camera.rotation[:, :2], raised])


def _through(homography: FloatArray, points: FloatArray) -> FloatArray:
    mapped = np.column_stack([points, np.ones(len(points))]) @ homography.T
    depth = mapped[:, 2:] * np.sign(homography[2, 2])
    return np.where(depth > 0, mapped[:, :2] / mapped[:, 2:], np.inf)


def _mm_per_px(on_plane_mm: FloatArray, corners_px: FloatArray) -> float:
    return float(
        np.linalg.norm(on_plane_mm[2] - on_plane_mm[0]) / np.linalg.norm(corners_px[2] - corners_px[0])
    )
