"""Which part of a printed sheet is seen, where the racquet lies on another part of it."""

from __future__ import annotations

import cv2
import numpy as np

from digitise.flat import FlatView
from digitise.table_model import Mask

DARKER, TINTED = 0.45, 0.12
"""Paper is at least this share as bright as its brightest part, shadows of the racquet left out, and the
shares of its colours differ by less than this from the paper's own."""
PRINT_CELLS = 5
"""Gaps in it up to so many cells are print: the ruler line and its numbers."""


def uncovered_paper(view: FlatView, sheet: Mask, marks: Mask) -> Mask:
    """The cells of ``sheet`` (rows, cols) on which nothing lies: plain paper and the ``marks`` seen on it."""
    light = view.light.sum(axis=2)
    plain = sheet & ~marks
    if not plain.any():
        return sheet
    white = float(np.quantile(light[plain], 0.9))
    shares = view.light / np.maximum(light, 1e-6)[..., None]
    paper = plain & (light > 0.9 * white)
    apart = np.abs(shares - np.median(shares[paper], axis=0)).max(axis=2) if paper.any() else np.inf
    seen = sheet & (marks | ((light > DARKER * white) & (apart < TINTED)))
    near = np.ones((PRINT_CELLS, PRINT_CELLS), np.uint8)
    return np.asarray(sheet & (cv2.morphologyEx(seen.astype(np.uint8), cv2.MORPH_CLOSE, near) > 0))
