"""Edges that look like the one a person clicked on.

A rim has several edges side by side: against the table, against its shadow, against the face's print. Which
of them is meant the click says, and the strongest is often another. So a place counts by how much the colours
on its two sides are those on the two sides of the clicked edge.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt
from scipy.ndimage import gaussian_filter, maximum_filter

from digitise.remap import remap_linear
from digitise.tone import LIGHT_OF_BYTE, FloatArray

CLICK_REACH_MM, CLICK_SD_MM = 2.5, 1.0
"""How far from a click its edge is looked for, and how far off a click usually is."""
SIDE_MM, ALONG_MM = 0.9, 1.5
"""How far beside an edge its colours are taken, and over how much of its length either way."""
BLUR_MM, RIDGE_MM = 0.35, 1.0
DARK = 0.02
"""Added to light (0 to 1) before its logarithm, in which an edge in a shadow looks like one in the sun."""
LOOSE, LEAST_SPREAD = 0.6, 0.08
"""How much the sides' colours may differ from the clicked edge's, in its own step, and at least."""
ANY_EDGE = 0.3
"""What any other edge counts that is as strong: the table's pattern changes, and grip turns into cap."""
CONTRAST = 4
"""Power by which a fair edge counts nearly as much as the best: else the line would cut corners."""
ASKEW = 0.3
"""What an edge square to the way to the next click counts, against one that runs there."""
CHANGED, CANDIDATES = 0.2, 4
"""What a pair of clicks on edges that look nothing alike counts; and how many edges a click may mean."""
Floats = npt.NDArray[np.float32]
Cell = tuple[int, int]
Part = tuple[slice, slice]  # rows and columns
WHOLE: Part = slice(None), slice(None)


