"""Whether a photo can be measured from, in words; without typer, which takes long to load."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from digitise.reference import Asked


def verdict_on(path: Path, asked: Asked | None = None) -> str:
    """What there is to say of the photo at ``path``, in lines. Raises Refused where it cannot be used."""
    # matrices are small here: threads would only wait for each other
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from digitise.photo import read_photo

    with ThreadPoolExecutor(1) as pool:
        reading = pool.submit(read_photo, path)
        # what follows takes as long to load as the picture to decode
        from digitise.check import check_photo

        photo = reading.result()
    verdict = check_photo(photo, asked)
    found = verdict.reference
    x, y = found.outlines_px[0].mean(axis=0)
    return "\n".join(
        [
            "Good." if verdict.good else "Usable, but it can be better.",
            f"{found.what}: found at {x:.0f},{y:.0f} (confidence {found.confidence:.2f} of 1)",
            *(mark.words() for mark in verdict.marks),
            *(f"Note: {note}." for note in (*photo.notes, *found.notes)),
            f"Only the {found.what}, the lens and the sharpness were looked at: whether one whole racquet "
            "is in the picture, trace tells.",
        ]
    )
