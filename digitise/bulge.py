"""Heads bend outward all round, and a neck is hardly narrower than its grip: where an outline is not so, it
cuts across the head or bulges out of it, or lies inside the neck.

A string inside a piece of hoop that has the table's colour, or a line of a mat and a shadow past the tip, are
edges, too. What is left of the head's outline tells where it must go on in between.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely
from scipy.interpolate import CubicSpline
from shapely.geometry import MultiPoint

from digitise.band import even_ring, mirrored
from digitise.grip import GRIP_TO_MM, grip_half_mm
from digitise.landmarks import half_widths
from digitise.ring_runs import ring_runs, run_rows
from digitise.tone import FloatArray

NEARLY_WIDEST, HOLLOW_MM, MENDED_MM = 0.98, 0.75, 1.5
"""A head is as wide as this share of its widest from somewhere on, and farther up bends in by no more than
the first depth; what is deeper than the second is drawn anew."""
BETWEEN_MM, LEAST_MM = 150, 6
"""Hollows no farther from each other have a bulge between them; shorter ones are no hollows."""
ARMS_FROM_MM, ARMS = 90.0, 0.5
"""From where on, and up to which share of the largest half width, a throat's arms are looked for."""
STEP_ROWS, PINCH_MM, SOON_ROWS = 12, 4.5, 90
"""In places 1 mm apart: over how many the half width falls and rises abruptly, by more than so much, and how
many there are between at most."""
NOTCH_MM, LEAST_LACK_MM = 2.5, 0.5
"""How much narrower on a side than its grip a neck may be that is no throat of a frame, and from how much on
what is narrower belongs to one that is more so."""
MOST_LOST = 0.5
"""From more than this share of an outline nothing is told of the rest."""
BESIDE_MM, KNOTS_MM = 12, 10
"""How much of the outline beside hollow and bulge is replaced with them, and how far apart the points of the
rest are that its course is drawn through."""


def hollow_head(ring_mm: FloatArray, deeper_mm: float = HOLLOW_MM) -> npt.NDArray[np.bool_]:
    """Where (n,) the outline (n, 2) of a head bends inward by more than ``deeper_mm``, which no head does."""
    hull = MultiPoint(ring_mm).convex_hull.exterior
    y_mm, half_mm = half_widths(np.asarray(hull.coords)[:-1])
    wide_mm = y_mm[half_mm > NEARLY_WIDEST * half_mm.max()] + float(ring_mm[:, 1].min())
    shapely.prepare(hull)
    on_hull = shapely.dwithin(hull, shapely.points(ring_mm), deeper_mm)
    return np.asarray((ring_mm[:, 1] > wide_mm.min()) & ~on_hull)


def pinched(ring_mm: FloatArray) -> npt.NDArray[np.bool_]:
    """Where (n,) an outline (n, 2), begun at the butt, narrows abruptly between grip and head and soon widens
    as abruptly: it follows a throat's arms from within. A grip's end and a hoop are farther apart."""
    y_mm, half_mm = half_widths(ring_mm)
    narrower = half_mm[:-STEP_ROWS] - half_mm[STEP_ROWS:]
    rows = np.arange(len(narrower))
    arms = (y_mm[rows] > ARMS_FROM_MM) & (half_mm[rows] < ARMS * half_mm.max()) & (rows < np.argmax(half_mm))
    between = np.zeros(len(y_mm), bool)
    for first in np.flatnonzero(arms & (narrower > PINCH_MM)):
        behind = first + STEP_ROWS
        if (narrower[behind : behind + SOON_ROWS] < -PINCH_MM).any():
            again = int(np.argmax(half_mm[behind:] >= half_mm[first]))
            between[first : behind + again] = True
    return between[_places(ring_mm, y_mm)]


def _places(ring_mm: FloatArray, y_mm: FloatArray) -> npt.NDArray[np.intp]:
    """Which of the places ``y_mm`` (m,) from the butt each point (n,) of a ring (n, 2) is at."""
    from_butt_mm = ring_mm[:, 1] - float(ring_mm[:, 1].min())
    return np.asarray(np.minimum(np.searchsorted(y_mm, from_butt_mm), len(y_mm) - 1), np.intp)


