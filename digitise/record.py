"""A traced photo and what the person knows, as a finished racquet file."""

from __future__ import annotations

import math
import os
from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import Polygon

from digitise.doubt import Doubt, calls_for_hand, phrases
from digitise.photo import Photo
from digitise.pose import pose_record
from digitise.smooth_outline import smoothed
from digitise.symmetry import ALIKE_MM, EDGE_SD_MM
from digitise.taped import disagreements
from digitise.tone import FloatArray
from digitise.trace import Traced
from digitise.whole import THINNEST_MM
from model.build import Known, build_racquet
from model.build import Traced as Measured
from model.cautions import NEEDS_CORRECTION
from model.face import Landmarks
from model.outline import Outline, outline_from_rings
from model.racquet_file import CardRecord, PhotoRecord, RacquetFile, ScaleRecord, Value
from model.sight_record import DoubtRecord

UNLIKE_SIDES_MM = 0.5
"""Half the difference of the two sides from which the person is told."""
APART_MM = 0.3
"""Openings no farther from each other touch."""


def racquet_of(photo: Photo, traced: Traced, known: Known, card_on_face: bool) -> RacquetFile:
    """The racquet file of a traced photo. Raises ModelError where outline or readings are impossible."""
    spread = traced.spread
    notes = [
        *photo.notes,
        *traced.reference.notes,
        *disagreements(spread, known.readings),
        *(f"doubtful stretch: {words}" for words in phrases(traced.doubts)),
    ]
    if traced.sides_apart_mm > UNLIKE_SIDES_MM:
        notes.append(
            f"the two sides differ by {2 * traced.sides_apart_mm:.1f} mm on the whole: the racquet is bent "
            "or chipped, something sticks out of one side, or the outline is wrong; look at the picture"
        )
    if not traced.estimate.focal_known:
        notes.append(
            "the photo does not say its focal length: a phone's usual one is assumed, with a wide sd"
        )
    measured = Measured(
        length_sd_mm=spread.length_sd_mm,
        width_sd_mm=spread.width_sd_mm,
        size_correlation=spread.correlation,
        photo=PhotoRecord(
            file_name=photo.file_name,
            sha256=photo.sha256,
            width_px=photo.width_px,
            height_px=photo.height_px,
        ),
        scale=_scale(photo, traced, card_on_face) if traced.reference.outlines_px else None,
        notes=tuple(notes),
        flags=(NEEDS_CORRECTION,) if calls_for_hand(*traced.doubtful_lengths) else (),
    )
    butt_sd_mm, axis_sd_deg = _axis_sds(traced)
    measured = replace(measured, butt_sd_mm=butt_sd_mm, axis_sd_deg=axis_sd_deg)
    landmarks = Landmarks(traced.marks.top_mm, traced.marks.top_sd_mm)
    outline, smooth = smoothed(outline_of(traced), traced.contour, traced.doubts, traced.sides_apart_mm)
    file = build_racquet(outline, landmarks, known, replace(measured, smooth=smooth))
    doubts = [doubt_record(doubt, traced.contour.ring_mm) for doubt in traced.doubts]
    pose = pose_record(traced.estimate, traced.contour.resting, traced.body)
    return file.model_copy(update={"pose": pose, "doubts": doubts})


def _axis_sds(traced: Traced) -> tuple[float, float]:
    """Sds of the butt's centre across the axis, mm, and of the axis, degrees, by how the two sides differ.

    The axis is the line through the middles between the sides, which differ by chance about every ALIKE_MM.
    """
    y_mm = traced.contour.ring_mm[:, 1]
    unlike_mm = math.hypot(traced.sides_apart_mm, EDGE_SD_MM)
    pairs = max(len(y_mm) / (2 * ALIKE_MM), 2.0)
    turn = unlike_mm / (math.sqrt(pairs) * float(y_mm.std()))
    middle = unlike_mm / math.sqrt(pairs)
    return math.hypot(middle, turn * float(y_mm.mean() - y_mm.min())), math.degrees(turn)


def with_photo_path(file: RacquetFile, photo: Path, target: Path) -> RacquetFile:
    """The file with the photo's place as seen from the folder of ``target``, for whoever opens it again."""
    if file.photo is None:
        return file
    try:
        place = os.path.relpath(photo.absolute(), target.absolute().parent)
    except ValueError:  # on another drive
        place = str(photo.absolute())
    record = file.photo.model_copy(update={"path": Path(place).as_posix()})
    return file.model_copy(update={"photo": record})


def doubt_record(doubt: Doubt, ring_mm: FloatArray) -> DoubtRecord:
    """A doubtful stretch by its ends on the ring, which need no count of points."""
    return DoubtRecord(
        start_mm=[float(v) for v in ring_mm[doubt.first]],
        end_mm=[float(v) for v in ring_mm[doubt.last]],
        length_mm=doubt.length_mm,
        side=doubt.side,
        where=doubt.where,
        reason=doubt.reason,
        sd_mm=doubt.sd_mm,
    )


def outline_of(traced: Traced) -> Outline:
    """The outline through the model's gate; openings that touch the rim or each other are left out."""
    outer = _simple(traced.contour.ring_mm)
    within = outer.buffer(-THINNEST_MM)
    kept: list[Polygon] = []
    for ring in traced.openings_mm:
        opening = _simple(ring)
        if within.contains(opening) and not (kept and shapely.dwithin(opening, kept, APART_MM).any()):
            kept.append(opening)
    return outline_from_rings(_points(outer), [_points(opening) for opening in kept])


def _simple(ring_mm: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> Polygon:
    """The ring as one simple polygon: where it touches itself the largest piece stands."""
    whole = Polygon(ring_mm).buffer(0)
    return whole if isinstance(whole, Polygon) else max(whole.geoms, key=lambda piece: piece.area)


def _points(polygon: Polygon) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    return np.asarray(polygon.exterior.coords, float)[:-1]


def _scale(photo: Photo, traced: Traced, card_on_face: bool) -> ScaleRecord:
    camera, estimate, spread = traced.estimate.camera, traced.estimate, traced.spread
    depth_mm = camera.height_mm - traced.contour.resting.height_mm
    relative = spread.length_sd_mm / spread.length_mm
    mm_per_px = depth_mm / camera.focal_px
    return ScaleRecord(
        card=CardRecord(
            corners_px=[[float(x), float(y)] for x, y in traced.reference.outlines_px[0]],
            width_mm=traced.reference.shape.long_mm,
            height_mm=traced.reference.shape.short_mm,
            on="face" if card_on_face else "table",
        ),
        cards=len(traced.reference.outlines_px),
        camera_height_mm=Value(value=camera.height_mm, sd=estimate.height_sd_mm),
        mm_per_px=Value(value=mm_per_px, sd=mm_per_px * relative),
        relative_sd=relative,
        focal_px=Value(value=camera.focal_px, sd=float(np.sqrt(estimate.covariance[0, 0]))),
        focal_source="photo" if estimate.focal_known else "assumed",
        tilt_deg=Value(value=camera.tilt_deg, sd=float(np.rad2deg(np.sqrt(estimate.covariance[1, 1])))),
    )
