"""A stretch of a curve put in anew by a drawn line."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from digitise.page.edit import EditCurve
from digitise.page.follow import evenly
from digitise.page.opened import LONGEST_SPAN_MM, curve_said
from digitise.page.stretches import Flags
from digitise.tone import FloatArray
from model.errors import OutlineError
from model.spline import Curve, curve_through, dense_ring
from model.spline_fit import fit_curve, fit_stretch

REDRAWN_FIT_SD_MM = 0.08
CLEAR_MM, JOIN = 2.5, 2.0
"""Old points nearer than this to the ends of a new stretch, or than so many times the distance at which it
ends off the old line, would only put kinks there."""


def with_line(said: EditCurve, line_mm: FloatArray) -> tuple[EditCurve, tuple[FloatArray, FloatArray]]:
    """The curve with the stretch between a line's ends (n, 2) replaced by the line, and that stretch's ends.

    Of the two ways round between the ends the one nearer to the line is replaced.
    """
    if len(line_mm) < 2 or float(np.hypot(*np.diff(line_mm, axis=0).T).sum()) < 1.0:
        raise OutlineError("the new stretch is too short: draw a longer one")
    curve = curve_through(said.points, said.corners)
    line = np.asarray(line_mm, float)
    start, end = (_place(curve, spot) for spot in line[[0, -1]])
    if not _ahead_is_nearer(curve, start, end, line):
        line, start, end = line[::-1], end, start
    new = fit_stretch(line, REDRAWN_FIT_SD_MM, CLEAR_MM)
    rest, corners = _rest_of(curve, start, end, line[[0, -1]])
    points = np.vstack([new, rest])
    corners = np.concatenate([np.zeros(len(new), bool), corners])
    return curve_said(curve_through(points, corners)), (line[0], line[-1])


def _rest_of(curve: Curve, start: float, end: float, ends_mm: FloatArray) -> tuple[FloatArray, Flags]:
    """Points (n, 2) of the curve from ``end`` on to ``start``, and which are corners: its own, and others
    where it would else swing because the stretch between begins and ends in short spans at ``ends_mm``.

    A line that ends off the curve is led back to it over as many times its distance as JOIN says.
    """
    whole = curve.knots[-1]
    way = (start - end) % whole
    off_mm = np.linalg.norm(curve.pieces(np.array([start, end])) - ends_mm, axis=1)
    before_mm, after_mm = np.maximum(JOIN * off_mm, CLEAR_MM)
    at = (curve.knots[:-1] - end) % whole
    kept = np.flatnonzero((at > after_mm) & (at < way - before_mm))
    if len(kept) == 0:
        return curve.points_mm[kept], curve.corners[kept]
    to_mm = min(way / 2, LONGEST_SPAN_MM)
    more = np.concatenate([_doubled(to_mm, after_mm), way - _doubled(to_mm, before_mm)])
    more = more[np.abs(more[:, None] - at[kept]).min(axis=1) > CLEAR_MM]
    order = np.argsort(np.concatenate([at[kept], more]))
    points = np.vstack([curve.points_mm[kept], curve.pieces((end + more) % whole)])
    corners = np.concatenate([curve.corners[kept], np.zeros(len(more), bool)])
    return points[order], corners[order]


def _doubled(to_mm: float, first_mm: float) -> FloatArray:
    """Places up to one, the first, twice as far, and so on: no span is more than as long as all before it."""
    places = first_mm * 2.0 ** np.arange(8)
    return np.asarray(places[places < to_mm], float)


def from_line(line_mm: FloatArray) -> EditCurve:
    """A whole closed curve from a closed line (n, 2)."""
    return curve_said(fit_curve(evenly(line_mm, 0.5, closed=True), REDRAWN_FIT_SD_MM))


def _place(curve: Curve, spot_mm: FloatArray) -> float:
    at = np.linspace(0, curve.knots[-1], 4000, endpoint=False)
    return float(at[int(np.argmin(np.sum((curve.pieces(at) - spot_mm) ** 2, axis=1)))])


def _ahead_is_nearer(curve: Curve, start: float, end: float, line_mm: FloatArray) -> bool:
    """Whether the way from start on to end lies nearer to the line than the way round the other side."""
    ring, whole = dense_ring(curve, 0.05), curve.knots[-1]
    probe = evenly(line_mm, 1.0, closed=False)
    away = []
    for first, last in ((start, end), (end, start)):
        at = first + np.linspace(0, 1, len(ring)) * ((last - first) % whole)
        far, _ = cKDTree(probe).query(curve.pieces(at % whole))
        away.append(float(far.mean()))
    return away[0] <= away[1]