def with_bulges(hollow: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Where (n,) an outline is ``hollow`` (n,) for at least LEAST_MM or bulges between two such hollows."""
    runs = [run for run in ring_runs(hollow) if len(run_rows(*run, len(hollow))) >= LEAST_MM]
    marked = np.zeros_like(hollow)
    for first, last in runs:
        marked[run_rows(first, last, len(hollow))] = True
    for (_, last), (first, _) in pairwise(runs):
        if first - last <= BETWEEN_MM:
            marked[run_rows(last, first, len(hollow))] = True
    return marked


def without_bulges(ring_mm: FloatArray) -> FloatArray | None:
    """The symmetric ring (n, 2), begun at the butt, with hollows and bulges of its head replaced by the
    course of the rest; None where there are none, or too much is."""
    lost = bulging(ring_mm)
    if not lost.any():
        return None
    ring = drawn_over(ring_mm, lost)
    return even_ring((ring + mirrored(ring) * np.array([-1.0, 1.0])) / 2, 1.0)


def bulging(ring_mm: FloatArray) -> npt.NDArray[np.bool_]:
    """Where (n,) hollows and bulges of the head of an outline (n, 2), begun at the butt, are to be drawn
    anew, and what mirrors them; nowhere, if that is too much of it to tell from the rest."""
    marked = with_bulges(hollow_head(ring_mm, MENDED_MM))
    wide = np.convolve(np.pad(marked, BESIDE_MM, mode="wrap"), np.ones(2 * BESIDE_MM + 1), "valid") > 0
    lost = wide | mirrored(wide)
    return lost if lost.mean() <= MOST_LOST else np.zeros_like(lost)


def drawn_over(ring_mm: FloatArray, lost: npt.NDArray[np.bool_]) -> FloatArray:
    """The ring (n, 2) with the course of the rest where it is ``lost`` (n,), as many points as before."""
    knots = _knots(lost)
    points = ring_mm[np.append(knots, knots[0])]
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    course = CubicSpline(along, points, bc_type="periodic")
    ring = ring_mm.copy()
    for first, last in ring_runs(lost):
        knot = int(np.searchsorted(knots, first)) - 1
        rows = run_rows(first, last, len(ring))
        share = np.arange(1, len(rows) + 1) / (len(rows) + 1)
        # a little inside an even bend: an edge is looked for farther outside than inside it
        ring[rows] = course(along[knot] + share * (along[knot + 1] - along[knot]))
    return ring


def notched(ring_mm: FloatArray) -> npt.NDArray[np.bool_]:
    """Where (n,) the neck of an outline (n, 2), begun at the butt, is narrower than its grip, if somewhere by
    more than NOTCH_MM: a face's own edge inside a rim of the table's colour was followed there."""
    y_mm, half_mm = half_widths(ring_mm)
    lacks_mm = grip_half_mm(y_mm, half_mm) - half_mm
    neck = (y_mm >= GRIP_TO_MM) & (np.arange(len(y_mm)) < np.argmax(half_mm)) & (lacks_mm > LEAST_LACK_MM)
    for first, last in ring_runs(neck):
        if lacks_mm[first : last + 1].max() <= NOTCH_MM:
            neck[first : last + 1] = False
    return neck[_places(ring_mm, y_mm)]


def as_wide_as_grip(ring_mm: FloatArray, notch: npt.NDArray[np.bool_]) -> FloatArray:
    """The ring (n, 2), begun at the butt, with its sides in the ``notch`` (n,) as far apart as its grip's."""
    ring = ring_mm.copy()
    ring[notch, 0] = np.sign(ring[notch, 0]) * grip_half_mm(*half_widths(ring_mm))
    return ring


def _knots(lost: npt.NDArray[np.bool_]) -> npt.NDArray[np.intp]:
    """Numbers of the points (k,) that the course is drawn through: every KNOTS_MM, and those beside what is
    ``lost`` (n,)."""
    kept = np.flatnonzero(~lost)
    beside = np.flatnonzero(~lost & (np.roll(lost, 1) | np.roll(lost, -1)))
    return np.unique(np.concatenate([kept[::KNOTS_MM], beside]))
