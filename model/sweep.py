"""Mass swept along a curve: a strip's cross-section carried along the true edge, integrated exactly.

The mass of a strip is spread evenly along the edge's own length; at each point its
cross-section reaches out along the edge's normal (offset u, outwards positive) and through the
thickness (z). On a polyline the integrals of 1, x, y, xx, yy, zz are polynomials, so nothing is
approximated, and cutting a strip in two changes nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.pieces import Fold, Stuff

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Section:
    """A cross-section's means over its mass: u, u² and z², mm and mm²."""

    u: float
    uu: float
    zz: float


def edge_section(stuff: Stuff, fold: Fold, stand_off_mm: float, thickness_mm: float) -> Section:
    """The section of tape at a wall of ``thickness_mm`` (z from -t/2 to t/2), u = 0 on the outline.

    Over the edge: tape of unstated width covers the wall evenly; wider tape folds its lips
    over both faces. On the face: flat, its outer side ``stand_off_mm`` inside the outline.
    """
    pile, half = stuff.pile_mm, thickness_mm / 2
    on_face_zz = (half + pile / 2) ** 2 + pile**2 / 12
    if fold is Fold.ON_FACE:
        width = stuff.width_mm or 0.0
        middle = -stand_off_mm - width / 2
        return Section(middle, middle**2 + width**2 / 12, on_face_zz)
    wall_u = stand_off_mm + pile / 2
    wall_uu = wall_u**2 + pile**2 / 12
    width = thickness_mm if stuff.width_mm is None else stuff.width_mm
    if width <= thickness_mm:
        return Section(wall_u, wall_uu, width**2 / 12)
    lip, share = (width - thickness_mm) / 2, thickness_mm / width
    lip_u = stand_off_mm - lip / 2
    return Section(
        share * wall_u + (1 - share) * lip_u,
        share * wall_uu + (1 - share) * (lip_u**2 + lip**2 / 12),
        share * thickness_mm**2 / 12 + (1 - share) * on_face_zz,
    )


def bar_section(stuff: Stuff, fold: Fold, thickness_mm: float) -> Section:
    """The section of tape along the middle of a bar, as across a throat: even about the line."""
    width = stuff.width_mm or 0.0
    if fold is Fold.OVER_EDGE:
        return Section(0.0, 0.0, thickness_mm**2 / 12)
    pile = stuff.pile_mm
    return Section(0.0, width**2 / 12, (thickness_mm / 2 + pile / 2) ** 2 + pile**2 / 12)


def swept(curve_mm: Array, section: Section, mass_g: float, outwards: float = 1.0) -> Array:
    """Integrals (6,) of 1, x, y, xx, yy, zz, in g and mm, of ``mass_g`` swept along a polyline (n, 2).

    Outwards is left of the curve's direction, or right of it with ``outwards`` = -1.
    """
    return np.asarray(mass_g * swept_per_gram(curve_mm, section, outwards).sum(axis=0))


def swept_per_gram(curve_mm: Array, section: Section, outwards: float = 1.0) -> Array:
    """The same for one gram on the whole curve, segment by segment: (n - 1, 6)."""
    a, b = curve_mm[:-1], curve_mm[1:]
    step = b - a
    length = np.hypot(step[:, 0], step[:, 1])
    share = length / length.sum()
    middle, half = (a + b) / 2, step / 2
    across = np.column_stack([-step[:, 1], step[:, 0]])
    across = outwards * np.divide(
        across, length[:, None], out=np.zeros_like(across), where=length[:, None] > 0
    )
    first = middle + section.u * across
    second = middle**2 + half**2 / 3 + 2 * section.u * across * middle + section.uu * across**2
    ones = np.ones(len(a))
    return np.asarray(
        share[:, None] * np.column_stack([ones, first[:, 0], first[:, 1], second, section.zz * ones])
    )
