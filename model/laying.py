"""Laying a piece on a racquet: the curve or area it covers and the mass integrals it adds."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, partial, singledispatch

import numpy as np
from numpy.typing import NDArray
from shapely.affinity import rotate
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from model.edge import clock_hit
from model.errors import OutlineError, StripError
from model.handle import GRIP_MM, handle_table, plug_integrals, sides_at
from model.moments import geometry_moments
from model.pieces import (
    ButtWeight,
    Clock,
    EdgeStrip,
    FacePatch,
    Fold,
    FromHandleTop,
    FromTip,
    HandleRing,
    OpeningStrip,
    Perimeter,
    Piece,
    Side,
    ThroatStrip,
)
from model.site import Site, throat_ends
from model.sweep import Section, bar_section, edge_section, swept

Array = NDArray[np.float64]

THIN_MM = 1.0  # half the width a strip of unstated width is drawn with


@dataclass(frozen=True, eq=False)
class Laid:
    """A piece in its place.

    ``integrals`` (6,) of 1, x, y, xx, yy, zz in g and mm; ``curve_mm`` (n, 2) the curve it
    follows or its own outline; ``covering`` makes the area it covers as seen from above; ``along_mm``
    its ends along the outer edge from the tip, None for what is not on that edge;
    ``surfaces`` what it lies on: "wall", "front", "back", "handle", "butt", "opening N".
    """

    piece: Piece
    integrals: Array
    curve_mm: Array
    covering: Callable[[], BaseGeometry]
    along_mm: tuple[float, float] | None
    surfaces: frozenset[str]

    @cached_property
    def cover(self) -> BaseGeometry:
        """The area it covers as seen from above, made when it is first asked for."""
        return self.covering()

    @property
    def middle_mm(self) -> float | None:
        """The middle's signed distance along the edge from the tip; None off the edge."""
        return None if self.along_mm is None else sum(self.along_mm) / 2


def lay(site: Site, piece: Piece) -> Laid:
    """Put one piece in its place. Raises StripError if it does not fit there."""
    return _lay(piece, site)


def twin(site: Site, piece: Piece) -> Piece:
    """The piece on the other side of the long axis. Raises StripError if an opening has no twin."""
    other = replace(piece, is_twin=not piece.is_twin)
    match other:
        case EdgeStrip(place=Clock(hours)):
            return replace(other, place=Clock(-hours % 12))
        case EdgeStrip(place=FromTip(mm)):
            return replace(other, place=FromTip(-mm))
        case EdgeStrip(place=FromHandleTop(mm, left)):
            return replace(other, place=FromHandleTop(mm, not left))
        case FacePatch():
            return replace(other, x_mm=-other.x_mm, turn_deg=-other.turn_deg)
        case OpeningStrip():
            index = _twin_opening(site, _opening(site, other))
            return replace(other, opening=index + 1, hours=-other.hours % 12)
        case _:
            return other


def called(piece: Piece) -> str:
    """A piece's name in a sentence."""
    from model.spelt import spell

    text = piece.text or spell(piece)
    return f"the mirror twin of {text!r}" if piece.is_twin else f"the strip {text!r}"


@singledispatch
def _lay(piece: Piece, site: Site) -> Laid:
    raise StripError(f"{called(piece)} is of an unknown kind")


@_lay.register
def _(piece: EdgeStrip, site: Site) -> Laid:
    place = piece.place
    if isinstance(place, FromTip):
        return _along_edge(site, piece, place.mm)
    if isinstance(place, FromHandleTop):
        left, right = site.handle_tops_mm
        reach = left if place.left else right
        if place.mm > reach:
            raise StripError(
                f"{called(piece)} lies {place.mm:.0f} mm from the handle top along the edge, but the tip is "
                f"only {reach:.0f} mm from it: give a smaller distance"
            )
        return _along_edge(site, piece, place.mm - left if place.left else right - place.mm)
    hit = clock_hit(site.edge, site.centre_mm, site.face_bottom_mm, place.hours)
    if hit.s_mm is None:
        low_mm, bottom_mm = site.centre_mm[1] - site.throat_mm, site.centre_mm[1] - site.face_bottom_mm
        return _across_throat(site, piece, hit.point_mm[0] * low_mm / bottom_mm)
    return _along_edge(site, piece, hit.s_mm)


@_lay.register
def _(piece: Perimeter, site: Site) -> Laid:
    left, right = site.handle_tops_mm
    return _swept_edge(site, piece, -left, right)


@_lay.register
def _(piece: ThroatStrip, site: Site) -> Laid:
    return _across_throat(site, piece, 0.0)


@_lay.register
def _(piece: OpeningStrip, site: Site) -> Laid:
    return along_rim(site, piece, rim_place_mm(site, piece))


