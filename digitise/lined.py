"""Lines of the table are table: joints of tiles and boards, and a mat's grid, where they differ from what is
between them.

Light joints that touch a racquet close round whole tiles with it, which then look like parts of it. Where a
long straight line of the photo runs, what is no wider than a line then counts as table.
"""

from __future__ import annotations

from collections.abc import Iterable

import cv2
import numpy as np

from digitise.hoop import disc
from digitise.silhouette import ODD, largest_thing
from digitise.table_model import Mask, TableModel
from digitise.tone import FloatArray

WIDEST_CELLS = 5
"""Cells of 2 mm: what is narrower, under a line, is the line. A tube is as wide, a shaft is bridged."""
HALF_MM = 5.0
"""How far to either side of where it was seen a line may be odd: of a joint one border is seen, or both."""
TILE_SHARE = 0.75
"""Share of the largest thing that is left, at most, where lines close round tiles with it."""
ON_BY = 0.25
"""By what share of its length a line goes on at either end: it was not seen beside other things."""


def strips_mm(lines_mm: Iterable[FloatArray]) -> list[FloatArray]:
    """Rings (4, 2) round lines (2, 2) of the world, from one of their ends to the other, prolonged."""
    strips = []
    for start, end in lines_mm:
        along = end - start
        aside = HALF_MM * np.array([-along[1], along[0]]) / np.hypot(*along)
        first, last = start - ON_BY * along, end + ON_BY * along
        strips.append(np.array([first - aside, last - aside, last + aside, first + aside]))
    return strips


def tiles_left_out(table: TableModel, under: Mask) -> TableModel:
    """The table without its lines, in the cells (rows, cols) ``under`` them, if they close round tiles.

    Else as it is: a racquet's narrow rim may lie on a line, too.
    """
    lines = lines_in(table, under)
    if not lines.any():
        return table
    left = largest_thing(np.where(lines, 0, table.oddness))
    return table.made_bare(lines) if left < TILE_SHARE * largest_thing(table.oddness) else table


def lines_in(table: TableModel, under: Mask) -> Mask:
    """Those of the cells (rows, cols) ``under`` lines of the table that show these, not wider things."""
    wide = cv2.morphologyEx((table.oddness > ODD).astype(np.uint8), cv2.MORPH_OPEN, disc(WIDEST_CELLS))
    return np.asarray(under & (wide == 0) & table.usable)
