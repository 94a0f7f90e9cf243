"""Reading and writing racquet files: whole or not at all, and problems said in one sentence."""

from __future__ import annotations

import contextlib
import json
import os
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from model.errors import OutlineError, RacquetFileError
from model.outline import outline_from_rings
from model.racquet_file import FORMAT, VERSION, RacquetFile
from model.smooth import check_smooth

OLDER_VERSIONS = (1,)
LARGEST_FILE_BYTES = 64 * 2**20  # a traced outline is under 1 MB; more is not a racquet file


def read_racquet(path: Path | str) -> RacquetFile:
    """Read and check a racquet file. Raises RacquetFileError with one sentence."""
    path = Path(path)
    try:
        if path.stat().st_size > LARGEST_FILE_BYTES:
            raise RacquetFileError(
                f"{path} is too large to be a racquet file: give the file that trace wrote"
            )
        text = path.read_text("utf-8")
    except FileNotFoundError:
        raise RacquetFileError(f"there is no file {path}: give the file that trace wrote") from None
    except OSError as error:
        raise RacquetFileError(f"{path} can't be read: {error.strerror or error}") from None
    except UnicodeDecodeError:
        raise RacquetFileError(
            f"{path} is not a text file: give the .racquet.json that trace wrote"
        ) from None
    return parse_racquet(text, str(path))


def read_racquets(paths: Sequence[Path]) -> dict[str, RacquetFile]:
    """Several files, each by its name, with its folder's where two are alike. Raises RacquetFileError."""
    found: dict[str, RacquetFile] = {}
    names = [path.name.removesuffix(".racquet.json") for path in paths]
    for path, name in zip(paths, names, strict=True):
        full = path.resolve()
        unlike = name if names.count(name) == 1 else f"{full.parent.name}/{name}"
        if unlike in found:
            raise RacquetFileError(f"{unlike} is given twice: give each racquet once, by names that differ")
        found[unlike] = read_racquet(path)
    return found


def parse_racquet(text: str, name: str) -> RacquetFile:
    """Check a racquet file's text; ``name`` is used in messages. Raises RacquetFileError."""
    try:
        raw: Any = json.loads(text, parse_constant=_refuse_constant)
    except (ValueError, RecursionError) as error:
        where = f" at line {error.lineno}" if isinstance(error, json.JSONDecodeError) else ""
        raise RacquetFileError(f"{name} is damaged{where}: restore it or trace the photo again") from None
    if not isinstance(raw, dict) or raw.get("format") != FORMAT:
        raise RacquetFileError(f"{name} is not a racquet file: give the .racquet.json that trace wrote")
    version = raw.get("version")
    if isinstance(version, bool) or version not in (*OLDER_VERSIONS, VERSION):
        raise RacquetFileError(
            f"{name} has version {version!r}, and this program reads versions 1 to {VERSION}: "
            "use a matching program or trace the photo again"
        )
    try:
        file = RacquetFile.model_validate_json(text if version == VERSION else json.dumps(migrated(raw)))
        outline = outline_from_rings(file.outline.outer_mm, file.outline.openings_mm)
        if file.outline.smooth is not None:
            check_smooth(file.outline.smooth, outline)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(step) for step in first["loc"]) or "the file"
        more = f" (and {error.error_count() - 1} more)" if error.error_count() > 1 else ""
        said = first["msg"].removeprefix("Value error, ")
        raise RacquetFileError(f"{name} has a wrong entry at {where}: {said}{more}") from None
    except OutlineError as error:
        raise RacquetFileError(f"{name} has an unusable outline: {error}") from None
    return file


def migrated(raw: dict[str, Any]) -> dict[str, Any]:
    """A file of an older version as this version writes it.

    1 → 2: readings became of many kinds; those of version 1 are weight and balance, written alike.
    """
    return {**raw, "version": VERSION}


def write_racquet(path: Path | str, file: RacquetFile) -> None:
    """Write a racquet file in one step: the old file stays until the new one is safely on the disk.

    Raises RacquetFileError when the folder or disk does not allow it; nothing is left behind then.
    """
    path = Path(path)
    try:
        write_text(path, file.model_dump_json(indent=1) + "\n")
    except OSError as error:
        raise RacquetFileError(f"{path} can't be written: {error.strerror or error}") from None


def write_text(path: Path, text: str) -> None:
    """Write a text file whole or not at all. Raises OSError of ``path``; nothing is left behind then."""
    write_bytes(path, text.encode("utf-8"))


def write_bytes(path: Path, content: bytes) -> None:
    """Write a file whole or not at all. Raises OSError of ``path``; nothing is left behind then."""
    temporary: Path | None = None
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
        temporary = Path(name)
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        temporary.chmod(_usual_mode(path))
        os.replace(temporary, path)
    except OSError as error:  # it is about the temporary file, of which nobody knows
        raise OSError(error.errno, error.strerror, str(path)) from None
    finally:
        if temporary is not None:
            with contextlib.suppress(OSError):
                temporary.unlink(missing_ok=True)
    _sync_folder(path.parent)


def _usual_mode(path: Path) -> int:
    """The old file's mode, or what a plain open() would give: temporary files start private."""
    try:
        return path.stat().st_mode & 0o777
    except OSError:
        mask = os.umask(0)
        os.umask(mask)
        return 0o666 & ~mask


def _sync_folder(folder: Path) -> None:
    """Put the rename itself on the disk, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _refuse_constant(word: str) -> None:
    raise ValueError(f"{word} is not a number a racquet file may hold")
