"""What a drawing means: sizes, figures, what changed, and the racquet file it becomes."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from digitise.doubt import BESIDE_ROWS, REST, WHOLE, calls_for_hand, with_rest
from digitise.page.drawn import SAVED_TOLERANCE_MM, Drawn, Frame, drawn_on
from digitise.page.edit import Edit
from digitise.page.opened import DOUBT_PREFIX, Opened, Sighting
from digitise.page.sheet import Sheet
from digitise.page.stretches import SETTLED_SHARE, STEP_MM, Touched, touched
from digitise.spread import DOUBTFUL_EDGE_SD_MM, EDGE_SD_MM, OutlineSpread, spread_of
from digitise.tone import FloatArray
from model.build import Traced, build_racquet, outline_record
from model.cautions import NEEDS_CORRECTION
from model.face import Landmarks
from model.racquet_file import (
    AutomaticRecord,
    CardRecord,
    CorrectionRecord,
    OutlineRecord,
    RacquetFile,
    ScaleRecord,
    Value,
)
from model.recalibrate import known_of, traced_of
from model.sight_record import DoubtRecord, StretchRecord
from model.smooth import curve_record

HAND_SD_PX, HAND_SD_FLOOR_MM = 0.8, 0.15
"""How well a person puts a line on an edge: within a pixel of the photo, and no better than the edge is."""
REDRAWN_SD_PX = 0.6
MARK_SD_MM = 1.0
"""Of a landmark that was dragged to its place."""


@dataclass(frozen=True, eq=False)
class DoubtNow:
    """A doubtful stretch on the sheet, and whether a hand has since answered for it, or it is ``settled``
    without: it was in doubt for others' sake."""

    record: DoubtRecord
    start_mm: FloatArray
    end_mm: FloatArray
    by_hand: bool
    settled: bool


@dataclass(frozen=True, eq=False)
class Outcome:
    """A drawing with its figures."""

    drawn: Drawn
    file: RacquetFile
    touched: Touched
    doubts: list[DoubtNow]


def outcome_of(sighting: Sighting, edit: Edit, tolerance_mm: float) -> Outcome:
    """Sizes and figures of an edit on its sheet. Raises Unusable or ModelError."""
    opened, sheet = sighting.opened, sighting.sheet
    drawn = drawn_on(sheet, sighting.rim, edit, tolerance_mm)
    done = touched(drawn.seen_mm, sighting.automatic_line, edit.redrawn, edit.declared)
    doubts = _doubts(opened, sheet, done)
    spread = _spread(sighting, drawn, done, doubts)
    file = opened.file
    measured = Traced(
        length_sd_mm=spread.length_sd_mm,
        width_sd_mm=spread.width_sd_mm,
        size_correlation=spread.correlation,
        photo=file.photo,
        scale=_scale(opened, drawn, edit, spread),
        notes=(*sighting.own_notes, *_notes(doubts)),
        flags=_flags(file, doubts, done),
    )
    top_sd = MARK_SD_MM if edit.marks_by_hand else file.landmarks.handle_top_mm.sd
    landmarks = Landmarks(drawn.handle_top_mm, top_sd, drawn.throat_top_mm)
    built = build_racquet(drawn.outline, landmarks, known_of(file), measured)
    return Outcome(drawn, built.model_copy(update={"placements": file.placements}), done, doubts)


