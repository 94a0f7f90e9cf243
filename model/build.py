"""From an outline and what the person knows to a finished racquet file, and back to its parts."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from model.bounds import check_axis, check_readings, limits_of
from model.calibrate import Calibration, calibrate
from model.component_bounds import check_body, check_components
from model.components import with_components
from model.errors import ModelError
from model.face import Landmarks, face_centre_mm, with_hoop
from model.figures import BODY_ORDER, Body, Figures, figures_of
from model.like import with_likeness
from model.measured import Measured
from model.outline import Outline, outline_from_rings
from model.parts import Parts, Size, parts_of
from model.priors import Construction, prior_for
from model.racquet_file import (
    CovarianceRecord,
    FiguresRecord,
    LandmarksRecord,
    LikeRecord,
    OutlineRecord,
    PartRecord,
    PhotoRecord,
    RacquetFile,
    ScaleRecord,
    SwingValue,
    ThicknessRecord,
    TracedSize,
    Value,
)
from model.readings import Reading
from model.side_edges import half_widths, straight_sides, widest
from model.site import Site, site_of
from model.smooth import Smooth

Array = NDArray[np.float64]

STATED_THICKNESS_SD_MM = 0.3  # a ruler or a caliper held against a padded grip or a rounded edge
THICKNESS_RANGE_MM = (2.0, 100.0)  # anything outside is a slip of the unit


@dataclass(frozen=True)
class Known:
    """What the person states: construction, thicknesses (None: the default), readings, swing axis.

    ``like`` is what other racquets of the same model have told.
    """

    construction: str
    face_thickness_mm: float | None = None
    handle_thickness_mm: float | None = None
    readings: tuple[Reading, ...] = ()
    swing_axis_mm: float | None = None
    like: tuple[LikeRecord, ...] = ()


@dataclass(frozen=True)
class Traced:
    """What the photo adds: sds of length and width and how far their errors go together, the photo,
    the scale, words and flags, the sds of the butt's centre (across) and of the axis, and the curves that the
    outline's rings are points of."""

    length_sd_mm: float = 0.0
    width_sd_mm: float = 0.0
    size_correlation: float = 0.0
    photo: PhotoRecord | None = None
    scale: ScaleRecord | None = None
    notes: tuple[str, ...] = ()
    flags: tuple[str, ...] = ()
    butt_sd_mm: float | None = None
    axis_sd_deg: float | None = None
    smooth: Smooth | None = None


def build_racquet(
    outline: Outline, landmarks: Landmarks, known: Known, traced: Traced | None = None
) -> RacquetFile:
    """Calibrate a racquet and fill its file.

    ``landmarks`` and ``outline`` in the racquet frame, mm. A hand-made outline has no ``traced``.
    Raises OutlineError, ReadingError or ModelError, each with one sentence.
    """
    return build_and_explain(outline, landmarks, known, traced)[0]


def build_and_explain(
    outline: Outline, landmarks: Landmarks, known: Known, traced: Traced | None = None
) -> tuple[RacquetFile, Calibration]:
    """As :func:`build_racquet`, with the calibration that the file's figures come from."""
    traced = traced or Traced()
    prior = prior_for(known.construction)
    if prior.construction is Construction.STRUNG:
        landmarks = with_hoop(outline, landmarks)
    axis = prior.swing_axis_mm if known.swing_axis_mm is None else known.swing_axis_mm
    check_axis(axis, outline.length_mm)
    size = _size(outline, known, traced)
    result = calibration_of(outline, landmarks, known, traced)
    check_body(result.body, known.readings, float(outline.outer_mm[:, 1].max()))
    shown, marks, spread, as_traced = _measured_size(outline, landmarks, known, traced, result)
    file = RacquetFile(
        construction=prior.construction.value,
        outline=outline_record(shown, spread),
        landmarks=_landmarks_record(shown, marks, spread),
        thickness=_thickness_record(size, known),
        figures=figures_record(figures_of(result.body, axis)),
        figures_covariance=CovarianceRecord(order=list(BODY_ORDER), matrix=result.body.cov.tolist()),
        parts=_part_records(result),
        readings=list(known.readings),
        photo=traced.photo,
        scale=traced.scale,
        traced_size=as_traced,
        like=list(known.like),
        notes=[*traced.notes, *result.notes],
        flags=list(traced.flags),
    )
    return file, result


def calibration_of(outline: Outline, landmarks: Landmarks, known: Known, traced: Traced) -> Calibration:
    """The calibration alone, without the file."""
    if known.construction == Construction.STRUNG:
        landmarks = with_hoop(outline, landmarks)
    return calibrate(_parts(outline, landmarks, known, _size(outline, known, traced)), known.readings)


