"""From what was drawn on the sheet to an outline in the racquet's frame, or to what is wrong and where."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from shapely import is_valid_reason
from shapely.geometry import Polygon

from digitise.page.edit import Edit, EditAxis, EditCurve
from digitise.page.rim import Rim
from digitise.page.sheet import Sheet, counter_clockwise, signed_area_mm2
from digitise.tone import FloatArray
from model.errors import ModelError, OutlineError
from model.outline import Outline, outline_from_rings
from model.spline import Curve, curve_through, dense_ring

LIVE_TOLERANCE_MM, SAVED_TOLERANCE_MM = 0.03, 0.005
"""How far the ring's chords may leave the curve: while dragging, where time counts, and in the file."""


@dataclass(frozen=True)
class Problem:
    """What is wrong with a drawing: ``words``, and ``at_mm`` on the sheet where it is so.

    ``ring`` is 0 for the outline, i for opening i.
    """

    words: str
    ring: int
    at_mm: tuple[float, float] | None


class Unusable(ModelError):
    """A drawing that is no outline, with all that is wrong."""

    def __init__(self, problems: list[Problem]) -> None:
        super().__init__(problems[0].words)
        self.problems = problems


@dataclass(frozen=True, eq=False)
class Frame:
    """The racquet frame on the sheet: ``origin_mm`` (2,), unit vectors ``right`` and ``up`` (2,)."""

    origin_mm: FloatArray
    right: FloatArray
    up: FloatArray

    def into(self, sheet_mm: FloatArray) -> FloatArray:
        """Points (n, 2) of the sheet in the racquet frame."""
        away = np.asarray(sheet_mm, float) - self.origin_mm
        return np.column_stack([away @ self.right, away @ self.up])

    def out_of(self, racquet_mm: FloatArray) -> FloatArray:
        """Points (n, 2) of the racquet frame on the sheet."""
        points = np.asarray(racquet_mm, float)
        return np.asarray(self.origin_mm + points[:, :1] * self.right + points[:, 1:] * self.up)


@dataclass(frozen=True, eq=False)
class Drawn:
    """A drawing that is an outline. ``outer`` is the curve as seen on the sheet, ``seen_mm`` its ring.

    ``outline``, ``handle_top_mm`` and ``throat_top_mm`` are in ``frame``, from its butt.
    """

    sheet: Sheet
    frame: Frame
    outer: Curve
    openings: tuple[Curve, ...]
    seen_mm: FloatArray
    outline: Outline
    handle_top_mm: float
    throat_top_mm: float | None

    def framed(self, curve: Curve) -> Curve:
        """A curve of the sheet in the racquet frame: straight moves keep its shape."""
        return curve_through(self.frame.into(curve.points_mm), curve.corners)


def drawn_on(sheet: Sheet, rim: Rim, edit: Edit, tolerance_mm: float = LIVE_TOLERANCE_MM) -> Drawn:
    """The outline of an edit on its sheet, by its ``rim``. Raises Unusable with every problem found."""
    problems: list[Problem] = []
    outer = _curve(edit.outer, 0, problems)
    openings = [_curve(ring, i + 1, problems) for i, ring in enumerate(edit.openings)]
    if problems:
        raise Unusable(problems)
    kept = [curve for curve in openings if curve is not None]
    if outer is None or len(kept) < len(openings):
        raise Unusable([Problem("The outline is missing.", 0, None)])
    seen = dense_ring(outer, tolerance_mm)
    rings = [_kept_ring(*_key(said), tolerance_mm) for said in edit.openings]
    problems = _ring_problems([seen, *rings])
    if problems:
        raise Unusable(problems)
    ring = rim.outline_of(seen)
    holes = sheet.openings_of([counter_clockwise(opening) for opening in rings])
    problems = _together(ring, holes)
    if problems:
        raise Unusable(problems)
    return _in_frame(sheet, edit, outer, tuple(kept), seen, ring, holes)


def axis_frame(axis: EditAxis, length_mm: float) -> Frame:
    """The frame whose up runs along the drawn axis, its origin at the axis's foot on y = 0."""
    way = np.array([axis.at_tip_mm - axis.at_butt_mm, length_mm])
    up = way / math.hypot(*way)
    return Frame(np.array([axis.at_butt_mm, 0.0]), np.array([up[1], -up[0]]), up)


