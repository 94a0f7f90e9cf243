"""Invented racquets whose masses do not come from the model's own parts.

Each is a cloud of cells 2.5 mm wide over an invented outline. What a maker does is laid on it
as areal densities: skins and core with lengthwise and outward gradients, patches anywhere, foam
rims, guards and tubes that are heavier in places, a core glued in off-centre, pallets, wraps,
plugs, bumpers, counterweights; the depth profile differs from racquet to racquet. The six figures
are sums over the cells. Densities and spreads are those of the materials (laminate 1.5-1.6 g/cm³,
foam 0.07-0.15, moulded plastic 1.0-1.2, wrap 0.5-0.9), not the model's priors.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import contains_xy, distance, linestrings, points
from shapely.geometry import Point, Polygon, box

from model.face import Landmarks
from model.figures import body_values, six
from model.outline import Outline, outline_from_rings

Array = NDArray[np.float64]
CELL_MM = 2.5
SOLD_WEIGHTS_G = {"solid": (205, 250), "perforated": (325, 385), "strung": (265, 345), "shuttle": (78, 98)}


@dataclass(frozen=True, eq=False)
class Invented:
    """A racquet with known insides; ``figures`` (6,) at ``axis_mm`` in the order of FIGURE_NAMES."""

    construction: str
    outline: Outline
    landmarks: Landmarks
    face_mm: float
    handle_mm: float
    axis_mm: float
    figures: Array


@dataclass(frozen=True, eq=False)
class Cells:
    """Cell centres, how far each lies inside the outer edge, and its areal density so far, g/mm²."""

    x: Array
    y: Array
    inside: Array
    density: Array


def invent(construction: str, rng: np.random.Generator) -> Invented:
    """One racquet of a construction."""
    return {"solid": _solid, "perforated": _perforated, "strung": _strung}[construction](rng)


def _solid(rng: np.random.Generator) -> Invented:
    length, width, top = rng.uniform(395, 420), rng.uniform(180, 205), rng.uniform(108, 145)
    grip, thick, handle = rng.uniform(31, 36), rng.uniform(11, 16.5), rng.uniform(26, 32)
    outline = outline_from_rings(_bat(length, width, top, grip, rng.uniform(3, 7), rng.uniform(8, 40)))
    cells = _cells(outline)
    plate = rng.uniform(0.0018, 0.0028) * _uneven(cells, rng, 0.06) + rng.uniform(6e-5, 11e-5) * thick
    off_centre = 1 + rng.normal(0, 0.03) * cells.x / 100
    d = plate * off_centre * _rounded(cells.inside, rng.uniform(2, 6), rng.uniform(0.3, 0.7))
    face = cells.y > top
    if rng.random() < 0.5:  # foam round the core
        d = d + face * (cells.inside < rng.uniform(6, 14)) * rng.uniform(0.3, 1.2) * 1e-3
    d = d + face * _band(cells, rng.uniform(3, 7), rng.uniform(0.018, 0.038), rng)
    d = d + _handle(cells, top, grip, rng, rng.uniform(0.08, 0.2))
    d = d + _butt(cells, grip, rng.uniform(3, 8))
    if rng.random() < 0.15:  # a counterweight in the handle
        d = d + _lump(cells, 0.0, rng.uniform(10, top - 10), 12.0, rng.uniform(3, 12))
    return _weigh(Cells(cells.x, cells.y, cells.inside, d), "solid", outline, top, thick, handle, 50.0, rng)


def _perforated(rng: np.random.Generator) -> Invented:
    length, width, top = rng.uniform(445, 456), rng.uniform(245, 262), rng.uniform(115, 135)
    grip, thick, handle = rng.uniform(31, 35), rng.choice([20.0, 36.0, 37.0, 38.0]), rng.uniform(29, 34)
    ring = _bat(length, width, top, grip, rng.uniform(2.1, 3.2), rng.uniform(20, 60))
    pitch, radius = rng.uniform(24, 32), rng.uniform(4.5, 6.5)
    body = Polygon(ring).buffer(-35)
    spots = [
        (x, y)
        for x in np.arange(-3, 4) * pitch
        for y in np.arange(top + 110, length, pitch)
        if body.contains(Point(x, y))
    ]
    holes = [np.asarray(Point(s).buffer(radius, 12).exterior.coords) for s in spots]
    if rng.random() < 0.3:  # an open heart above the handle
        foot, half = top + 15, rng.uniform(15, 35)
        heart = Polygon([(0, foot), (half, foot + 55), (0, foot + 65), (-half, foot + 55)])
        if Polygon(ring).buffer(-14).contains(heart):
            holes.append(np.asarray(heart.exterior.coords))
    outline = outline_from_rings(ring, holes)
    cells = _cells(outline)
    d = rng.uniform(0.0014, 0.0026) * _uneven(cells, rng, 0.06) + rng.uniform(7e-5, 11e-5) * thick
    d = d * _rounded(cells.inside, rng.uniform(2, 8), rng.uniform(0.3, 0.7))
    face = cells.y > top
    tube = rng.uniform(0.06, 0.13) * (0.6 + 0.4 * thick / 38)
    d = d + face * _band(cells, rng.uniform(10, 16), tube, rng)
    tip = cells.y > length - rng.uniform(40, 120)
    bumper = tip & (cells.inside < 4)
    d = d + bumper * rng.uniform(2, 9) / max(bumper.sum() * CELL_MM**2, 1)
    d = d + _handle(cells, top, grip, rng, rng.uniform(0.2, 0.45)) + _butt(cells, grip, rng.uniform(4, 10))
    return _weigh(
        Cells(cells.x, cells.y, cells.inside, d), "perforated", outline, top, thick, handle, 50.0, rng
    )


def _strung(rng: np.random.Generator) -> Invented:
    shuttle = rng.random() < 0.3
    half_x = rng.uniform(92, 108) if shuttle else rng.uniform(118, 134)
    half_y = half_x * (rng.uniform(1.12, 1.25) if shuttle else rng.uniform(1.28, 1.38))
    length = rng.uniform(664, 676) if shuttle else rng.uniform(680, 696)
    top = rng.uniform(170, 205)
    tube, arm = (rng.uniform(8, 9.5), 7.5) if shuttle else (rng.uniform(10, 12.5), rng.uniform(12, 16))
    grip = rng.uniform(23, 26) if shuttle else rng.uniform(31, 34)
    thick = rng.uniform(9, 11) if shuttle else rng.uniform(19, 26)
    handle = grip * rng.uniform(0.82, 0.98)
    middle = length - half_y
    hoop = _oval(0, middle, half_x, half_y, 180)
    bed = _oval(0, middle, half_x - tube, half_y - tube, 180)
    bottom = middle - half_y
    if shuttle:
        solid = (
            Polygon(hoop)
            .union(box(-arm / 2, top, arm / 2, bottom + 4))
            .union(box(-grip / 2, 0, grip / 2, top))
        )
        holes = [bed]
    else:
        join = top + rng.uniform(40, 70)
        foot_x, reach = grip / 2, 0.62 * half_x
        high = middle - half_y * np.sqrt(1 - 0.62**2)
        arms = Polygon([(-foot_x, join), (foot_x, join), (reach, high), (-reach, high)])
        solid = Polygon(hoop).union(arms).union(box(-grip / 2, 0, grip / 2, join))
        gap = Polygon([(0, join), (0, join), (reach - arm, high), (arm - reach, high)]).buffer(0)
        gap = gap.difference(Polygon(hoop).buffer(0.5)).buffer(-1.5)
        pieces = sorted(getattr(gap, "geoms", [gap]), key=lambda g: -g.area)
        holes = [bed, np.asarray(pieces[0].exterior.coords)]
    outline = outline_from_rings(np.asarray(solid.exterior.coords), holes)
    cells = _cells(outline)
    upper = cells.y > bottom
    line = rng.uniform(0.032, 0.045) if shuttle else rng.uniform(0.12, 0.165)
    shape = (
        1 + rng.normal(0, 0.05) * (cells.y - middle) / half_y + rng.normal(0, 0.05) * np.abs(cells.x) / half_x
    )
    d = upper * line / tube * shape * _uneven(cells, rng, 0.05)
    between = (cells.y > top) & ~upper
    if shuttle:
        d = d + between * rng.uniform(0.055, 0.09) / arm * (1 + rng.normal(0, 0.08) * (cells.y - 310) / 120)
    else:
        d = d + between * line / tube * rng.uniform(1.1, 1.7) * (
            1 - rng.uniform(0, 0.2) * (cells.y - top) / 150
        )
        tip = upper & (cells.y > length - rng.uniform(60, 140))
        d = d + tip * rng.uniform(3, 9) / max(tip.sum() * CELL_MM**2, 1)
    frame = rng.uniform(0.05, 0.1) if shuttle else rng.uniform(0.22, 0.32)
    extra = rng.uniform(0.05, 0.09) if shuttle else rng.uniform(0.12, 0.24)
    d = (
        d
        + _handle(cells, top, grip, rng, frame + extra)
        + _butt(cells, grip, rng.uniform(2, 5) + 3 * (not shuttle))
    )
    strings = rng.uniform(3.8, 5.5) if shuttle else rng.uniform(14, 18.5)
    done = Cells(cells.x, cells.y, cells.inside, d)
    throat = Landmarks(top, 1.0, bottom)
    return _weigh(
        done, "strung", outline, top, thick, handle, 100.0, rng, strings, Polygon(bed), throat, shuttle
    )


def _bat(length: float, width: float, top: float, grip: float, power: float, flare: float) -> Array:
    """A superellipse face over a straight handle, the neck filled in with a fillet."""
    angle = np.linspace(0, 2 * np.pi, 241)[:-1]
    c, s = np.cos(angle), np.sin(angle)
    reach = length - top
    x = width / 2 * np.sign(c) * np.abs(c) ** (2 / power)
    y = top + reach / 2 + reach / 2 * np.sign(s) * np.abs(s) ** (2 / power)
    whole = Polygon(np.column_stack([x, y])).buffer(0).union(box(-grip / 2, 0, grip / 2, top + 30))
    filled = whole.buffer(flare, 24).buffer(-flare, 24)
    return np.asarray(filled.exterior.coords)


def _oval(x: float, y: float, half_x: float, half_y: float, n: int) -> Array:
    angle = 2 * np.pi * np.arange(n) / n
    return np.column_stack([x + half_x * np.cos(angle), y + half_y * np.sin(angle)])


def _cells(outline: Outline) -> Cells:
    x0, y0, x1, y1 = outline.filled.bounds
    xs, ys = np.meshgrid(np.arange(x0 + CELL_MM / 2, x1, CELL_MM), np.arange(y0 + CELL_MM / 2, y1, CELL_MM))
    x, y = xs.ravel(), ys.ravel()
    kept = contains_xy(outline.polygon, x, y)
    x, y = x[kept], y[kept]
    rim = linestrings(np.vstack([outline.outer_mm, outline.outer_mm[:1]]))
    return Cells(x, y, np.asarray(distance(points(x, y), rim)), np.zeros(len(x)))


def _uneven(cells: Cells, rng: np.random.Generator, size: float) -> Array:
    """Gradients along and outwards, and up to four patches anywhere, relative to 1."""
    y = (cells.y - cells.y.mean()) / np.ptp(cells.y)
    x = np.abs(cells.x) / np.ptp(cells.x)
    relative = 1 + rng.normal(0, size) * 2 * y + rng.normal(0, size) * 2 * (x - x.mean())
    for _ in range(rng.integers(0, 5)):
        at = rng.integers(len(cells.x))
        apart = (cells.x - cells.x[at]) ** 2 + (cells.y - cells.y[at]) ** 2
        relative += rng.normal(0, 2 * size) * np.exp(-apart / (2 * rng.uniform(15, 50) ** 2))
    return np.asarray(np.clip(relative, 0.3, None))


def _rounded(inside: Array, reach: float, least: float) -> Array:
    """Rounded edges: the depth falls to ``least`` at the very edge."""
    return np.asarray(np.clip(least + (1 - least) * inside / reach, least, 1.0))


def _band(cells: Cells, depth: float, line: float, rng: np.random.Generator) -> Array:
    """A guard or tube along the edge, g/mm on average, heavier at the tip, the sides or the throat."""
    angle = np.arctan2(cells.x, cells.y - cells.y.mean())
    relative = 1 + rng.normal(0, 0.12) * np.cos(angle) + rng.normal(0, 0.12) * np.cos(2 * angle)
    return np.asarray((cells.inside < depth) * line / depth * np.clip(relative, 0.4, None))


def _handle(cells: Cells, top: float, grip: float, rng: np.random.Generator, line: float) -> Array:
    """Pallets, shell and wrap, g/mm, with a slope along the handle and a collar or a plug."""
    along = cells.y / top
    relative = 1 + rng.normal(0, 0.12) * (2 * along - 1) + rng.normal(0, 0.15) * (np.abs(along - 0.9) < 0.1)
    return np.asarray((cells.y < top) * line / grip * np.clip(relative, 0.3, None))


def _butt(cells: Cells, grip: float, mass_g: float) -> Array:
    return np.asarray((cells.y < 10) * mass_g / (10 * grip))


def _lump(cells: Cells, x: float, y: float, radius: float, mass_g: float) -> Array:
    near = np.exp(-((cells.x - x) ** 2 + (cells.y - y) ** 2) / (2 * radius**2)) * (cells.y < y + 3 * radius)
    return np.asarray(near * mass_g / (near.sum() * CELL_MM**2))


def _weigh(
    cells: Cells,
    construction: str,
    outline: Outline,
    top: float,
    thick: float,
    handle: float,
    axis: float,
    rng: np.random.Generator,
    strings_g: float = 0.0,
    bed: Polygon | None = None,
    landmarks: Landmarks | None = None,
    shuttle: bool = False,
) -> Invented:
    mass = cells.density * CELL_MM**2
    depth = np.where(cells.y < top, handle, thick)
    if shuttle:
        depth = np.where((cells.y >= top) & (cells.inside < 4) & (np.abs(cells.x) < 5), 7.5, depth)
    stack = np.where(cells.y < top, rng.uniform(0.75, 1.4), rng.uniform(1.0, 2.0))
    zz = stack * depth**2 / 12
    columns = np.column_stack([np.ones_like(mass), cells.x, cells.y, cells.x**2, cells.y**2, zz])
    totals = mass @ columns
    if bed is not None:
        x0, y0, x1, y1 = bed.bounds
        half_x, half_y, y = (x1 - x0) / 2, (y1 - y0) / 2, (y0 + y1) / 2
        totals = totals + strings_g * np.array([1, 0, y, half_x**2 / 4, y**2 + half_y**2 / 4, 1.0])
    marks = landmarks or Landmarks(top, 1.0)
    totals = totals * rng.uniform(*SOLD_WEIGHTS_G["shuttle" if shuttle else construction]) / totals[0]
    return Invented(construction, outline, marks, thick, handle, axis, six(body_values(totals), axis))
