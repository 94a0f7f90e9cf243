"""A stretch of a curve put in anew: by a drawn line, or as the mirror image of the other side."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from digitise.page.drawn import Frame
from digitise.page.edit import EditCurve
from digitise.page.follow import evenly
from digitise.page.opened import LONGEST_SPAN_MM, curve_said
from digitise.page.rim import Rim
from digitise.page.stretches import Flags
from digitise.tone import FloatArray
from model.errors import OutlineError
from model.spline import Curve, curve_through, dense_ring
from model.spline_fit import fit_curve, fit_stretch

REDRAWN_FIT_SD_MM = 0.08
CLEAR_MM, JOIN = 2.5, 2.0
"""Old points nearer than this to the ends of a new stretch, or than so many times the distance at which it
ends off the old line, would only put kinks there."""
NEAR_AXIS_MM = 1.5


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


def mirrored(said: EditCurve, rim: Rim | None, frame: Frame, keep_right: bool) -> EditCurve:
    """The curve with one side of the axis as the mirror image of the other.

    With ``rim`` it is the outline that is mirrored, as each side's rim is seen for itself; without, the
    line as drawn.
    """
    curve = curve_through(said.points, said.corners)
    side = 1.0 if keep_right else -1.0
    crossing = _crossings(curve, frame)
    local = frame.into(curve.points_mm)
    strictly = side * local[:, 0] > NEAR_AXIS_MM
    if len(crossing) < 2 or not strictly.any():
        raise OutlineError("there is nothing on that side of the axis to mirror: move the axis first")
    low, high = (
        crossing[int(pick(frame.into(curve.pieces(crossing))[:, 1]))] for pick in (np.argmin, np.argmax)
    )
    whole = curve.knots[-1]
    # Counter-clockwise, the right side runs from the butt to the tip and the left side back.
    start, end = (low, high) if keep_right else (high, low)
    within = (curve.knots[:-1] - start) % whole < (end - start) % whole
    chosen = np.flatnonzero(within & strictly)
    chosen = chosen[np.argsort((curve.knots[:-1][chosen] - start) % whole)]
    ends = _on_axis(curve.pieces(np.array([start, end])), frame)
    twins = _twins(curve.points_mm[chosen], rim, frame)[::-1]
    points = np.vstack([ends[:1], curve.points_mm[chosen], ends[1:], twins])
    at_ends = [_corner_near(curve, spot) for spot in ends]
    flags = curve.corners[chosen]
    corners = np.concatenate([[at_ends[0]], flags, [at_ends[1]], flags[::-1]])
    return curve_said(curve_through(points, corners))


def mirrored_openings(openings: list[EditCurve], frame: Frame, keep_right: bool) -> list[EditCurve]:
    """Openings on the kept side with their mirror images; those on the axis are mirrored in themselves."""
    side = 1.0 if keep_right else -1.0
    result = []
    for said in openings:
        x = side * frame.into(np.array(said.points))[:, 0]
        if x.min() < -NEAR_AXIS_MM and x.max() > NEAR_AXIS_MM:
            result.append(mirrored(said, None, frame, keep_right))
        elif x.mean() > 0:
            flipped = frame.into(np.array(said.points)) * np.array([-1.0, 1.0])
            twin = curve_through(frame.out_of(flipped)[::-1], said.corners[::-1])
            result += [said, curve_said(twin)]
    return result


def _twins(points_mm: FloatArray, rim: Rim | None, frame: Frame) -> FloatArray:
    """Where the mirror images of seen points are seen."""
    own = points_mm if rim is None else points_mm - rim.shift_of_seen(points_mm)
    flipped = frame.out_of(frame.into(own) * np.array([-1.0, 1.0]))
    return flipped if rim is None else flipped + rim.shift_of_outline(flipped)


def _crossings(curve: Curve, frame: Frame) -> FloatArray:
    """Places u (n,) at which the curve crosses the axis."""
    at = np.linspace(0, curve.knots[-1], 4000)
    x = frame.into(curve.pieces(at))[:, 0]
    i = np.flatnonzero((x[:-1] < 0) != (x[1:] < 0))
    share = x[i] / (x[i] - x[i + 1])
    return np.asarray(at[i] + share * (at[i + 1] - at[i]))


def _on_axis(points_mm: FloatArray, frame: Frame) -> FloatArray:
    return frame.out_of(frame.into(points_mm) * np.array([0.0, 1.0]))


def _corner_near(curve: Curve, spot_mm: FloatArray) -> bool:
    apart = np.linalg.norm(curve.points_mm - spot_mm, axis=1)
    return bool(curve.corners[apart < NEAR_AXIS_MM].any())


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
