"""What a racquet file that ``trace`` is to write over holds already, and whether it is kept."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from model.build import Known
from model.errors import ModelError, RacquetFileError
from model.priors import prior_for
from model.racquet_file import RacquetFile
from model.reading_list import describe, same_quantity, with_new
from model.readings import Reading
from model.recalibrate import known_of
from model.storage import read_racquet


def earlier(target: Path, known: Known, keep: bool, anew: bool) -> RacquetFile | None:
    """The file that goes on in what :func:`held` names, or None where there is nothing to keep.

    ``known`` is what was typed. Raises ModelError where something would be lost that nobody gave up: with
    neither ``keep`` nor ``anew`` any of that, and with ``keep`` an outline put right by hand.
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
    lost = held(there, known)
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


def held(there: RacquetFile, known: Known) -> list[str]:
    """In words what the file holds that a trace by what is typed, ``known``, would not bring again.

    That is each reading that counts, if it is not typed alike; one that is set aside, if none that took its
    place is typed; stated thicknesses and an axis of one's own, if none is typed; pieces and likenesses.
    """
    words = [_told(one, known) for one in there.readings if not _brought(one, there, known)]
    old = known_of(there)
    for what, was, typed in (
        ("face", old.face_thickness_mm, known.face_thickness_mm),
        ("handle", old.handle_thickness_mm, known.handle_thickness_mm),
    ):
        words += [f"{what} thickness {was:g} mm"] if was is not None and typed is None else []
    axis = old.swing_axis_mm
    if known.swing_axis_mm is None and axis != prior_for(there.construction).swing_axis_mm:
        words.append(f"the swing axis {axis:g} mm")
    words += [f"the piece {one.strip}" for one in there.placements]
    return words + [f"what {one.file_name} told of the model" for one in there.like]


def _brought(reading: Reading, there: RacquetFile, known: Known) -> bool:
    """Whether a reading of the file is typed again, or took second place to one that is."""
    again = [one for one in there.readings if one.used and one in known.readings]
    return any(one == reading or (not reading.used and same_quantity(one, reading)) for one in again)


def _told(reading: Reading, known: Known) -> str:
    """A reading in words, with its sd where the same value is typed with another one."""
    words = describe(reading)
    if not reading.used:
        return f"{words}, which is set aside"
    alike = any(describe(one) == words for one in known.readings)
    return f"{words} ± {getattr(reading, 'sd', 0.0):.2g}" if alike else words


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
    kept = _without_retyped(there, known)
    return both, [*(f"kept from before: {words}" for words in held(kept, known)), *said]


def _without_retyped(there: RacquetFile, known: Known) -> RacquetFile:
    """The file without the readings of what is typed again, which are set aside and told as that."""
    others = [one for one in there.readings if not any(same_quantity(one, new) for new in known.readings)]
    return there.model_copy(update={"readings": others})
