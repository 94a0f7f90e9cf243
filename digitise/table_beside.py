"""What the flat view knows of the table beside an outline: its colour, and where nothing else is seen."""

from __future__ import annotations

import cv2
import numpy as np

from digitise.band import Band
from digitise.flat import FlatView
from digitise.remap import remap_apart
from digitise.resting import Resting
from digitise.table_evidence import Ground
from digitise.table_model import TableModel
from digitise.tone import FloatArray


def table_under(view: FlatView, table: TableModel, resting: Resting, points_mm: FloatArray) -> FloatArray:
    """The bare table's log colour (n, 3) under points (n, 2) of the racquet's frame."""
    return np.asarray(table.colour[view.nearest(resting.to_world(points_mm)[:, :2])], float)


def _to_grid(view: FlatView, resting: Resting) -> FloatArray:
    """The flat view's (column, row) (3, 2) a mm of x and of y more is, and that of the racquet's zero."""
    corners = view.to_grid(resting.to_world(np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))[:, :2])
    return np.vstack([corners[1:] - corners[0], corners[:1]])


def ground_along(view: FlatView, table: TableModel, resting: Resting, band: Band) -> Ground:
    """What the flat view knows of the table along the band."""
    to_grid = _to_grid(view, resting)
    base, step = (band.base_mm @ to_grid[:2] + to_grid[2]).T, (band.normal @ to_grid[:2]).T
    where = np.multiply.outer(step.astype(np.float32), band.offset_mm.astype(np.float32))
    where += base[..., None].astype(np.float32)
    bare = remap_apart(table.usable.view(np.uint8), where[0], where[1], cv2.INTER_NEAREST).view(bool)
    return Ground(table_under(view, table, resting, band.base_mm), bare, table.spread)
