"""The draft beside a racquet file: every step drawn, and what they were drawn on.

Steps belong to an outline as a photo and hands gave it, not to readings or pieces: where only these have been
written into the file since, the draft goes on. Where the file has another outline, its draft is put aside.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import tempfile
from itertools import count
from pathlib import Path

from pydantic import BaseModel, ConfigDict, ValidationError

from digitise.page.edit import Edit
from digitise.page.elsewhere import is_same_drawing
from model.errors import RacquetFileError
from model.racquet_file import RacquetFile
from model.storage import read_racquet


class Draft(BaseModel):
    """What lies beside the racquet file while it is being corrected.

    ``base`` is what the steps started from, ``file`` what the racquet file held when the page last read or
    wrote it, None where it was never written, and ``file_hash`` what it is known by.
    """

    model_config = ConfigDict(extra="forbid")

    format: str = "racquet-draft"
    file_hash: str
    file: RacquetFile | None = None
    base: RacquetFile
    steps: list[Edit]
    at: int
    saved: int


def draft_path(path: Path) -> Path:
    """Where the draft of a racquet file lies, hidden beside it, whether or not there is one yet."""
    return path.with_name(f".{path.name}.draft")


def draft_of(path: Path) -> Draft | None:
    """The draft of a racquet file, if it was drawn on the outline that the file has, or there is no file yet.

    Its ``file`` is then the file as it is now.
    """
    draft = _read(path)
    if draft is None:
        return None
    known_by, now = hash_of(path), file_at(path)
    if not _belongs_to(draft, known_by, now):
        return None
    return draft.model_copy(update={"file": now, "file_hash": known_by})


def write_draft(path: Path, draft: Draft) -> None:
    """Put the draft beside the racquet file ``path``, whole or not at all. Raises RacquetFileError."""
    part: Path | None = None
    try:
        handle, name = tempfile.mkstemp(prefix=".draft", suffix=".part", dir=path.parent)
        part = Path(name)
        with os.fdopen(handle, "w", encoding="utf-8") as stream:
            stream.write(draft.model_dump_json())
        os.replace(part, draft_path(path))
    except OSError as error:
        raise RacquetFileError(
            f"the draft can't be written beside {path.name}: {error.strerror or error}"
        ) from None
    finally:
        if part is not None:
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)


def put_aside(path: Path) -> Path | None:
    """Give the draft of a racquet file another name, so that it is not written over; the name.

    None where there is no draft, nothing was drawn in it, or the file still holds what was drawn. What was
    saved and then written over is nowhere but in the draft. Raises RacquetFileError.
    """
    here, draft = draft_path(path), _read(path)
    if not here.exists():
        return None
    if draft is not None and (_is_untouched(draft) or _is_held(draft, path)):
        return None
    aside = next(place for n in count(1) if not (place := here.with_name(f"{here.name}.{n}")).exists())
    try:
        here.rename(aside)
    except OSError as error:
        raise RacquetFileError(f"{here} can't be put aside: {error.strerror or error}") from None
    return aside


def hash_of(path: Path) -> str:
    """What a racquet file is known by; of one that is not there, nothing."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return ""


def file_at(path: Path) -> RacquetFile | None:
    """The racquet file as it is now; None where none can be read."""
    try:
        return read_racquet(path)
    except RacquetFileError:
        return None


def _belongs_to(draft: Draft, known_by: str, now: RacquetFile | None) -> bool:
    """Whether the file has the outline that it had when the page last read or wrote it."""
    if draft.file_hash == known_by:
        return True
    return draft.file is not None and now is not None and is_same_drawing(draft.file, now)


def _is_untouched(draft: Draft) -> bool:
    """Whether nothing was drawn, nor the file written by the page, as that of a racquet marked by hand is."""
    return len(draft.steps) == 1 and draft.file is not None and is_same_drawing(draft.base, draft.file)


def _is_held(draft: Draft, path: Path) -> bool:
    return draft.saved == draft.at and _belongs_to(draft, hash_of(path), file_at(path))


def _read(path: Path) -> Draft | None:
    try:
        draft = Draft.model_validate_json(draft_path(path).read_text("utf-8"))
    except (OSError, UnicodeDecodeError, ValidationError):
        return None
    length = len(draft.steps)
    return draft if 0 <= draft.at < length and -1 <= draft.saved < length else None