def rim_place_mm(site: Site, piece: OpeningStrip) -> float:
    """Where along its opening's rim a strip's middle lies. Raises StripError where there is no such place."""
    index = _opening(site, piece)
    edge = site.opening_edges[index]
    try:
        hit = clock_hit(edge, site.opening_middle_mm(index), -math.inf, piece.hours)
    except OutlineError:
        raise StripError(f"opening {piece.opening} has no clock positions: its middle is not open") from None
    return hit.s_mm or 0.0


def along_rim(site: Site, piece: OpeningStrip, middle_mm: float) -> Laid:
    """A strip with its middle so far along its opening's rim. Raises StripError if it is too long."""
    edge = site.opening_edges[_opening(site, piece)]
    if piece.length_mm >= edge.perimeter_mm:
        raise StripError(
            f"{called(piece)} is longer than the rim of opening {piece.opening}, "
            f"{edge.perimeter_mm:.0f} mm: make it shorter"
        )
    curve = edge.stretch(middle_mm - piece.length_mm / 2, middle_mm + piece.length_mm / 2)
    section = edge_section(piece.stuff, piece.fold, piece.stand_off_mm, site.face_thickness_mm)
    cover = partial(_band, curve, piece, outwards=-1.0, thickness_mm=site.face_thickness_mm)
    surfaces = {f"opening {piece.opening}"} if piece.fold is Fold.OVER_EDGE else _faces(piece.side)
    return Laid(piece, swept(curve, section, piece.mass_g, -1.0), curve, cover, None, frozenset(surfaces))


@_lay.register
def _(piece: FacePatch, site: Site) -> Laid:
    half_x, half_y = piece.across_mm / 2, piece.along_mm / 2
    shape = box(piece.x_mm - half_x, piece.y_mm - half_y, piece.x_mm + half_x, piece.y_mm + half_y)
    shape = rotate(shape, -piece.turn_deg, origin=(piece.x_mm, piece.y_mm))
    if shape.intersection(site.outline.filled).area == 0:
        raise StripError(f"{called(piece)} lies wholly beside the racquet: correct x and y")
    if piece.y_mm < site.handle_top_mm:
        raise StripError(
            f"{called(piece)} lies on the handle, which begins at {site.handle_top_mm:.0f} mm: "
            "write it as handle at ..., or move it up"
        )
    m = geometry_moments(shape)
    pile = piece.stuff.pile_mm
    zz = (site.face_thickness_mm / 2 + pile / 2) ** 2 + pile**2 / 12
    integrals = piece.mass_g * np.array([1.0, m.x / m.size, m.y / m.size, m.xx / m.size, m.yy / m.size, zz])
    corners = np.asarray(shape.exterior.coords)
    return Laid(piece, integrals, corners, lambda: shape, None, frozenset(_faces(piece.side)))


@_lay.register
def _(piece: HandleRing, site: Site) -> Laid:
    low, high = piece.y_mm - piece.length_mm / 2, piece.y_mm + piece.length_mm / 2
    bottom = float(site.outline.outer_mm[:, 1].min())
    if low < bottom or high > site.handle_top_mm:
        raise StripError(
            f"{called(piece)} does not lie on the handle, which runs from {round(bottom)} to "
            f"{site.handle_top_mm:.0f} mm: move it or make it shorter"
        )
    stand_off = -GRIP_MM if piece.under_grip else piece.stuff.pile_mm / 2
    rings = handle_table(site.edge, high, site.handle_thickness_mm, stand_off, piece.radius_mm)
    unit = rings.between(low, high) / piece.length_mm
    left, right = sides_at(site.edge, np.array([low, high]))
    cover = Polygon([(left[0], low), (right[0], low), (right[1], high), (left[1], high)])
    surface = "under the grip" if piece.under_grip else "handle"
    return Laid(
        piece,
        piece.mass_g * unit,
        np.asarray(cover.exterior.coords),
        lambda: cover,
        None,
        frozenset({surface}),
    )


@_lay.register
def _(piece: ButtWeight, site: Site) -> Laid:
    bottom = float(site.outline.outer_mm[:, 1].min())
    if bottom + piece.depth_mm > site.handle_top_mm:
        raise StripError(
            f"{called(piece)} reaches past the handle top at {site.handle_top_mm:.0f} mm: make it less deep"
        )
    unit = plug_integrals(site.edge, piece.depth_mm, site.handle_thickness_mm)
    left, right = sides_at(site.edge, np.array([bottom + piece.depth_mm / 2]))
    cover = box(float(left[0]), bottom, float(right[0]), bottom + piece.depth_mm)
    return Laid(
        piece,
        piece.mass_g * unit,
        np.asarray(cover.exterior.coords),
        lambda: cover,
        None,
        frozenset({"butt"}),
    )


