"""Which of several outlines, found from rough shapes of one racquet, to go on with."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from scipy.spatial import cKDTree

from digitise.flat import FlatView
from digitise.tone import FloatArray, Image

LARGER, LARGER_CLEAR, ALIKE_CLEAR = 1.05, 0.85, 0.99
"""An outline so many times larger is taken though it is less clear, down to this share; and from which share
on two are equally clear."""
SHORTER_MM = 4.0
"""Of two equally clear the shorter is taken if it is so by more than this."""
LARGER_FOREIGN, LONGER_MM = 0.05, 22.0
"""How surely what it takes in is no shadow, for a rim that looks like one is sought afterwards; and by how
much it may be longer, for a rim lies round the head alone."""
LEFT_OUT = 0.02
"""What it may leave out of the other, as a share of what it takes in: a rim lies all round, so what leaves
out more lies about another axis."""
LARGER_EDGE, APART_MM = 0.35, 1.5
"""How strong an edge it lies on where the two are so far apart, as a share of the other's: a rim's outer edge
may be faint, but round what is no rim there is none."""


_LEAST = 1e-6
Edged = tuple[FloatArray, FloatArray]
"""An outline's points (n, 2), about 1 mm apart, and how strong an edge (n,) each lies on."""


@dataclass(frozen=True, eq=False)
class Rival:
    """An outline ``world_mm`` (n, 2), its points about 1 mm apart, how strong an ``edge`` (n,) each lies on,
    how long it is, and how clear its edge on the whole."""

    world_mm: FloatArray
    edge: FloatArray
    length_mm: float
    clearness: float

    @property
    def edged(self) -> Edged:
        return self.world_mm, self.edge

    @property
    def area_mm2(self) -> float:
        return float(cv2.contourArea(self.world_mm.astype(np.float32)))


def clearest(rivals: list[Rival], view: FlatView, foreign: Image) -> int:
    """Index of the one to go on with: the clearest, but rather a clearly larger one, whose inner rival
    follows a rim's inner border, and of two alike the shorter, whose rival took a shadow for its end.

    ``foreign`` (rows, cols), on the grid of ``view``, is how surely a place is no table in any shadow.
    """
    best = max(rivals, key=lambda rival: rival.clearness)
    largest = max(rivals, key=lambda rival: rival.area_mm2)
    if largest.area_mm2 > LARGER * best.area_mm2 and largest.length_mm < best.length_mm + LONGER_MM:
        within, inner = view.cells_in([largest.world_mm]), view.cells_in([best.world_mm])
        between = within > inner
        all_round = (inner > within).sum() < LEFT_OUT * between.sum()
        no_shadow = bool(between.any()) and float(foreign[between].mean()) > LARGER_FOREIGN
        if (
            all_round
            and no_shadow
            and edge_share(largest.edged, best.edged) > LARGER_EDGE
            and largest.clearness > LARGER_CLEAR * best.clearness
        ):
            best = largest
    shorter = [
        rival
        for rival in rivals
        if rival.length_mm < best.length_mm - SHORTER_MM
        and best.area_mm2 < LARGER * rival.area_mm2
        and rival.clearness > ALIKE_CLEAR * best.clearness
    ]
    return rivals.index(min(shorter, key=lambda rival: rival.length_mm, default=best))


def edge_share(own: Edged, other: Edged) -> float:
    """How strong an edge an outline lies on where it leaves another, as a share of what that lies on there;
    infinite where only one of them leaves the other, or none."""
    (own_mm, own_edge), (other_mm, other_edge) = own, other
    here = own_edge[cKDTree(other_mm).query(own_mm)[0] > APART_MM]
    there = other_edge[cKDTree(own_mm).query(other_mm)[0] > APART_MM]
    if len(here) == 0 or len(there) == 0:
        return np.inf
    return float(here.mean() / max(there.mean(), _LEAST))