def _parts(outline: Outline, landmarks: Landmarks, known: Known, size: Size) -> Parts:
    """The parts before any reading but those of components; impossible readings are refused here."""
    parts = parts_of(outline, landmarks, prior_for(known.construction), size)
    thickest = max(size.face_thickness_mm.value, size.handle_thickness_mm.value)
    limits = limits_of(outline, parts, thickest)
    for pieces in {r.on for r in known.readings}:
        check_readings([r for r in known.readings if r.on == pieces], limits)
    check_components(known.readings, parts)
    parts = with_components(parts, known.readings, outline, landmarks, size)
    return with_likeness(parts, known.like, prior_for(known.construction).model_share)


def _measured_size(
    outline: Outline, landmarks: Landmarks, known: Known, traced: Traced, result: Calibration
) -> tuple[Outline, Landmarks, Traced, TracedSize | None]:
    """Outline, landmarks and sds as a tape measure has them, and as traced; unchanged without one."""
    if not any(r.used and r.kind in ("length", "width") for r in known.readings):
        return outline, landmarks, traced, None
    along, across = result.size_changes()
    shown, smooth = rescaled(outline, traced.smooth, 1 + along.value, 1 + across.value)
    throat, top = landmarks.throat_top_mm, landmarks.handle_top_mm
    marks = replace(
        landmarks,
        handle_top_mm=top * (1 + along.value),
        throat_top_mm=None if throat is None else throat * (1 + along.value),
    )
    spread = replace(
        traced,
        length_sd_mm=along.sd * outline.length_mm,
        width_sd_mm=across.sd * outline.width_mm,
        smooth=smooth,
    )
    as_traced = TracedSize(
        length_mm=Value(value=outline.length_mm, sd=traced.length_sd_mm),
        width_mm=Value(value=outline.width_mm, sd=traced.width_sd_mm),
    )
    return shown, marks, spread, as_traced


def rescaled(
    outline: Outline, smooth: Smooth | None, along: float, across: float
) -> tuple[Outline, Smooth | None]:
    """An outline and its curves, stretched along and across the handle about the butt's centre.

    Rings of curves are made anew: the curve through stretched points is not quite the stretched curve.
    """
    if smooth is not None:
        smooth = smooth.rescaled(along, across)
        return smooth.outline(), smooth
    factors = np.array([across, along])
    rings = [ring * factors for ring in (outline.outer_mm, *outline.openings_mm)]
    return outline_from_rings(rings[0], rings[1:]), None


def figures_record(figures: Figures) -> FiguresRecord:
    """Figures as they stand in the file and in every command's JSON."""
    swing = figures.swing_weight_kgcm2
    return FiguresRecord(
        weight_g=_value(figures.weight_g),
        balance_mm=_value(figures.balance_mm),
        swing_weight_kgcm2=SwingValue(value=swing.value, sd=swing.sd, axis_mm=figures.swing_axis_mm),
        twist_weight_kgcm2=_value(figures.twist_weight_kgcm2),
        recoil_weight_kgcm2=_value(figures.recoil_weight_kgcm2),
        spin_weight_kgcm2=_value(figures.spin_weight_kgcm2),
    )


def outline_of(file: RacquetFile) -> Outline:
    """The file's outline, through the gate."""
    return outline_from_rings(file.outline.outer_mm, file.outline.openings_mm)


def body_of(file: RacquetFile) -> Body:
    """The file's five figures with their covariance."""
    f = file.figures
    values = [
        f.weight_g.value,
        f.balance_mm.value,
        f.recoil_weight_kgcm2.value,
        f.twist_weight_kgcm2.value,
        f.spin_weight_kgcm2.value,
    ]
    return Body(np.array(values), np.array(file.figures_covariance.matrix))


def site_in(file: RacquetFile) -> Site:
    """Where tape can go on the file's racquet."""
    thickness = file.thickness
    return site_of(outline_of(file), landmarks_of(file), thickness.face_mm.value, thickness.handle_mm.value)


def landmarks_of(file: RacquetFile) -> Landmarks:
    """The file's handle top and throat top with their sds."""
    top, throat = file.landmarks.handle_top_mm, file.landmarks.throat_top_mm
    if throat is None:
        return Landmarks(top.value, top.sd)
    return Landmarks(top.value, top.sd, throat.value, throat.sd)


def relative_size_cov(file: RacquetFile) -> NDArray[np.float64]:
    """The covariance (2, 2) of the outline's length and width, as shares of them."""
    length, width = file.outline.length_mm, file.outline.width_mm
    sds = np.array([length.sd / length.value, width.sd / width.value])
    together = np.prod(sds) * file.outline.size_correlation
    if file.traced_size is not None:
        together = _still_together(sds, file.traced_size, file.outline.size_correlation)
    return np.array([[sds[0] ** 2, together], [together, sds[1] ** 2]])