def _in_frame(
    sheet: Sheet,
    edit: Edit,
    outer: Curve,
    openings: tuple[Curve, ...],
    seen_mm: FloatArray,
    ring_mm: FloatArray,
    holes_mm: list[FloatArray],
) -> Drawn:
    level = axis_frame(edit.axis, sheet.body.length_mm)
    butt = float(level.into(ring_mm)[:, 1].min()) if edit.butt_mm is None else edit.butt_mm
    frame = Frame(level.origin_mm + butt * level.up, level.right, level.up)
    try:
        outline = outline_from_rings(frame.into(ring_mm), [frame.into(hole) for hole in holes_mm])
    except OutlineError as error:
        sentence = str(error)
        raise Unusable([Problem(sentence[0].upper() + sentence[1:] + ".", 0, None)]) from None
    throat = None if edit.throat_top_mm is None else edit.throat_top_mm - butt
    return Drawn(sheet, frame, outer, openings, seen_mm, outline, edit.handle_top_mm - butt, throat)


def _key(said: EditCurve) -> tuple[tuple[tuple[float, ...], ...], tuple[bool, ...]]:
    return tuple(tuple(point) for point in said.points), tuple(said.corners)


@lru_cache(1500)
def _kept_curve(points: tuple[tuple[float, ...], ...], corners: tuple[bool, ...]) -> Curve:
    """Of a hundred holes a step changes one: the others' curves are kept."""
    return curve_through(points, corners)


@lru_cache(1500)
def _kept_ring(
    points: tuple[tuple[float, ...], ...], corners: tuple[bool, ...], tolerance_mm: float
) -> FloatArray:
    return dense_ring(_kept_curve(points, corners), tolerance_mm)


def _curve(said: EditCurve, ring: int, problems: list[Problem]) -> Curve | None:
    try:
        return _kept_curve(*_key(said))
    except OutlineError as error:
        sentence = str(error)
        x, y = said.points[0]
        problems.append(Problem(sentence[0].upper() + sentence[1:] + ".", ring, (x, y)))
        return None


def _ring_problems(rings: list[FloatArray]) -> list[Problem]:
    problems = []
    for number, ring in enumerate(rings):
        polygon = Polygon(ring)
        what = "The outline" if number == 0 else f"Opening {number}"
        if not polygon.is_valid:
            words, at = plain_reason(is_valid_reason(polygon))
            problems.append(Problem(f"{what} {words} at the marked spot: move its points apart.", number, at))
        elif polygon.area < 1.0:
            problems.append(Problem(f"{what} encloses nothing.", number, (ring[0, 0], ring[0, 1])))
        elif signed_area_mm2(ring) < 0:
            spot = (float(ring[0, 0]), float(ring[0, 1]))
            problems.append(Problem(f"{what} is turned inside out: undo the last step.", number, spot))
    return problems


def _together(outer_mm: FloatArray, holes_mm: list[FloatArray]) -> list[Problem]:
    """Openings must lie inside the outline and apart from each other."""
    if not holes_mm:
        return []
    shell, holes = Polygon(outer_mm), [Polygon(hole) for hole in holes_mm]
    problems = []
    for i, hole in enumerate(holes):
        if not shell.contains(hole):
            spot = hole.difference(shell).representative_point() if not shell.covers(hole) else hole.centroid
            words = f"Opening {i + 1} reaches outside the outline at the marked spot: move it inside."
            problems.append(Problem(words, i + 1, (spot.x, spot.y)))
    whole = Polygon(outer_mm, holes_mm)
    if not problems and not whole.is_valid:
        words, at = plain_reason(is_valid_reason(whole))
        problems.append(Problem(f"Two openings meet ({words}) at the marked spot: move them apart.", 1, at))
    return problems


_REASONS = {
    "self-intersection": "crosses itself",
    "ring self-intersection": "touches itself",
    "hole lies outside shell": "reaches outside the outline",
    "holes are nested": "lies inside another opening",
    "interior is disconnected": "touches another line in two places",
    "nested shells": "lies inside itself",
    "too few points in geometry component": "has too few points",
}


def plain_reason(reason: str) -> tuple[str, tuple[float, float] | None]:
    """Shapely's reason in plain words, and its spot.

    >>> plain_reason("Self-intersection[1.5 2]")
    ('crosses itself', (1.5, 2.0))
    """
    words = reason.partition("[")[0].strip().lower()
    spot = re.search(r"\[(\S+) (\S+)\]", reason)
    at = (float(spot[1]), float(spot[2])) if spot else None
    return _REASONS.get(words, words), at
