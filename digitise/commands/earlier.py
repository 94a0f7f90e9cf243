"""What a racquet file that ``trace`` is to write over holds already, and whether it is kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from model.build import Known
from model.errors import ModelError, RacquetFileError
from model.racquet_file import RacquetFile
from model.reading_list import describe, same_quantity, with_new
from model.readings import Reading
from model.recalibrate import known_of
from model.storage import read_racquet


def earlier(target: Path, typed: Sequence[Reading], keep: bool, anew: bool) -> RacquetFile | None:
    """The file whose readings, pieces and likeness go on, or None where there is nothing to keep.

    Raises ModelError where something would be lost that nobody gave up: with neither ``keep`` nor ``anew``
    any of those, and with ``keep`` an outline put right by hand.
    """
    if anew or not target.exists() or target.stat().st_size == 0:
        return None
    try:
        there = read_racquet(target)
    except RacquetFileError:
        raise ModelError(
            f"{target} is there already and can't be read as a racquet file: give another --out, or --anew "
            "to write over it"
        ) from None
    lost = held(there, typed)
    if there.correction is not None:
        raise ModelError(
            f"the outline in {target} was put right by hand and a new trace would lose that: give another "
            "--out, or --anew to write over it"
        )
    if lost and not keep:
        raise ModelError(
            f"{target} is there already, with {'; '.join(lost)}: give --keep to trace anew and keep that, "
            "--anew to write over it, or another --out"
        )
    return there if keep else None


def held(there: RacquetFile, typed: Sequence[Reading]) -> list[str]:
    """In words what the file holds that a trace with the ``typed`` readings would not bring again."""
    words = [describe(one) for one in there.readings if not any(same_quantity(one, new) for new in typed)]
    words += [f"the piece {one.strip}" for one in there.placements]
    return words + [f"what {one.file_name} told of the model" for one in there.like]


def with_earlier(known: Known, there: RacquetFile) -> tuple[Known, list[str]]:
    """What is known, with what the earlier file knew where nothing was typed, and in words what came of it.

    Raises ModelError for a file of another construction.
    """
    if there.construction != known.construction:
        raise ModelError(
            f"the racquet file that is there is of a {there.construction} racquet, not a "
            f"{known.construction} one: give its --construction, or another --out"
        )
    old = known_of(there)
    readings, said = with_new(old.readings, known.readings)
    face, handle = known.face_thickness_mm, known.handle_thickness_mm
    both = replace(
        old,
        face_thickness_mm=old.face_thickness_mm if face is None else face,
        handle_thickness_mm=old.handle_thickness_mm if handle is None else handle,
        readings=tuple(readings),
        swing_axis_mm=old.swing_axis_mm if known.swing_axis_mm is None else known.swing_axis_mm,
    )
    return both, [*(f"kept from before: {words}" for words in held(there, known.readings)), *said]
