"""One side of a curve as the mirror image of the other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LinearRing

from digitise.page.drawn import Frame
from digitise.page.edit import EditCurve
from digitise.page.opened import curve_said
from digitise.page.rim import Rim
from digitise.tone import FloatArray
from model.errors import OutlineError
from model.spline import Curve, curve_through, dense_ring

NEAR_AXIS_MM = 1.5
TWIN_OFF_MM, TWIN_SPAN_MM, TWIN_PROBES = 0.1, 8.0, np.array([0.25, 0.5, 0.75])
"""How far a curve may run beside the mirror image that it stands for before a span as long is given a point
midway, and where between its points that is looked at: each side's rim is seen for itself, and where that
changes within a span the side's own points do not say it. Shorter spans are round tight corners, where how
the rim is seen is not known as well."""


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
    kept = _Kept(curve, rim, frame, (start, end), chosen)
    at = kept.own_at
    while True:
        result = kept.with_twins(at)
        more = at[:0] if rim is None else kept.strays(result, at)
        if not len(more):
            return curve_said(result)
        at = np.sort(np.concatenate([at, more]))


@dataclass(frozen=True, eq=False)
class _Kept:
    """The side of a curve that is kept, from place ``ends[0]`` on its axis to ``ends[1]``, with the numbers
    of its points, ``chosen``; how far on (n,) from the first end a place lies says where it is."""

    curve: Curve
    rim: Rim | None
    frame: Frame
    ends: tuple[float, float]
    chosen: npt.NDArray[np.intp]

    @property
    def own_at(self) -> FloatArray:
        """How far on the side's own points lie."""
        return np.asarray((self.curve.knots[:-1][self.chosen] - self.ends[0]) % self.curve.knots[-1])

    def with_twins(self, at: FloatArray) -> Curve:
        """The side and the mirror images of its places ``at`` (n,), its own points among them."""
        curve = self.curve
        ends = _on_axis(curve.pieces(np.array(self.ends)), self.frame)
        own, flags = curve.points_mm[self.chosen], curve.corners[self.chosen]
        twin_flags = np.zeros(len(at), bool)
        twin_flags[np.searchsorted(at, self.own_at)] = flags
        at_ends = [_corner_near(curve, spot) for spot in ends]
        points = np.vstack([ends[:1], own, ends[1:], self._twins(at)[::-1]])
        corners = np.concatenate([[at_ends[0]], flags, [at_ends[1]], twin_flags[::-1]])
        return curve_through(points, corners)

    def strays(self, result: Curve, at: FloatArray) -> FloatArray:
        """Places midway in the spans in which the curve with twins at ``at`` strays from the mirror image."""
        edges = np.concatenate([[0.0], at, [(self.ends[1] - self.ends[0]) % self.curve.knots[-1]]])
        span = np.diff(edges)
        between = edges[:-1, None] + span[:, None] * TWIN_PROBES
        ring = LinearRing(dense_ring(result, TWIN_OFF_MM / 5))
        away = shapely.distance(ring, shapely.points(self._twins(between.ravel())))
        far = away.reshape(between.shape).max(axis=1) > TWIN_OFF_MM
        return np.asarray((edges[:-1] + span / 2)[far & (span > TWIN_SPAN_MM)])

    def _twins(self, at: FloatArray) -> FloatArray:
        places = (self.ends[0] + at) % self.curve.knots[-1]
        return _twins(self.curve.pieces(places), self.rim, self.frame)


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
    at = np.linspace(0, curve.knots[-1], 4001)
    x = frame.into(curve.pieces(at))[:, 0]
    x[-1] = x[0]  # one and the same point, which rounding may put on either side of the axis
    i = np.flatnonzero((x[:-1] < 0) != (x[1:] < 0))
    share = x[i] / (x[i] - x[i + 1])
    return np.asarray(at[i] + share * (at[i + 1] - at[i]))


def _on_axis(points_mm: FloatArray, frame: Frame) -> FloatArray:
    return frame.out_of(frame.into(points_mm) * np.array([0.0, 1.0]))


def _corner_near(curve: Curve, spot_mm: FloatArray) -> bool:
    apart = np.linalg.norm(curve.points_mm - spot_mm, axis=1)
    return bool(curve.corners[apart < NEAR_AXIS_MM].any())
