"""What other commands have written into the racquet file while its outline is being corrected."""

from __future__ import annotations

from model.errors import ModelError
from model.racquet_file import RacquetFile
from model.recalibrate import CALIBRATED, recalibrated, traced_of
from model.same_racquet import ROUNDING_MM, same_rings

BESIDE_THE_DRAWING = {*CALIBRATED, "notes", "placements"}
"""What readings and pieces decide in the file; outline and landmarks only by a tape measure's stretch."""
MASSES = ("figures", "figures_covariance", "parts")


def is_same_drawing(one: RacquetFile, other: RacquetFile) -> bool:
    """Whether two states of a file differ in readings, pieces and what follows from them at most."""
    drawn = RacquetFile.model_fields.keys() - BESIDE_THE_DRAWING
    if any(getattr(one, key) != getattr(other, key) for key in drawn):
        return False
    return same_rings(one, other) and _same_marks(one, other)


def with_readings_of(file: RacquetFile, now: RacquetFile) -> RacquetFile:
    """The file with the readings, swing axis, racquets of the model and pieces that ``now`` has."""
    axis_mm = now.figures.swing_weight_kgcm2.axis_mm
    found = file
    same_axis = axis_mm == file.figures.swing_weight_kgcm2.axis_mm
    if not (same_axis and now.readings == file.readings and now.like == file.like):
        try:
            found = recalibrated(file, now.readings, axis_mm, now.like)[0]
        except ModelError:  # readings that suit the outline of now may be impossible for this one
            masses = {key: getattr(now, key) for key in MASSES}
            found = file.model_copy(update={**masses, "readings": now.readings, "like": now.like})
    return found.model_copy(update={"placements": now.placements})


def _same_marks(one: RacquetFile, other: RacquetFile) -> bool:
    """Whether the handle top and throat top, before any tape measure, differ by no more than rounding."""
    first, second = traced_of(one)[1], traced_of(other)[1]
    if (first.throat_top_mm is None) != (second.throat_top_mm is None):
        return False
    throat_mm = (first.throat_top_mm or 0.0) - (second.throat_top_mm or 0.0)
    return max(abs(first.handle_top_mm - second.handle_top_mm), abs(throat_mm)) < ROUNDING_MM
