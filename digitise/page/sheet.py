"""The sheet a person corrects on: the racquet's own plane, straightened, in mm, the tip up.

A point of the sheet is a point of the racquet's middle plane in the frame of the racquet file. The rim is
seen a little beside the outline, because it is thick and the camera does not look straight down on it
everywhere; what is drawn on the sheet is the rim as seen, and the outline is reckoned back from it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from digitise.axis import Axis
from digitise.card_pose import CameraEstimate
from digitise.holes import upper_side
from digitise.pose import camera_estimate, lying, pose_record
from digitise.resting import Body, Resting, rest
from digitise.tone import FloatArray
from model.sight_record import PoseRecord

_SETTLING_STEPS = 6  # the plane leans by a degree or so: each step leaves a hundredth of the error


@dataclass(frozen=True, eq=False)
class Sheet:
    """A camera, and the racquet's frame and section as it saw them."""

    estimate: CameraEstimate
    resting: Resting
    body: Body

    def to_px(self, points_mm: FloatArray) -> FloatArray:
        """Pixels (n, 2) of sheet points (n, 2)."""
        return self.resting.to_pixels(self.estimate.camera, points_mm)

    def from_px(self, points_px: FloatArray) -> FloatArray:
        """Sheet points (n, 2) of pixels (n, 2)."""
        return self.resting.from_pixels(self.estimate.camera, points_px)

    def opening_seen(self, rings_mm: Sequence[FloatArray]) -> list[FloatArray]:
        """Where the rims of openings are seen: a hole by its upper edge, a tube's inner side as it is."""
        return [self.from_px(self._opening_plane.to_pixels(self.estimate.camera, ring)) for ring in rings_mm]

    def openings_of(self, seen_mm: Sequence[FloatArray]) -> list[FloatArray]:
        """The openings' rings whose rims are seen at rings of points."""
        if not seen_mm:
            return []
        together = self._opening_plane.from_pixels(self.estimate.camera, self.to_px(np.vstack(seen_mm)))
        ends = np.cumsum([len(ring) for ring in seen_mm])[:-1]
        return [np.asarray(ring) for ring in np.split(together, ends)]

    def record(self) -> PoseRecord:
        """For the racquet file."""
        return pose_record(self.estimate, self.resting, self.body)

    def moved(self, turn_rad: float, right_mm: float, up_mm: float) -> Sheet:
        """The sheet with its frame moved within its plane."""
        return replace(self, resting=self.resting.moved(turn_rad, right_mm, up_mm))

    @property
    def _opening_plane(self) -> Resting:
        return self.resting if self.body.is_tube else upper_side(self.resting, self.body)


def sheet_of(pose: PoseRecord, focal_known: bool = True) -> Sheet:
    """The sheet of a racquet file's pose."""
    return Sheet(camera_estimate(pose, focal_known), *lying(pose))


def seen_by(sheet: Sheet, estimate: CameraEstimate) -> Sheet:
    """The sheet of another camera for the same photo: butt centre and tip stay where they are in it."""
    ends_px = sheet.to_px(np.array([[0.0, 0.0], [0.0, sheet.body.length_mm]]))
    body, laid = sheet.body, sheet.resting
    for _ in range(2):  # the length follows from the plane, and the plane a little from the length
        level = rest(Axis(np.zeros(2), np.array([0.0, 1.0])), body)
        laid = Resting(laid.axis, level.height_mm, level.slope)
        for step in range(_SETTLING_STEPS):
            plane = replace(laid, slope=0.0).plane if step == 0 else laid.plane
            butt, tip = estimate.camera.to_plane(ends_px, plane)
            span_mm = float(np.hypot(*(tip - butt)))
            laid = replace(laid, axis=Axis(butt, (tip - butt) / span_mm))
        body = _scaled(sheet.body, span_mm / laid.foreshortening / sheet.body.length_mm)
    return Sheet(estimate, laid, body)


def counter_clockwise(ring_mm: FloatArray) -> FloatArray:
    """The ring with this winding."""
    return ring_mm if signed_area_mm2(ring_mm) >= 0 else ring_mm[::-1]


def signed_area_mm2(ring_mm: FloatArray) -> float:
    """Area of a ring (n, 2), positive for counter-clockwise."""
    x, y = ring_mm.T
    return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) / 2)


def _scaled(body: Body, factor: float) -> Body:
    """What was read off the photo grows with the scale; what was measured with a ruler does not."""
    return replace(
        body,
        length_mm=body.length_mm * factor,
        handle_top_mm=body.handle_top_mm * factor,
        handle_width_mm=body.handle_width_mm * factor,
    )