def _still_together(sds: NDArray[np.float64], traced: TracedSize, correlation: float) -> float:
    """The covariance of length and width, of these relative sds (2,), once a tape measure has told of either.

    Their sds as traced and how far these went together are known, and readings of one alone leave what the
    inverse of the covariance has off its diagonal as it was.
    """
    before = [value.sd / value.value for value in (traced.length_mm, traced.width_mm)]
    own = before[0] * before[1] * (1 - correlation**2)
    if correlation == 0 or own == 0:
        return 0.0
    off = -correlation / own
    return float((1 - np.sqrt(1 + 4 * off**2 * np.prod(sds**2))) / (2 * off))


def thicknesses(known: Known) -> tuple[Measured, Measured]:
    """Thickness of face and handle, mm: as stated, else the construction's usual one with its sd.

    Raises ModelError for one that no racquet has.
    """
    prior = prior_for(known.construction)
    return (
        _thickness(known.face_thickness_mm, prior.face_thickness_mm, "face"),
        _thickness(known.handle_thickness_mm, prior.handle_thickness_mm, "handle"),
    )


def _size(outline: Outline, known: Known, traced: Traced) -> Size:
    face, handle = thicknesses(known)
    return Size(
        face_thickness_mm=face,
        handle_thickness_mm=handle,
        along_relative_sd=traced.length_sd_mm / outline.length_mm,
        across_relative_sd=traced.width_sd_mm / outline.width_mm,
        size_correlation=traced.size_correlation,
    )


def _thickness(stated_mm: float | None, default: Measured, what: str) -> Measured:
    if stated_mm is None:
        return default
    low, high = THICKNESS_RANGE_MM
    if not low <= stated_mm <= high:
        raise ModelError(
            f"the {what} thickness must be between {low:g} and {high:g} mm, not {stated_mm:g} mm"
        )
    return Measured(stated_mm, STATED_THICKNESS_SD_MM)


def _value(measured: Measured) -> Value:
    return Value(value=measured.value, sd=measured.sd)


def outline_record(outline: Outline, traced: Traced) -> OutlineRecord:
    """An outline as it stands in the file."""
    return OutlineRecord(
        outer_mm=_points(outline.outer_mm),
        openings_mm=[_points(ring) for ring in outline.openings_mm],
        length_mm=Value(value=outline.length_mm, sd=traced.length_sd_mm),
        width_mm=Value(value=outline.width_mm, sd=traced.width_sd_mm),
        size_correlation=traced.size_correlation,
        smooth=None if traced.smooth is None else traced.smooth.record(),
    )


def _points(ring: Array) -> list[list[float]]:
    points: list[list[float]] = np.round(ring, 4).tolist()
    return points


def _landmarks_record(outline: Outline, landmarks: Landmarks, traced: Traced) -> LandmarksRecord:
    tip = float(outline.outer_mm[:, 1].max())
    throat, sd = landmarks.throat_top_mm, landmarks.handle_top_sd_mm
    y, half = half_widths(outline)
    straight = straight_sides(y, half)
    throat_sd = landmarks.throat_top_sd_mm
    bottom_sd = sd if throat is None else throat_sd
    return LandmarksRecord(
        handle_top_mm=Value(value=landmarks.handle_top_mm, sd=sd),
        throat_top_mm=None if throat is None else Value(value=throat, sd=throat_sd),
        widest_mm=_widest_mm(outline),
        widest_sd_mm=widest(y, half).sd,
        face_centre_mm=list(face_centre_mm(tip, landmarks)),
        face_centre_sd_mm=math.hypot(bottom_sd, traced.length_sd_mm) / 2,
        tip_mm=Value(value=tip, sd=traced.length_sd_mm),
        butt_sd_mm=traced.butt_sd_mm,
        axis_sd_deg=traced.axis_sd_deg,
        straight_sides_mm=[] if straight is None else [_value(straight.start_mm), _value(straight.end_mm)],
    )


def _widest_mm(outline: Outline) -> float:
    """Where the racquet is widest: midway between where its two sides stand out furthest."""
    x, y = outline.outer_mm.T
    return float((y[x.argmax()] + y[x.argmin()]) / 2)


def _thickness_record(size: Size, known: Known) -> ThicknessRecord:
    return ThicknessRecord(
        face_mm=_value(size.face_thickness_mm),
        face_source="default" if known.face_thickness_mm is None else "stated",
        handle_mm=_value(size.handle_thickness_mm),
        handle_source="default" if known.handle_thickness_mm is None else "stated",
    )


def _part_records(result: Calibration) -> list[PartRecord]:
    return [PartRecord(name=name, mass_g=_value(mass)) for name, mass in result.part_masses().items()]