@dataclass(frozen=True, eq=False)
class Edges:
    """The edges of a picture. Arrays are (h, w, ...), cells (column, row).

    ``light`` is the logarithm of the light, ``across`` the unit vector across the edge through each cell,
    ``steep`` how strong that edge is, ``ridge`` 1 on its crest, ``one`` and ``other`` the colours beside it.
    """

    cell_mm: float
    light: Floats
    across: Floats
    steep: Floats
    ridge: Floats
    one: Floats
    other: Floats

    def clicked(self, first: FloatArray, last: FloatArray) -> tuple[Cell, Cell]:
        """The cells of the edges meant by two clicks, (2,) each, of someone who follows one edge.

        Near, strong and running from click to click each count, and so does that the two look alike.
        """
        way = (last - first) / max(float(np.hypot(*(last - first))), 1e-9)
        best, found = -1.0, (self._cell(first), self._cell(last))
        mine, others = self._candidates(first, way), self._candidates(last, way)
        for start, score, left, right in mine:
            size = float(np.linalg.norm(right - left))
            for end, other_score, other_left, other_right in others:
                unlike = np.sum((left - other_left) ** 2) + np.sum((right - other_right) ** 2)
                like = np.exp(-unlike / (2 * max(LOOSE * size, LEAST_SPREAD) ** 2))
                total = score * other_score * (CHANGED + (1 - CHANGED) * like)
                if total > best:
                    best, found = total, (start, end)
        return found

    def _candidates(self, cell: FloatArray, way: FloatArray) -> list[tuple[Cell, float, Floats, Floats]]:
        """The edges a click may mean: cell, how likely, and the colours to the left and right of ``way``."""
        column, row = self._cell(cell)
        span = int(np.ceil(CLICK_REACH_MM / self.cell_mm))
        rows = np.arange(max(row - span, 0), min(row + span + 1, len(self.steep)))
        columns = np.arange(max(column - span, 0), min(column + span + 1, self.steep.shape[1]))
        near = np.ix_(rows, columns)
        askew = np.abs(self.across[near] @ way)
        away = np.hypot(*np.meshgrid(columns - cell[0], rows - cell[1])) * self.cell_mm
        score = self.steep[near] * self.ridge[near] * (1 - (1 - ASKEW) * askew**2)
        score = np.where(away > CLICK_REACH_MM, 0.0, score * np.exp(-0.5 * (away / CLICK_SD_MM) ** 2))
        found = []
        for _ in range(CANDIDATES):
            i, j = np.unravel_index(int(np.argmax(score)), score.shape)
            if score[i, j] <= 0:
                break
            place = int(columns[j]), int(rows[i])
            one, other = self._beside(place)
            normal = self.across[place[1], place[0]]
            to_right = way[0] * normal[1] - way[1] * normal[0] > 0  # rows run down
            found.append((place, float(score[i, j]), *((one, other) if to_right else (other, one))))
            score[np.hypot(*np.meshgrid(columns - place[0], rows - place[1])) * self.cell_mm < RIDGE_MM] = 0.0
        return found

    def _cell(self, cell: FloatArray) -> Cell:
        high, wide = self.steep.shape
        column, row = np.clip(np.round(cell).astype(int), 0, [wide - 1, high - 1])
        return int(column), int(row)

    def like(self, clicked: Sequence[Cell], part: Part = WHOLE) -> tuple[Floats, Floats]:
        """What in a ``part`` of the picture is on an edge like one of those at ``clicked``: its cost (h, w),
        0 there and 1 off any edge.

        And the unit vector (h, w, 2) across it, always from the same side of the edge to the other.
        """
        here_one, here_other, across = self.one[part], self.other[part], self.across[part]
        difference = here_other - here_one
        best, normal, largest = np.zeros(difference.shape[:2], np.float32), across, 1e-6
        for cell in clicked:
            before, after = self._beside(cell)
            step = after - before
            size = max(float(np.linalg.norm(step)), 1e-6)
            largest = max(largest, size)
            along = difference @ step
            forward = (along >= 0)[..., None]
            one, other = (
                np.where(forward, *sides) for sides in ((here_one, here_other), (here_other, here_one))
            )
            unlike = np.sum((one - before) ** 2, axis=2) + np.sum((other - after) ** 2, axis=2)
            spread = max(LOOSE * size, LEAST_SPREAD)
            reached = np.minimum(np.abs(along) / size**2, 1) * np.exp(-unlike / (2 * spread**2))
            better = (reached > best)[..., None]
            normal = np.where(better, np.where(forward, across, -across), normal)
            best = np.maximum(best, reached)
        any_edge = ANY_EDGE * np.minimum(np.linalg.norm(difference, axis=2) / largest, 1)
        on_edge = np.maximum(best, any_edge) * self.ridge[part] ** 2
        return ((1 - on_edge) ** CONTRAST).astype(np.float32), normal

    def _beside(self, start: Cell) -> tuple[Floats, Floats]:
        """Colours (3,) on both sides of the edge at a cell, over some of its length."""
        normal = self.across[start[1], start[0]]
        along = np.array([-normal[1], normal[0]])
        run = np.linspace(-ALONG_MM, ALONG_MM, 7)[:, None] / self.cell_mm * along
        found = []
        for side in (-SIDE_MM, SIDE_MM):
            where = (np.array(start) + run + side / self.cell_mm * normal)[None].astype(np.float32)
            found.append(np.asarray(remap_linear(self.light, where), np.float32)[0].mean(axis=0))
        return found[0], found[1]


def edges_of(picture: npt.NDArray[np.uint8], cell_mm: float) -> Edges:
    """The edges of an RGB picture (h, w, 3) whose cells are ``cell_mm`` wide."""
    light = np.log(LIGHT_OF_BYTE[picture] + np.float32(DARK))
    light = np.asarray(cv2.GaussianBlur(light, (0, 0), BLUR_MM / cell_mm), np.float32)
    slope = np.stack([cv2.Sobel(light, cv2.CV_32F, *way, scale=0.125) for way in ((1, 0), (0, 1))], axis=-1)
    product = np.einsum("hwci,hwcj->hwij", slope, slope)
    product = gaussian_filter(product, (0.5 / cell_mm, 0.5 / cell_mm, 0, 0))
    turn = 0.5 * np.arctan2(2 * product[..., 0, 1], product[..., 0, 0] - product[..., 1, 1])
    across = np.stack([np.cos(turn), np.sin(turn)], axis=-1).astype(np.float32)
    steep = np.linalg.norm(np.einsum("hwcx,hwx->hwc", slope, across), axis=2)
    ridge = steep / np.maximum(maximum_filter(steep, 2 * round(RIDGE_MM / cell_mm) + 1), 1e-9)
    rows, columns = np.indices(light.shape[:2], dtype=np.float32)
    places = np.stack([columns, rows], axis=-1)
    one, other = (
        np.asarray(remap_linear(light, places + np.float32(side / cell_mm) * across), np.float32)
        for side in (-SIDE_MM, SIDE_MM)
    )
    return Edges(cell_mm, light, across, steep, ridge, one, other)