def corrected_file(sighting: Sighting, edit: Edit) -> RacquetFile:
    """The racquet file of an edit, with the automatic outline kept beside it. Raises Unusable, ModelError."""
    opened, sheet = sighting.opened, sighting.sheet
    outcome = outcome_of(sighting, edit, SAVED_TOLERANCE_MM)
    drawn, file = outcome.drawn, opened.file
    way = drawn.frame
    turn = -float(np.arctan2(way.up[0], way.up[1]))
    pose = sheet.moved(turn, float(way.origin_mm[0]), float(way.origin_mm[1])).record()
    before = file.correction
    correction = CorrectionRecord(
        outer=curve_record(drawn.framed(drawn.outer)),
        openings=[curve_record(drawn.framed(curve)) for curve in drawn.openings],
        touched=_touched_records(opened, outcome),
        axis_moved=edit.axis != type(edit.axis)() or (before is not None and before.axis_moved),
        card_moved=edit.card_px is not None or (before is not None and before.card_moved),
        butt_by_hand=edit.butt_mm is not None,
        automatic=automatic_of(file),
    )
    doubts = [
        d.record.model_copy(update={"start_mm": _spot(way, d.start_mm), "end_mm": _spot(way, d.end_mm)})
        for d in outcome.doubts
        if not d.settled
    ]
    return outcome.file.model_copy(update={"pose": pose, "correction": correction, "doubts": doubts})


def hand_sd_mm(file: RacquetFile, redrawn: bool) -> float:
    """The sd of a stretch put right by hand."""
    mm_per_px = 0.3 if file.scale is None else file.scale.mm_per_px.value
    return max(HAND_SD_FLOOR_MM, (REDRAWN_SD_PX if redrawn else HAND_SD_PX) * mm_per_px)


def _doubts(opened: Opened, sheet: Sheet, done: Touched) -> list[DoubtNow]:
    found = []
    by_hand = done.any
    for record in opened.file.doubts:
        ends_px = opened.sheet.to_px(np.array([record.start_mm, record.end_mm]))
        start, end = sheet.from_px(ends_px)
        answered = float(by_hand[done.flags_of(start, end)].mean()) >= SETTLED_SHARE
        found.append(DoubtNow(record, start, end, answered, answered))
    # what is in doubt for the others' sake is so no longer once these are few
    own_mm = sum(d.record.length_mm for d in found if not d.settled and d.record.reason != REST)
    few = own_mm <= WHOLE * len(done.ring_mm) * STEP_MM and any(d.by_hand for d in found)
    return [replace(d, settled=True) if few and d.record.reason == REST else d for d in found]


def _spread(sighting: Sighting, drawn: Drawn, done: Touched, doubts: list[DoubtNow]) -> OutlineSpread:
    """The spread that camera and thicknesses cause, with each end's own sd added."""
    opened = sighting.opened
    edge, doubt = np.full(len(done.ring_mm), EDGE_SD_MM), np.zeros(len(done.ring_mm))
    for each in doubts:
        if not each.settled:
            flags = done.flags_of(each.start_mm, each.end_mm) & ~done.any
            doubt[flags] = np.maximum(doubt[flags], each.record.sd_mm or DOUBTFUL_EDGE_SD_MM)
    edge[done.any] = hand_sd_mm(opened.file, redrawn=False)
    edge[done.redrawn] = hand_sd_mm(opened.file, redrawn=True)
    ring = drawn.frame.into(done.ring_mm)
    more = [sum(_more_mm2(edge, doubt, rows) for rows in places) for places in _extremes(ring)]
    bare = sighting.bare_spread
    return spread_of(
        drawn.outline.length_mm, drawn.outline.width_mm, bare.own_mm2 + np.diag(more), bare.shared_mm
    )


def _more_mm2(edge: FloatArray, doubt: FloatArray, rows: npt.NDArray[np.intp]) -> float:
    """What the first of ``rows`` of a ring, an extreme, and doubt at any of them add to a size's variance."""
    return float(edge[rows[0]] ** 2 - EDGE_SD_MM**2 + doubt[rows].max() ** 2)


def _extremes(ring_mm: FloatArray) -> list[list[npt.NDArray[np.intp]]]:
    """Rows of a ring (n, 2) that say where its two ends lie, and where its two sides do, the extreme first.

    As ``digitise.doubt.widened`` has it: an end also lies where what is beside it does, on both sides alike.
    """
    count, reach = len(ring_mm), round(BESIDE_ROWS / STEP_MM)
    x, y = ring_mm.T
    ends = []
    for end in (int(y.argmin()), int(y.argmax())):
        twin = int(np.argmin(np.sum((ring_mm - ring_mm[end] * [-1.0, 1.0]) ** 2, axis=1)))
        beside = np.arange(-reach, reach + 1)
        ends.append(np.concatenate([[end], end + beside, twin + beside]) % count)
    return [ends, [np.array([x.argmin()]), np.array([x.argmax()])]]


