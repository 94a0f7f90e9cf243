"""The straightened photo in square pieces: coarse ones at once, fine ones where the person looks."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import lru_cache
from threading import Lock
from typing import Protocol

import cv2
import numpy as np
import numpy.typing as npt

from digitise.remap import remap_linear
from digitise.tone import FloatArray

TILE_PX = 512
BEYOND_GREY = 73.0  # the board's own colour in the page
JPEG_QUALITY = 92
_KEPT_TILES = 96
_GRID_PX = 32  # the camera's mapping is taken every so many pixels and interpolated: it is smooth to 0.01 px


class Surface(Protocol):
    """Something that says which pixels of the photo its points show."""

    def to_px(self, points_mm: FloatArray) -> FloatArray:
        """Pixels (n, 2) of points (n, 2)."""
        ...


@dataclass(frozen=True)
class Extent:
    """What part of a sheet has a picture: corners in mm, and mm per pixel at the finest level 0."""

    left_mm: float
    bottom_mm: float
    right_mm: float
    top_mm: float
    mm_per_px: float

    @property
    def levels(self) -> int:
        """Number of levels; the coarsest shows everything in one piece."""
        longest = max(self.right_mm - self.left_mm, self.top_mm - self.bottom_mm) / self.mm_per_px
        return max(1, math.ceil(math.log2(max(longest / TILE_PX, 1.0))) + 1)

    def tiles(self, level: int) -> tuple[int, int]:
        """Columns and rows of a level."""
        size_mm = TILE_PX * self.mm_per_px * 2**level
        across, down = self.right_mm - self.left_mm, self.top_mm - self.bottom_mm
        return math.ceil(across / size_mm), math.ceil(down / size_mm)


class Album:
    """A photo at full size, a half, a quarter and so on, so that coarse tiles do not flicker."""

    def __init__(self, pixels_rgb: npt.NDArray[np.uint8]) -> None:
        self._pages = [pixels_rgb]
        self._lock = Lock()

    def page(self, level: int) -> npt.NDArray[np.uint8]:
        """The photo shrunk by 2 to the power of ``level``."""
        with self._lock:
            while len(self._pages) <= level:
                last = self._pages[-1]
                size = max(last.shape[1] // 2, 1), max(last.shape[0] // 2, 1)
                halved = cv2.resize(last, size, interpolation=cv2.INTER_AREA)
                self._pages.append(np.asarray(halved, np.uint8))
            return self._pages[level]


@dataclass(eq=False)
class Tiles:
    """The tiles of one sheet, made when asked for and the last ones kept."""

    surface: Surface
    extent: Extent
    album: Album
    _jpeg: object = field(init=False)

    def __post_init__(self) -> None:
        self._jpeg = lru_cache(_KEPT_TILES)(self._made)

    def jpeg(self, level: int, column: int, row: int) -> bytes | None:
        """One tile as JPEG, or None where there is none."""
        if not 0 <= level < self.extent.levels:
            return None
        columns, rows = self.extent.tiles(level)
        if not (0 <= column < columns and 0 <= row < rows):
            return None
        return self._jpeg(level, column, row)  # type: ignore[operator,no-any-return]

    def _made(self, level: int, column: int, row: int) -> bytes:
        size_mm = TILE_PX * self.extent.mm_per_px * 2**level
        left, top = self.extent.left_mm + column * size_mm, self.extent.top_mm - row * size_mm
        patch = straightened(
            self.surface, self.album, (left, top), self.extent.mm_per_px * 2**level, (TILE_PX, TILE_PX), level
        )
        done, data = cv2.imencode(
            ".jpg", cv2.cvtColor(patch, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY]
        )
        if not done:
            raise RuntimeError("a tile could not be written as JPEG")
        return data.tobytes()


def straightened(
    surface: Surface,
    album: Album,
    left_top_mm: tuple[float, float],
    mm_per_px: float,
    size_px: tuple[int, int],
    level: int = 0,
) -> npt.NDArray[np.uint8]:
    """RGB picture (height, width, 3) of the part of a sheet whose left top corner is given.

    The centre of its pixel (0, 0) lies half a pixel inside that corner. What the photo does not reach is
    the board's grey.
    """
    width, height = size_px
    columns = np.arange(0, width + _GRID_PX, _GRID_PX)
    rows = np.arange(0, height + _GRID_PX, _GRID_PX)
    x = left_top_mm[0] + (columns + 0.5) * mm_per_px
    y = left_top_mm[1] - (rows + 0.5) * mm_per_px
    grid = np.stack(np.meshgrid(x, y), axis=-1)
    where = surface.to_px(grid.reshape(-1, 2)).reshape(len(rows), len(columns), 2)
    where = np.nan_to_num((where + 0.5) / 2**level - 0.5, nan=-1e4)
    # Bilinear between the grid's points; pixel (i, j) of the patch lies at (i, j) / _GRID_PX of the grid.
    at = np.stack(np.meshgrid(np.arange(width) / _GRID_PX, np.arange(height) / _GRID_PX), axis=-1)
    fine = remap_linear(where.astype(np.float32), at.astype(np.float32))
    return np.asarray(remap_linear(album.page(level), fine, beyond=BEYOND_GREY), np.uint8)
