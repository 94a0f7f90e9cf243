"""Where a command may write: into a folder that is there, and never over what it was given to read."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path


def racquet_name(photo: Path) -> Path:
    """The racquet file's usual place, beside its photo. Raises ModelError for a folder."""
    from model.errors import ModelError

    if photo.is_dir():
        raise ModelError(f"{photo} is a folder: give a photo in it")
    return photo.with_suffix(".racquet.json")


def check_folder(target: Path) -> None:
    """Before any work: the folder to write to must exist."""
    from model.errors import ModelError

    if not target.absolute().parent.is_dir():
        raise ModelError(f"there is no folder {target.parent}: make it, or give another --out")
    if target.is_dir():
        raise ModelError(f"{target} is a folder: give --out the name of a file in it")


def check_ending(target: Path, ending: str, option: str = "--out") -> None:
    """Raise ModelError for a name that says that the file is something else than what is written."""
    from model.errors import ModelError

    if target.suffix.lower() != ending:
        raise ModelError(f"{target} can't be written by {option}: end its name with {ending}")


def keep_inputs(target: Path, inputs: Iterable[Path | None], option: str = "--out") -> None:
    """Raise ModelError where ``target`` is one of the files read, by whatever name: it would be lost."""
    from model.errors import ModelError

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
    """Whether two paths are one file, by links and other spellings too."""
    if one.exists() and other.exists():
        return one.samefile(other)
    return one.absolute() == other.absolute()