def _along_edge(site: Site, piece: EdgeStrip, along_mm: float) -> Laid:
    half = site.edge.perimeter_mm / 2
    if abs(along_mm) > half:
        raise StripError(
            f"{called(piece)} lies {abs(along_mm):.0f} mm from the tip along the edge, but each "
            f"side is only {half:.0f} mm long: give a smaller distance"
        )
    if piece.length_mm >= site.edge.perimeter_mm:
        raise StripError(
            f"{called(piece)} is longer than the whole edge, {site.edge.perimeter_mm:.0f} mm: make it shorter"
        )
    return _swept_edge(site, piece, along_mm - piece.length_mm / 2, along_mm + piece.length_mm / 2)


def _swept_edge(site: Site, piece: EdgeStrip | Perimeter, start_mm: float, end_mm: float) -> Laid:
    curve = site.edge.stretch(start_mm, end_mm)
    if float(curve[:, 1].min()) < site.lowest_mm:
        raise StripError(
            f"{called(piece)} reaches the butt of the handle, where tape can't follow the edge: "
            "make it shorter or move it towards the tip"
        )
    section = edge_section(piece.stuff, piece.fold, piece.stand_off_mm, site.face_thickness_mm)
    cover = partial(_band, curve, piece, outwards=1.0, thickness_mm=site.face_thickness_mm)
    surfaces = _edge_surfaces(piece, site.face_thickness_mm)
    return Laid(
        piece, swept(curve, section, piece.mass_g), curve, cover, (start_mm, end_mm), frozenset(surfaces)
    )


def _across_throat(site: Site, piece: EdgeStrip | ThroatStrip, middle_x_mm: float) -> Laid:
    y = site.throat_mm
    left, right = throat_ends(site.edge, y)
    low, high = middle_x_mm - piece.length_mm / 2, middle_x_mm + piece.length_mm / 2
    if low < left or high > right:
        raise StripError(
            f"{called(piece)} of {piece.length_mm:.0f} mm does not fit across the throat, which is "
            f"{right - left:.0f} mm wide: make it shorter or move it round the edge"
        )
    curve = np.array([[low, y], [high, y]])
    section: Section = bar_section(piece.stuff, piece.fold, site.face_thickness_mm)
    cover = LineString(curve).buffer((piece.stuff.width_mm or 2 * THIN_MM) / 2, cap_style="flat")
    surfaces = _faces(piece.side) if piece.fold is Fold.ON_FACE else {"front", "back"}
    return Laid(piece, swept(curve, section, piece.mass_g), curve, lambda: cover, None, frozenset(surfaces))


def _band(
    curve: Array, piece: EdgeStrip | Perimeter | OpeningStrip, outwards: float, thickness_mm: float
) -> BaseGeometry:
    """What of a strip is seen from above: its flat width, or its lip and the pile on the wall."""
    line = LineString(curve)
    width = piece.stuff.width_mm
    if piece.fold is Fold.ON_FACE:
        outer, inner = -piece.stand_off_mm, -piece.stand_off_mm - (width or 2 * THIN_MM)
    else:
        lip = 0.0 if width is None else max((width - thickness_mm) / 2, 0.0)
        outer = piece.stand_off_mm + max(piece.stuff.pile_mm, THIN_MM)
        inner = piece.stand_off_mm - max(lip, THIN_MM)
    # shapely's single-sided buffer lies left of a line for a positive distance
    near, far = sorted((outwards * outer, outwards * inner))
    left, right = (line.buffer(d, single_sided=True) if d else Point(0, 0) for d in (far, near))
    if near < 0 < far:
        return left.union(right)
    wide, narrow = (left, right) if far > 0 else (right, left)
    return wide.difference(narrow) if narrow.area else wide


def _edge_surfaces(piece: EdgeStrip | Perimeter, thickness_mm: float) -> set[str]:
    if piece.fold is Fold.ON_FACE:
        return _faces(piece.side)
    folded = (piece.stuff.width_mm or 0.0) > thickness_mm
    return {"wall", "front", "back"} if folded else {"wall"}


def _faces(side: Side) -> set[str]:
    return {"front", "back"} if side is Side.BOTH else {side.value}


def _opening(site: Site, piece: OpeningStrip) -> int:
    count = len(site.opening_edges)
    if not 1 <= piece.opening <= count:
        has = f"has openings 1 to {count}" if count else "has no openings"
        raise StripError(f"{called(piece)} names opening {piece.opening}, but the racquet {has}")
    return piece.opening - 1


def _twin_opening(site: Site, index: int) -> int:
    x, y = site.opening_middle_mm(index)
    middles = np.array([site.opening_middle_mm(i) for i in range(len(site.opening_edges))])
    return int(np.argmin(np.hypot(middles[:, 0] + x, middles[:, 1] - y)))
