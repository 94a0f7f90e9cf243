"""Readings from a file, TOML or CSV, each written as on the command line.

TOML: one key for each kind, a text or a list of texts (``pendulum = "pivot 30mm, 20 swings,
21.86s"``). CSV: a head ``kind,reading`` and a row for each; a third column ``used`` may say no.
"""

from __future__ import annotations

import csv
import io
import tomllib
from pathlib import Path

from model.errors import ModelError, ReadingError
from model.reading_text import parse_reading
from model.readings import Reading

LARGEST_FILE_BYTES = 2**20  # hundreds of readings are a few tens of kB
NO = ("no", "false", "0", "n")


def read_readings(path: Path) -> list[Reading]:
    """All readings in a file, in its order. Raises ReadingError in one sentence, with the place."""
    try:
        if path.stat().st_size > LARGEST_FILE_BYTES:
            raise ReadingError(f"{path} is too large to be a list of readings")
        text = path.read_text("utf-8-sig")
    except OSError as error:
        raise ReadingError(f"{path} can't be read: {error.strerror or error}") from None
    except UnicodeDecodeError:
        raise ReadingError(f"{path} is not a text file: give a .toml or .csv file of readings") from None
    parse = {".toml": _from_toml, ".csv": _from_csv}.get(path.suffix.lower())
    if parse is None:
        raise ReadingError(f"{path} must be a .toml or a .csv file of readings")
    found = parse(text, str(path))
    if not found:
        raise ReadingError(f"{path} holds no readings")
    return found


def _from_toml(text: str, name: str) -> list[Reading]:
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ReadingError(f"{name} is not TOML: {error}") from None
    rows = []
    for kind, value in raw.items():
        for one in value if isinstance(value, list) else [value]:
            if isinstance(one, bool) or not isinstance(one, str | int | float):
                raise ReadingError(f"in {name}, {kind} must be a text or a list of texts")
            rows.append((kind, kind, str(one)))
    return _parsed(rows, name)


def _from_csv(text: str, name: str) -> list[Reading]:
    lines = csv.DictReader(io.StringIO(text), skipinitialspace=True)
    heads = [head.strip().lower() for head in lines.fieldnames or []]
    if not {"kind", "reading"} <= set(heads):
        raise ReadingError(f"{name} must begin with the line kind,reading")
    lines.fieldnames = heads
    rows = []
    for line in lines:
        kind, reading = (line.get("kind") or "").strip(), (line.get("reading") or "").strip()
        unused = (line.get("used") or "").strip().lower() in NO
        if kind or reading:
            rows.append((f"line {lines.line_num}", kind, f"{reading}, not used" if unused else reading))
        if line.get(None):
            raise ReadingError(f"in {name}, line {lines.line_num}: put a reading with commas in quotes")
    return _parsed(rows, name)


def _parsed(rows: list[tuple[str, str, str]], name: str) -> list[Reading]:
    found = []
    for where, kind, text in rows:
        try:
            found.append(parse_reading(kind, text))
        except ModelError as error:
            raise ReadingError(f"in {name}, {where}: {error}") from None
    return found
