"""Strips of weight tape on the edge: how they are written, where they lie, what they add.

A strip lies with its centre line on the outer edge and is folded over the face's wall there, so
its mass counts as spread evenly along the edge curve and evenly through the face's thickness
(z² = t²/12). A clock position at the throat, where the face has no edge, puts the strip
straight across the throat.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from model.edge import Edge, clock_hit, edge_of
from model.errors import StripError, UnitError
from model.face import Landmarks, face_centre_mm
from model.moments import polyline_moments
from model.outline import Outline
from model.units import parse_length, parse_mass

Array = NDArray[np.float64]

BUTT_END_MM = 12.0  # the butt cap's depth: tape is not stuck round the butt's corner
ON_AXIS_MM = 0.5  # a strip centred this near the long axis is its own mirror image

_CLOCK = re.compile(r"(\d{1,2})(?::(\d{1,2}))?")


@dataclass(frozen=True)
class Strip:
    """A strip of tape: grams, mm, and the place of its middle.

    Either ``hours`` (0 to 12, a clock position on the face) or ``along_mm`` (from the tip along
    the edge, right positive) is set. ``text`` is what the person wrote.
    """

    text: str
    mass_g: float
    length_mm: float
    hours: float | None = None
    along_mm: float | None = None
    mirrored: bool = False


@dataclass(frozen=True, eq=False)
class Laid:
    """A strip laid on a racquet: the curve (n, 2) it follows and its middle's distance from the tip.

    ``along_mm`` is None for a strip across the throat.
    """

    strip: Strip
    curve_mm: Array
    along_mm: float | None


@dataclass(frozen=True, eq=False)
class Site:
    """What strips are stuck on: the edge, the clock's centre, the face's lower end and thickness."""

    edge: Edge
    centre_mm: tuple[float, float]
    face_bottom_mm: float
    lowest_mm: float
    face_thickness_mm: float


def site_of(outline: Outline, landmarks: Landmarks, face_thickness_mm: float) -> Site:
    """The places for tape on a racquet. ``landmarks`` with the throat top where there is one."""
    edge = edge_of(outline)
    centre = face_centre_mm(float(edge.tip_mm[1]), landmarks)
    lowest = float(outline.outer_mm[:, 1].min()) + BUTT_END_MM
    return Site(edge, centre, landmarks.face_bottom_mm, lowest, face_thickness_mm)


def parse_strip(text: str) -> Strip:
    """Read ``MASS:LENGTH@WHERE``, as ``3g:76mm@3:30`` or ``0.1oz:3in@-180mm``.

    Bare masses are grams and bare lengths mm. WHERE is a clock position (``1`` to ``12`` with or
    without minutes) or a signed length with a unit or sign (``180mm``, ``-180``, ``+7in``); a
    bare number above 12 is mm. Raises StripError.

    >>> parse_strip("3g:76mm@3:30")
    Strip(text='3g:76mm@3:30', mass_g=3.0, length_mm=76.0, hours=3.5, along_mm=None, mirrored=False)
    """
    amount, at, where = text.strip().partition("@")
    mass_text, colon, length_text = amount.partition(":")
    if not (at and colon and mass_text.strip() and length_text.strip() and where.strip()):
        raise StripError(
            f"the strip {text!r} must be MASS:LENGTH@WHERE, for example 3g:76mm@3:30 or 3g:76mm@-180mm"
        )
    try:
        mass = parse_mass(mass_text, "strip's mass").value
        length = parse_length(length_text, "strip's length").value
        hours, along = _where(where.strip())
    except UnitError as error:
        raise StripError(f"in the strip {text!r}, {error}") from None
    if not mass > 0:
        raise StripError(f"the strip {text!r} must weigh more than zero, not {mass:g} g")
    if not length > 0:
        raise StripError(f"the strip {text!r} must be longer than zero, not {length:g} mm")
    return Strip(text.strip(), mass, length, hours, along)


def _where(text: str) -> tuple[float | None, float | None]:
    clock = _CLOCK.fullmatch(text)
    if clock is None or (clock[2] is None and int(clock[1]) > 12):
        return None, parse_length(text, "place along the edge").value
    hours, minutes = int(clock[1]), int(clock[2] or 0)
    if hours > 12 or minutes > 59:
        raise UnitError(
            f"the clock position {text!r} does not exist: use 12, 1 to 11, and minutes from 00 to 59"
        )
    return hours % 12 + minutes / 60, None


def lay(site: Site, strip: Strip) -> Laid:
    """Put one strip in its place. Raises StripError if it does not fit there."""
    if strip.along_mm is not None:
        along = strip.along_mm
        if abs(along) > site.edge.perimeter_mm / 2:
            raise StripError(
                f"the strip {strip.text!r} lies {abs(along):.0f} mm from the tip along the edge, but each "
                f"side is only {site.edge.perimeter_mm / 2:.0f} mm long: give a smaller distance"
            )
        return _along_edge(site, strip, along)
    hours = -(strip.hours or 0.0) if strip.mirrored else (strip.hours or 0.0)
    hit = clock_hit(site.edge, site.centre_mm, site.face_bottom_mm, hours)
    if hit.s_mm is None:
        return _across_throat(site, strip, hit.point_mm[0])
    return _along_edge(site, strip, hit.s_mm)


def lay_all(site: Site, strips: list[Strip], mirror: bool) -> tuple[list[Laid], list[str]]:
    """Lay strips, with their mirror twins if asked, and say in plain words what is odd.

    A strip centred on the long axis is its own twin and is laid once.
    """
    laid, notes = [], []
    for strip in strips:
        first = lay(site, strip)
        laid.append(first)
        if not mirror:
            continue
        if _on_axis(first):
            notes.append(
                f"the strip {strip.text!r} lies across the long axis, is its own mirror twin and is laid once"
            )
        else:
            laid.append(lay(site, twin(strip)))
    return laid, notes + overlaps(laid)


def twin(strip: Strip) -> Strip:
    """The strip on the other side of the long axis."""
    along = None if strip.along_mm is None else -strip.along_mm
    return replace(strip, along_mm=along, mirrored=not strip.mirrored)


def added(laid: list[Laid], face_thickness_mm: float) -> Array:
    """Mass integrals (6,) of 1, x, y, xx, yy, zz that the strips add, g and mm."""
    total = np.zeros(6)
    for one in laid:
        m = polyline_moments(one.curve_mm)
        density = one.strip.mass_g / m.size
        zz = face_thickness_mm**2 / 12 * one.strip.mass_g
        total += np.array(
            [one.strip.mass_g, m.x * density, m.y * density, m.xx * density, m.yy * density, zz]
        )
    return total


def overlaps(laid: list[Laid]) -> list[str]:
    """A sentence for each pair of strips that lie on one another."""
    notes = []
    for i, one in enumerate(laid):
        for other in laid[i + 1 :]:
            shared = _shared_mm(one, other)
            if shared > 0.5:
                notes.append(
                    f"{_name(one)} and {_name(other)} lie on one another over {shared:.0f} mm: "
                    "they count as two layers"
                )
    return notes


def _along_edge(site: Site, strip: Strip, along_mm: float) -> Laid:
    half = strip.length_mm / 2
    if strip.length_mm >= site.edge.perimeter_mm:
        raise StripError(
            f"the strip {strip.text!r} is longer than the whole edge, "
            f"{site.edge.perimeter_mm:.0f} mm: make it shorter"
        )
    curve = site.edge.stretch(along_mm - half, along_mm + half)
    if float(curve[:, 1].min()) < site.lowest_mm:
        raise StripError(
            f"the strip {strip.text!r} reaches the butt of the handle, where tape can't follow the edge: "
            "make it shorter or move it towards the tip"
        )
    return Laid(strip, curve, along_mm)


def _across_throat(site: Site, strip: Strip, middle_x_mm: float) -> Laid:
    y = site.face_bottom_mm
    left, right = _throat_ends(site.edge, y)
    low, high = middle_x_mm - strip.length_mm / 2, middle_x_mm + strip.length_mm / 2
    if low < left or high > right:
        raise StripError(
            f"the strip {strip.text!r} of {strip.length_mm:.0f} mm does not fit across the throat, which is "
            f"{right - left:.0f} mm wide: make it shorter or move it round the edge"
        )
    return Laid(strip, np.array([[low, y], [high, y]]), None)


def _throat_ends(edge: Edge, y_mm: float) -> tuple[float, float]:
    a, b = edge.points_mm[:-1], edge.points_mm[1:]
    crossing = (a[:, 1] - y_mm) * (b[:, 1] - y_mm) <= 0
    a, b = a[crossing], b[crossing]
    rise = b[:, 1] - a[:, 1]
    share = np.divide(y_mm - a[:, 1], rise, out=np.zeros_like(rise), where=rise != 0)
    x = a[:, 0] + share * (b[:, 0] - a[:, 0])
    return float(x[x < 0].max(initial=-math.inf)), float(x[x > 0].min(initial=math.inf))


def _on_axis(one: Laid) -> bool:
    middle = polyline_moments(one.curve_mm)
    centred = abs(middle.x / middle.size) < ON_AXIS_MM
    return centred and (one.along_mm is None or abs(one.along_mm) < ON_AXIS_MM)


def _shared_mm(one: Laid, other: Laid) -> float:
    if (one.along_mm is None) != (other.along_mm is None):
        return 0.0
    if one.along_mm is None or other.along_mm is None:
        apart = abs(float(one.curve_mm[:, 0].mean() - other.curve_mm[:, 0].mean()))
    else:
        apart = abs(one.along_mm - other.along_mm)
    halves = (one.strip.length_mm + other.strip.length_mm) / 2
    return min(halves - apart, one.strip.length_mm, other.strip.length_mm)


def _name(one: Laid) -> str:
    return f"the mirror twin of {one.strip.text!r}" if one.strip.mirrored else f"the strip {one.strip.text!r}"
