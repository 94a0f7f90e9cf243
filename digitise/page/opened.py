"""What the page starts from: a racquet file as curves that can be dragged, on its sheet."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from digitise.band import even_ring
from digitise.contour import Contour
from digitise.page.edit import Edit, EditCurve, EditStretch
from digitise.page.rim import Rim, rim_of, through_photo
from digitise.page.sheet import Sheet, counter_clockwise, sheet_of
from digitise.page.stretches import Line, even
from digitise.spread import OutlineSpread, other_bodies, outline_spread
from digitise.tone import FloatArray
from model.build import build_racquet
from model.errors import ModelError, RacquetFileError
from model.racquet_file import RacquetFile
from model.recalibrate import known_of, recalibrated, traced_of
from model.sight_record import CurveRecord
from model.spline import Curve, curve_through, dense_ring
from model.spline_fit import fit_curve

FIT_SD_MM = 0.15
"""What an automatic outline is good to, point by point: its curve may leave it by as much."""
COMPARED_TOLERANCE_MM = 0.005
DOUBT_PREFIX = "doubtful stretch:"
LONGEST_SPAN_MM, SHORT_SPAN_MM, SPAN_RATIO = 45.0, 15.0, 3.0


@dataclass(frozen=True, eq=False)
class Opened:
    """A racquet file ready to be corrected.

    ``rim`` tells outlines from their sight, on the file's sheet. ``automatic_px`` (n, 2) are the pixels at
    which the automatic outline's curve is seen, to compare with whatever the sheet; None where the racquet
    was marked by hand from scratch.
    """

    file: RacquetFile
    sheet: Sheet
    edit: Edit
    rim: Rim
    automatic_px: FloatArray | None

    @cached_property
    def automatic_now(self) -> RacquetFile | None:
        """The automatic outline's sizes and figures, with the readings that the file has now; None for a
        racquet marked from scratch."""
        file = self.file
        if file.correction is None:
            return file
        automatic = file.correction.automatic
        if automatic is None:
            return None
        same = {"outline": automatic.outline, "landmarks": automatic.landmarks, "traced_size": None}
        try:
            return recalibrated(file.model_copy(update=same))[0]
        except ModelError:  # readings that suit the corrected outline may be impossible for this one
            return file.model_copy(update={**same, "figures": automatic.figures})


def open_file(file: RacquetFile) -> Opened:
    """The file as curves. Raises RacquetFileError where it does not say how the racquet was seen."""
    if file.pose is None or file.photo is None:
        raise RacquetFileError(
            "this racquet file does not say how its photo was seen: trace the photo again, then correct it"
        )
    assumed = file.scale is not None and file.scale.focal_source == "assumed"
    sheet = sheet_of(file.pose, not assumed)
    automatic = None if file.correction is None else file.correction.automatic
    if file.correction is None:
        rim, curve, ring = _as_drawn(sheet, traced_of(file)[0].outer_mm)
        return Opened(file, sheet, _first_edit(file, sheet, curve), rim, sheet.to_px(ring))
    first = _first_edit(file, sheet, None)
    if automatic is None or automatic.pose is None:
        return Opened(file, sheet, first, rim_of(sheet, traced_of(file)[0].outer_mm), None)
    then = sheet_of(automatic.pose)
    rim, _, ring = _as_drawn(then, np.array(automatic.outline.outer_mm))
    return Opened(file, sheet, first, through_photo(rim, then, sheet), then.to_px(ring))


def _as_drawn(sheet: Sheet, outline_mm: FloatArray) -> tuple[Rim, EditCurve, FloatArray]:
    """An automatic outline's rim, its curve and the curve's ring.

    The rim is taken to be seen on the curve, from which the ring it was fitted to strays by its noise: so a
    stretch that nobody touches is the automatic outline itself, to the last digit of its figures.
    """
    rim = rim_of(sheet, outline_mm)
    curve = curve_said(with_calm_spans(fit_curve(rim.seen_mm, FIT_SD_MM)))
    ring = dense_ring(curve_through(curve.points, curve.corners), COMPARED_TOLERANCE_MM)
    return Rim(Rim(ring, ring).nearest_to(rim.seen_mm), rim.outline_mm), curve, ring


@dataclass(frozen=True, eq=False)
class Sighting:
    """An opened file on one sheet: its own, or that of a card moved by hand."""

    opened: Opened
    sheet: Sheet
    rim: Rim
    automatic_mm: FloatArray | None

    @cached_property
    def automatic_line(self) -> Line | None:
        """The automatic outline as it is seen, for distances from it."""
        return None if self.automatic_mm is None else Line(even(self.automatic_mm))

    @cached_property
    def bare_spread(self) -> OutlineSpread:
        """What camera and thicknesses leave open in length and width, with sure edges at all ends.

        It is that of the outline first seen: dragging its points changes a hundredth of it.
        """
        file, ring = self.opened.file, even_ring(self.rim.outline_mm, 1.0)
        count = len(ring)
        sure = Contour(self.sheet.resting, ring, np.ones(count), np.zeros(count), np.zeros(count, bool))
        sds = (file.thickness.face_mm.sd, file.thickness.handle_mm.sd)
        others = other_bodies(self.sheet.body, sds, file.construction)
        return outline_spread(self.sheet.estimate, sure, self.sheet.body, others)

    @cached_property
    def own_notes(self) -> tuple[str, ...]:
        """Notes that neither doubts nor the calibration have put there: both say their own anew."""
        outline, landmarks, size = traced_of(self.opened.file)
        calibrated = build_racquet(outline, landmarks, known_of(self.opened.file), size).notes
        said = self.opened.file.notes
        return tuple(note for note in said if note not in calibrated and not note.startswith(DOUBT_PREFIX))


def sighting_of(opened: Opened, sheet: Sheet) -> Sighting:
    """The opened file on a sheet of its photo."""
    automatic = None if opened.automatic_px is None else sheet.from_px(opened.automatic_px)
    return Sighting(opened, sheet, through_photo(opened.rim, opened.sheet, sheet), automatic)


def with_calm_spans(curve: Curve) -> Curve:
    """The curve with points added where a span is long, or much longer than its neighbours.

    A cubic spline swings in a long span when a point at the end of a short one is dragged.
    """
    for _ in range(8):
        spans = np.diff(curve.knots)
        least = np.minimum(np.roll(spans, 1), np.roll(spans, -1))
        long = (spans > LONGEST_SPAN_MM) | ((spans > SPAN_RATIO * least) & (spans > SHORT_SPAN_MM))
        if not long.any():
            break
        at = np.flatnonzero(long)
        middles = curve.pieces(curve.knots[at] + spans[at] / 2)
        curve = curve_through(
            np.insert(curve.points_mm, at + 1, middles, axis=0), np.insert(curve.corners, at + 1, False)
        )
    return curve


def curve_said(curve: Curve) -> EditCurve:
    """A curve as the browser gets it, counter-clockwise."""
    points, corners = curve.points_mm, curve.corners
    if counter_clockwise(points) is not points:
        points, corners = points[::-1], corners[::-1]
    return EditCurve(
        points=[[round(float(x), 5), round(float(y), 5)] for x, y in points],
        corners=[bool(c) for c in corners],
    )


def _first_edit(file: RacquetFile, sheet: Sheet, curve: EditCurve | None) -> Edit:
    outline, landmarks, _ = traced_of(file)
    correction = file.correction
    if correction is not None:
        outer, openings = _said(correction.outer), [_said(record) for record in correction.openings]
    if curve is not None:
        rings = sheet.opening_seen(outline.openings_mm)
        outer = curve
        openings = [curve_said(fit_curve(ring, FIT_SD_MM)) for ring in rings]
    stretches = [] if correction is None else correction.touched
    said = {
        how: [EditStretch(start=s.start_mm, end=s.end_mm) for s in stretches if s.how == how]
        for how in ("redrawn", "declared right")
    }
    return Edit(
        outer=outer,
        openings=openings,
        handle_top_mm=landmarks.handle_top_mm,
        throat_top_mm=landmarks.throat_top_mm,
        butt_mm=0.0 if correction is not None and correction.butt_by_hand else None,
        redrawn=said["redrawn"],
        declared=said["declared right"],
    )


def _said(record: CurveRecord) -> EditCurve:
    return EditCurve(points=record.points_mm, corners=record.corners)