def _scale(opened: Opened, drawn: Drawn, edit: Edit, spread: OutlineSpread) -> ScaleRecord | None:
    """The file's scale; where the card was moved, that of the camera it then says."""
    old = opened.file.scale
    if old is None or edit.card_px is None:
        return old
    sheet = drawn.sheet
    camera, estimate = sheet.estimate.camera, sheet.estimate
    mm_per_px = (camera.height_mm - sheet.resting.height_mm) / camera.focal_px
    relative = spread.length_sd_mm / spread.length_mm
    return ScaleRecord(
        card=CardRecord(**(old.card.model_dump() | {"corners_px": edit.card_px})),
        camera_height_mm=Value(value=camera.height_mm, sd=estimate.height_sd_mm),
        mm_per_px=Value(value=mm_per_px, sd=mm_per_px * relative),
        relative_sd=relative,
        focal_px=Value(value=camera.focal_px, sd=float(np.sqrt(estimate.covariance[0, 0]))),
        focal_source=old.focal_source,
        tilt_deg=Value(value=camera.tilt_deg, sd=float(np.rad2deg(np.sqrt(estimate.covariance[1, 1])))),
    )


def _notes(doubts: list[DoubtNow]) -> list[str]:
    left = [d.record for d in doubts if not d.settled]
    told = with_rest((record.reason, record.length_mm, _words(record)) for record in left)
    return [f"{DOUBT_PREFIX} {words}" for words in told]


def _words(record: DoubtRecord) -> str:
    low, high = sorted((record.start_mm[1], record.end_mm[1]))
    by_clock = record.where and "from the butt" not in record.where  # the butt may have been moved since
    where = record.where if by_clock else f"{low:.0f} to {high:.0f} mm from the butt"
    return f"{record.side}, {where}, {record.length_mm:.0f} mm: {record.reason}"


def _flags(file: RacquetFile, doubts: list[DoubtNow], done: Touched) -> tuple[str, ...]:
    left = [(d.record.reason, d.record.length_mm) for d in doubts if not d.settled]
    kept = [flag for flag in file.flags if flag != NEEDS_CORRECTION]
    needed = calls_for_hand(left, len(done.ring_mm) * STEP_MM)
    return (*kept, NEEDS_CORRECTION) if needed else tuple(kept)


def _touched_records(opened: Opened, outcome: Outcome) -> list[StretchRecord]:
    way = outcome.drawn.frame
    return [
        StretchRecord(
            start_mm=_spot(way, stretch.start_mm),
            end_mm=_spot(way, stretch.end_mm),
            length_mm=stretch.length_mm,
            sd_mm=hand_sd_mm(opened.file, stretch.how == "redrawn"),
            how=stretch.how,
        )
        for stretch in outcome.touched.stretches()
    ]


def automatic_of(file: RacquetFile) -> AutomaticRecord | None:
    """What trace had found, for the record; None for a racquet marked from scratch."""
    if file.correction is not None:
        return file.correction.automatic
    if file.traced_size is None:
        return _automatic_record(file, file.outline)
    outline, _, size = traced_of(file)  # as traced, whatever a tape measure then said
    return _automatic_record(file, outline_record(outline, size))


def _automatic_record(file: RacquetFile, outline: OutlineRecord) -> AutomaticRecord:
    return AutomaticRecord(
        outline=outline, landmarks=file.landmarks, figures=file.figures, scale=file.scale, pose=file.pose
    )


def _spot(frame: Frame, sheet_mm: FloatArray) -> list[float]:
    x, y = frame.into(sheet_mm[None])[0]
    return [round(float(x), 3), round(float(y), 3)]
