"""How exactly a person cuts, weighs and places: the covariance of what the pieces add."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from model.errors import StripError
from model.laying import Laid, along_rim, lay, rim_place_mm
from model.pieces import EdgeStrip, FacePatch, FromTip, HandleRing, OpeningStrip
from model.readings import PLACE_SD_MM
from model.site import Site

Array = NDArray[np.float64]

HALVINGS = 12  # of a slip: of one of 3 mm a few thousandths of a mm are tried last


@dataclass(frozen=True)
class Tolerance:
    """One sd of a piece's place (along the edge or handle, and across the face) and of its mass."""

    place_mm: float = PLACE_SD_MM
    mass_g: float = 0.1


def placement_cov(site: Site, laid: Sequence[Laid], tolerance: Tolerance) -> Array:
    """Covariance (6, 6) of the summed mass integrals of the pieces.

    Each piece errs on its own in place and in weighing; pieces whose mass was worked out from
    one material err together by that material's own sd.
    """
    cov = np.zeros((6, 6))
    together: dict[str, Array] = defaultdict(lambda: np.zeros(6))
    for one in laid:
        piece = one.piece
        per_gram = one.integrals / piece.mass_g
        # A mass worked out from a tape's g/mm is not weighed, so the scale adds nothing to it.
        if piece.mass_sd_g:
            together[piece.stuff.material or piece.text] += per_gram * piece.mass_sd_g
        else:
            cov += np.outer(per_gram, per_gram) * tolerance.mass_g**2
        for slip in slips(site, one, tolerance.place_mm):
            cov += np.outer(slip, slip)
    return np.asarray(cov + sum((np.outer(v, v) for v in together.values()), np.zeros((6, 6))))


def risen(site: Site, laid: Sequence[Laid]) -> Array:
    """What the pieces' summed integrals (6,) change by when the handle top lies one sd higher than traced.

    A person measures from the racquet's own: distances from the handle top move with it, and clock
    positions by half where the face begins there, for their centre lies half-way between its lower end and
    the tip. What then does not fit stays.
    """
    return _moved(laid, site.with_handle_top, site.handle_top_mm, site.handle_top_sd_mm)


def throat_risen(site: Site, laid: Sequence[Laid]) -> Array:
    """:func:`risen` for the throat top, where the face of a racquet with an open throat or shaft begins."""
    return _moved(laid, site.with_face_bottom, site.face_bottom_mm, site.throat_top_sd_mm)


def _moved(laid: Sequence[Laid], placed: Callable[[float], Site], at_mm: float, sd_mm: float) -> Array:
    """By how much the pieces' summed integrals (6,) change where a landmark lies one sd higher."""
    total = np.zeros(6)
    if not sd_mm:
        return total
    low, high = (placed(at_mm + by) for by in (-sd_mm / 2, sd_mm / 2))
    for one in laid:
        try:
            total += lay(high, one.piece).integrals - lay(low, one.piece).integrals
        except StripError:
            continue
    return total


def slips(site: Site, one: Laid, place_mm: float) -> list[Array]:
    """What a piece's integrals (6,) change by when it slips so far, for each way it can slip."""
    if not place_mm:
        return []
    return [place_mm * _slope(slipped, one.integrals, place_mm) for slipped in _ways(site, one)]


def _ways(site: Site, one: Laid) -> list[Callable[[float], Laid]]:
    """For each way a piece can slip, how it lies when it has slipped so many mm."""
    piece = one.piece
    match piece:
        case EdgeStrip() if one.middle_mm is not None:
            at = one.middle_mm
            return [lambda mm: lay(site, replace(piece, place=FromTip(at + mm)))]
        case FacePatch():
            return [
                lambda mm: lay(site, replace(piece, x_mm=piece.x_mm + mm)),
                lambda mm: lay(site, replace(piece, y_mm=piece.y_mm + mm)),
            ]
        case HandleRing():
            return [lambda mm: lay(site, replace(piece, y_mm=piece.y_mm + mm))]
        case OpeningStrip():
            rim_mm = rim_place_mm(site, piece)
            # A slip of more than a quarter of the way round would bring it back towards its place.
            most_mm = site.opening_edges[piece.opening - 1].perimeter_mm / 4
            return [lambda mm: along_rim(site, piece, rim_mm + min(max(mm, -most_mm), most_mm))]
        case _:
            return []


def _slope(slipped: Callable[[float], Laid], unslipped: Array, step_mm: float) -> Array:
    """By central difference; one-sided where the piece would slip off its surface on one side, and by
    smaller steps where on both. 0 where there is no room at all."""
    for _ in range(HALVINGS):
        ends = [_integrals(slipped, by) for by in (-step_mm, step_mm)]
        fit = sum(end is not None for end in ends)
        if fit:
            low, high = (unslipped if end is None else end for end in ends)
            return np.asarray((high - low) / (fit * step_mm))
        step_mm /= 2
    return np.zeros(6)


def _integrals(slipped: Callable[[float], Laid], by_mm: float) -> Array | None:
    try:
        return slipped(by_mm).integrals
    except StripError:
        return None
