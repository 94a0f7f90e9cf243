"""Pieces of added weight on a racquet: laid with their twins, summed, and what is odd about them said."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from model.collisions import oddities
from model.laying import Laid, called, lay, twin
from model.pieces import ButtWeight, EdgeStrip, HandleRing, Perimeter, Piece, ThroatStrip
from model.site import Site

Array = NDArray[np.float64]

ON_AXIS_MM = 0.5  # a piece centred this near the long axis is its own mirror image


def lay_all(site: Site, pieces: Sequence[Piece], mirror: bool = False) -> tuple[list[Laid], list[str]]:
    """Lay pieces, with their mirror twins if they or ``mirror`` ask, and say in plain words what is odd.

    A piece centred on the long axis is its own twin and is laid once. Raises StripError if one
    does not fit.
    """
    laid, notes = [], []
    for piece in pieces:
        first = lay(site, piece)
        laid.append(first)
        if not (mirror or piece.mirror):
            continue
        if _own_twin(first):
            notes.append(
                f"{called(piece)} lies across the long axis, is its own mirror twin and is laid once"
            )
        else:
            laid.append(lay(site, twin(site, piece)))
    return laid, notes + oddities(site, laid)


def added(laid: Sequence[Laid]) -> Array:
    """Mass integrals (6,) of 1, x, y, xx, yy, zz that the pieces add, g and mm."""
    return np.asarray(sum((one.integrals for one in laid), np.zeros(6)))


def _own_twin(one: Laid) -> bool:
    if isinstance(one.piece, ButtWeight | HandleRing | Perimeter | ThroatStrip):
        return True
    middle = one.integrals[1] / one.integrals[0]
    if isinstance(one.piece, EdgeStrip) and one.middle_mm is not None:
        return abs(one.middle_mm) < ON_AXIS_MM
    return bool(abs(middle) < ON_AXIS_MM)
