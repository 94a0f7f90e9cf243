"""How long ``digitise check`` keeps the person waiting who stands there with the racquet on the table.

usage: python -m tests.benchmarks.check_speed [PHOTO...] [--repeats N]

Without photos the three samples are taken. On each the whole command is run ``--repeats`` times as a
process of its own, from its start to its end: wall time (the least, which is that of a machine with nothing
else to do, and the median) and processor time (the least). The first run is left out, for it may have to
compile what later ones find compiled.

Bar: 1 s of wall time on a photo of 12 megapixels.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from statistics import median
from time import perf_counter

from rich.console import Console
from rich.table import Table

SAMPLES = Path(__file__).parents[2] / "sample_images"


def processor_seconds() -> float:
    """What the processes run so far have used."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def timed(photo: Path) -> tuple[float, float, str]:
    """Wall and processor seconds of one check, and the first line of its answer."""
    used, began = processor_seconds(), perf_counter()
    ended = subprocess.run(
        [sys.executable, "-m", "digitise", "check", str(photo)], capture_output=True, text=True, check=False
    )
    wall = perf_counter() - began
    return wall, processor_seconds() - used, (ended.stdout or ended.stderr).splitlines()[0]


def rows(photos: list[Path], repeats: int) -> Iterator[tuple[str, ...]]:
    """One row of the table for each photo."""
    for photo in photos:
        answer = timed(photo)[2]
        walls, processor, _ = zip(*(timed(photo) for _ in range(repeats)), strict=True)
        yield photo.stem, *(f"{s:.2f}" for s in (min(walls), median(walls), min(processor))), answer


def main() -> None:
    """Time the command and print the table."""
    parser = argparse.ArgumentParser(description="Time digitise check as a process of its own.")
    parser.add_argument("photos", nargs="*", type=Path, metavar="PHOTO")
    parser.add_argument("--repeats", type=int, default=5)
    given = parser.parse_args()
    table = Table("photo", "least s", "median s", "processor s", "answer")
    for row in rows(given.photos or sorted(SAMPLES.glob("club-*.jpg")), given.repeats):
        table.add_row(*row)
    Console().print(table)


if __name__ == "__main__":
    main()
