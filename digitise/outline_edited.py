"""A racquet file with an outline that was edited in another program."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import LinearRing

from digitise.page.opened import open_file
from digitise.page.outcome import automatic_of, hand_sd_mm
from digitise.page.rim import rim_of
from digitise.page.sheet import sheet_of
from digitise.page.stretches import STEP_MM, Touched, even
from digitise.tone import FloatArray
from model.build import Traced, build_racquet
from model.outline import outline_from_rings
from model.racquet_file import CorrectionRecord, RacquetFile
from model.recalibrate import known_of, traced_of
from model.sight_record import StretchRecord
from model.smooth import curve_record
from model.spline_fit import fit_curve

TOUCHED_MM = 0.02
SEEN_FIT_SD_MM = 0.05


def with_outline(file: RacquetFile, outer_mm: FloatArray, openings_mm: list[FloatArray]) -> RacquetFile:
    """The file with other rings, calibrated anew; the automatic outline is kept beside them.

    Raises OutlineError where the rings are no outline. A file that knows how its photo was seen can be
    corrected on the page as before.
    """
    before, landmarks, size = traced_of(file)
    outline = outline_from_rings(outer_mm, openings_mm)
    done = _touched(outline.outer_mm, before.outer_mm)
    sd = hand_sd_mm(file, redrawn=False)
    ends = [_ends_touched(done, along) for along in (1, 0)]
    measured = Traced(
        length_sd_mm=float(np.hypot(size.length_sd_mm, ends[0] * sd)),
        width_sd_mm=float(np.hypot(size.width_sd_mm, ends[1] * sd)),
        size_correlation=size.size_correlation,
        photo=file.photo,
        scale=file.scale,
        notes=tuple(_own_notes(file)),
        flags=tuple(file.flags),
    )
    built = build_racquet(outline, landmarks, known_of(file), measured)
    kept = {"placements": file.placements, "pose": file.pose, "doubts": file.doubts}
    return built.model_copy(
        update={**kept, "correction": _correction(file, outline.outer_mm, outline.openings_mm, done)}
    )


def _touched(ring_mm: FloatArray, before_mm: FloatArray) -> Touched:
    ring = even(ring_mm)
    moved = np.asarray(shapely.distance(LinearRing(before_mm), shapely.points(ring)) > TOUCHED_MM)
    nothing = np.zeros(len(ring), bool)
    return Touched(ring, moved, nothing, nothing)


def _ends_touched(done: Touched, along: int) -> float:
    """How many of the two ends of the outline lie on a touched stretch, as a factor for their sd."""
    values = done.ring_mm[:, along]
    return float(np.sqrt(done.moved[[int(values.argmin()), int(values.argmax())]].sum()))


def _own_notes(file: RacquetFile) -> list[str]:
    outline, landmarks, size = traced_of(file)
    made_anew = build_racquet(outline, landmarks, known_of(file), size).notes
    return [note for note in file.notes if note not in made_anew]


def _correction(
    file: RacquetFile, outer_mm: FloatArray, openings_mm: tuple[FloatArray, ...], done: Touched
) -> CorrectionRecord | None:
    """The curves as the page draws them. None for a file whose photo nobody can find again."""
    if file.pose is None or file.photo is None or file.scale is None:
        return None
    sheet = sheet_of(file.pose)
    old = open_file(file)
    seen = (
        rim_of(sheet, outer_mm).seen_mm
        if old.automatic_px is None
        else outer_mm + old.rim.shift_of_outline(outer_mm)
    )
    touched = [
        StretchRecord(
            start_mm=stretch.start_mm.tolist(),
            end_mm=stretch.end_mm.tolist(),
            length_mm=max(stretch.length_mm, STEP_MM),
            sd_mm=hand_sd_mm(file, redrawn=False),
        )
        for stretch in done.stretches()
    ]
    earlier = [] if file.correction is None else file.correction.touched
    return CorrectionRecord(
        outer=curve_record(fit_curve(seen, SEEN_FIT_SD_MM)),
        openings=[curve_record(fit_curve(ring, SEEN_FIT_SD_MM)) for ring in sheet.opening_seen(openings_mm)],
        touched=[*earlier, *touched],
        butt_by_hand=True,  # the butt line stays where the drawing has it
        automatic=automatic_of(file),
    )
