"""Where a command may write: into a folder that is there, and never over what it was given to read."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from itertools import combinations
from pathlib import Path


def racquet_name(photo: Path) -> Path:
    """The racquet file's usual place, beside its photo. Raises ModelError for a folder."""
    from model.errors import ModelError

    if photo.is_dir():
        raise ModelError(f"{photo} is a folder: give a photo in it")
    return photo.with_suffix(".racquet.json")


def check_targets(targets: Mapping[str, Path | None], inputs: Iterable[Path | None] = ()) -> None:
    """Before any work: each file to write, by its option's name, can be written, and none is another.

    None of them may be one of ``inputs`` either, see :func:`keep_inputs`; a None is a file not asked for.
    Raises ModelError.
    """
    from model.errors import ModelError

    chosen = {option: path for option, path in targets.items() if path is not None}
    for option, path in chosen.items():
        folder = path.parent
        if path.is_dir():
            why = f"it is a folder; give {option} the name of a file in it"
        elif not folder.is_dir():
            why = f"there is no folder {folder}; make it, or give another {option}"
        elif not _may_write(folder):
            why = f"the folder {folder} may not be written to; give another {option}"
        else:
            continue
        raise ModelError(f"{path} can't be written, so nothing was: {why}")
    for (one, path), (other, second) in combinations(chosen.items(), 2):
        if is_same(path, second):
            raise ModelError(f"the files of {one} and {other} have one name, {second}: give each its own")
    kept = list(inputs)
    for option, path in chosen.items():
        keep_inputs(path, kept, option)


def check_in_place(path: Path) -> None:
    """Before any work: a file can be written anew where it lies. Raises ModelError."""
    from model.errors import ModelError

    folder = path.parent
    if folder.is_dir() and not _may_write(folder):
        raise ModelError(
            f"{path} could not be saved: the folder {folder} may not be written to; copy the file and its "
            "photo to another folder, and correct that copy"
        )


def _may_write(folder: Path) -> bool:
    return os.access(folder, os.W_OK | os.X_OK)


def check_ending(target: Path, ending: str, option: str = "--out") -> None:
    """Raise ModelError for a name that says that the file is something else than what is written."""
    from model.errors import ModelError

    if target.suffix.lower() != ending:
        raise ModelError(f"{target} can't be written by {option}: end its name with {ending}")


def keep_inputs(target: Path | None, inputs: Iterable[Path | None], option: str = "--out") -> None:
    """Raise ModelError where ``target`` is one of the files read, by whatever name: it would be lost.

    A None is a file not asked for.
    """
    from model.errors import ModelError

    if target is None:
        return
    hit = next((path for path in inputs if path is not None and is_same(target, path)), None)
    if hit is not None:
        raise ModelError(f"{target} would be written over {hit}, which is read: give another {option}")


def beside(target: Path, ending: str, inputs: Iterable[Path]) -> Path:
    """A picture's place beside ``target``, named after it; other than any of ``inputs``."""
    stem = target.name.removesuffix(".json")
    taken, place = list(inputs), target.with_name(stem + ending)
    while any(is_same(place, path) for path in taken):
        stem += ".traced"
        place = target.with_name(stem + ending)
    return place


def is_same(one: Path, other: Path) -> bool:
    """Whether two paths are one file, by links and other spellings too, also where it is still to be made."""
    if one.exists() and other.exists():
        return one.samefile(other)
    return os.path.realpath(one) == os.path.realpath(other)
