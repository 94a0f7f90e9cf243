"""Light lines on the table, and patches of light, that run out of the picture: they are table.

Joints between tiles that pass under the racquet, or a patch of sun that reaches it, join it to the picture's
edge: it then seems cut off. They are lighter than the table and have its tint.
"""

from __future__ import annotations

import cv2
import numpy as np

from digitise.silhouette import ODD
from digitise.table_model import Mask, TableModel

TINT_SHARE, TINT = 0.25, 0.05
"""How much the colour ratios (log) of what is lit may differ from the table's: a share of how much lighter it
is, as where it is nearly white in the photo, and a little more."""
EDGE_CELLS = 5
"""Nearer than this to the picture's edge it runs out of it."""


def without_light(table: TableModel, inside: Mask) -> TableModel:
    """The table with what is lit and runs out of the picture, ``inside`` (rows, cols), made table."""
    lit = _lit(table)
    _, parts = cv2.connectedComponents(lit.astype(np.uint8))
    out = lit & np.isin(parts, np.unique(parts[_rim(inside) & lit]))
    out = cv2.dilate(out.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0  # its border is half lit
    return table.made_bare(out)


def _rim(inside: Mask) -> Mask:
    cells = np.ones((EDGE_CELLS, EDGE_CELLS), np.uint8)
    return np.asarray(inside & (cv2.erode(inside.astype(np.uint8), cells, borderValue=0) == 0))


def _lit(table: TableModel) -> Mask:
    """Cells that are lighter than the table and have its tint."""
    rest = table.unlike * table.spread
    tint = np.hypot(rest[..., 1], rest[..., 2])
    lighter = table.unlike[..., 0] > ODD / 2
    return np.asarray(lighter & (tint < TINT_SHARE * rest[..., 0] + TINT) & table.usable)
