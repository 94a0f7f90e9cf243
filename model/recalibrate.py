"""Back from a racquet file to what was known, and the file again with other readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from model.build import Known, Traced, build_and_explain, calibration_of, landmarks_of, rescaled
from model.calibrate import Calibration
from model.errors import ModelError
from model.face import Landmarks
from model.like import likeness
from model.outline import Outline, outline_from_rings
from model.racquet_file import LikeRecord, RacquetFile
from model.readings import Reading
from model.smooth import smooth_of

CALIBRATED = (
    "outline",
    "landmarks",
    "figures",
    "figures_covariance",
    "parts",
    "readings",
    "traced_size",
    "like",
)
"""The keys of the file that readings decide; all others stay as they are."""


def recalibrated(
    file: RacquetFile,
    readings: Sequence[Reading] | None = None,
    swing_axis_mm: float | None = None,
    like: Sequence[LikeRecord] | None = None,
) -> tuple[RacquetFile, Calibration]:
    """The file with other readings (None: its own), the calibration behind it, and nothing else changed.

    ``like`` are racquets of the same model (see ``model.like``) instead of those the file has.

    Raises ReadingError, OutlineError or ModelError in one sentence.
    """
    outline, landmarks, traced = traced_of(file)
    known = known_of(file)
    said: list[str] = []
    if file.notes:  # which of them came from the last calibration is known only by doing it again
        try:
            last = calibration_of(outline, landmarks, known, traced).notes
        except ModelError:
            # an older program took readings that are refused today: they can still be taken out
            last = ()
        said = [note for note in file.notes if note not in last]
    if readings is not None:
        known = replace(known, readings=tuple(readings))
    if swing_axis_mm is not None:
        known = replace(known, swing_axis_mm=swing_axis_mm)
    if like is not None:
        known = replace(known, like=tuple(like))
    after, found = build_and_explain(outline, landmarks, known, traced)
    changes = {key: getattr(after, key) for key in CALIBRATED}
    notes = list(dict.fromkeys([*said, *after.notes]))
    return file.model_copy(update={**changes, "notes": notes}), found


def told_by(file: RacquetFile, file_name: str) -> LikeRecord:
    """What a racquet says about others of its model by its own readings alone, whatever it was told itself.

    Raises as :func:`recalibrated`.
    """
    return likeness(recalibrated(file, like=())[1], file_name)


def known_of(file: RacquetFile) -> Known:
    """What the person stated."""
    t = file.thickness
    return Known(
        construction=file.construction,
        face_thickness_mm=t.face_mm.value if t.face_source == "stated" else None,
        handle_thickness_mm=t.handle_mm.value if t.handle_source == "stated" else None,
        readings=tuple(file.readings),
        swing_axis_mm=file.figures.swing_weight_kgcm2.axis_mm,
        like=tuple(file.like),
    )


def traced_of(file: RacquetFile) -> tuple[Outline, Landmarks, Traced]:
    """Outline, landmarks and sds as the photo or the hand gave them, before any tape measure."""
    outline = outline_from_rings(file.outline.outer_mm, file.outline.openings_mm)
    length, width = file.outline.length_mm, file.outline.width_mm
    smooth = None if file.outline.smooth is None else smooth_of(file.outline.smooth)
    along = across = 1.0
    if file.traced_size is not None:
        length, width = file.traced_size.length_mm, file.traced_size.width_mm
        for _ in range(2):  # stretched curves are a hair off the first time, see ``rescaled``
            more = length.value / outline.length_mm, width.value / outline.width_mm
            outline, smooth = rescaled(outline, smooth, *more)
            along, across = along * more[0], across * more[1]
    marks = file.landmarks
    now = landmarks_of(file)
    throat = now.throat_top_mm
    landmarks = replace(
        now,
        handle_top_mm=now.handle_top_mm * along,
        throat_top_mm=None if throat is None else throat * along,
    )
    traced = Traced(
        length_sd_mm=length.sd,
        width_sd_mm=width.sd,
        size_correlation=file.outline.size_correlation,
        butt_sd_mm=marks.butt_sd_mm,
        axis_sd_deg=marks.axis_sd_deg,
        smooth=smooth,
    )
    return outline, landmarks, traced
