"""Tables of results as CSV files, whole or not at all."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path

from model.errors import PictureError


def csv_text(heads: Sequence[str], rows: Sequence[Sequence[object]]) -> str:
    """A table as CSV (RFC 4180), numbers to seven digits."""
    stream = io.StringIO()
    writer = csv.writer(stream)
    writer.writerow(heads)
    writer.writerows([[f"{v:.7g}" if isinstance(v, float) else v for v in row] for row in rows])
    return stream.getvalue()


def write_csv(path: Path, heads: Sequence[str], rows: Sequence[Sequence[object]]) -> None:
    """Write a table. Raises PictureError when the file can't be written."""
    from model.storage import write_text

    try:
        write_text(path, csv_text(heads, rows))
    except OSError as error:
        raise PictureError(f"{path} can't be written: {error.strerror or error}") from None
