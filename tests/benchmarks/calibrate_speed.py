"""How long a calibration takes, in milliseconds of the processor's time.

usage: python -m tests.benchmarks.calibrate_speed [FILE...]

FILEs are racquet files as trace writes them; without any, one invented racquet of each construction. For each
is printed the time for laying the parts into the outline, for the estimate with weight, balance, a pendulum
and two threads, and for the whole way from one racquet file to the next (which lays and estimates twice).
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np

from model.build import Known, build_racquet, thicknesses
from model.calibrate import calibrate
from model.face import Landmarks
from model.outline import Outline, outline_from_rings
from model.parts import Parts, Size, parts_of
from model.priors import Prior, prior_for
from model.racquet_file import RacquetFile
from model.recalibrate import known_of, recalibrated, traced_of
from model.storage import read_racquet
from tests.benchmarks.invented import invent
from tests.benchmarks.population import Noise, read

REPEATS = 20


def milliseconds(work: Callable[[], object]) -> float:
    """Median of several runs, after one that warms up."""
    work()
    spent = []
    for _ in range(REPEATS):
        started = time.process_time()
        work()
        spent.append(time.process_time() - started)
    return 1e3 * float(np.median(spent))


def invented() -> dict[str, RacquetFile]:
    """One racquet file of each construction with four readings."""
    rng = np.random.default_rng(5)
    found = {}
    for name in ("solid", "perforated", "strung"):
        racquet = invent(name, rng)
        readings = read(racquet, Noise(True), rng)
        del readings["pendulum at 30 mm"]
        known = Known(name, racquet.face_mm, racquet.handle_mm, tuple(readings.values()), racquet.axis_mm)
        found[name] = build_racquet(racquet.outline, racquet.landmarks, known)
    return found


def laid(outline: Outline, landmarks: Landmarks, prior: Prior, size: Size) -> Parts:
    """The parts in a fresh outline: one that was used keeps what was worked out on it."""
    return parts_of(outline_from_rings(outline.outer_mm, outline.openings_mm), landmarks, prior, size)


def main(paths: list[Path]) -> None:
    """Time each file."""
    files = {path.name: read_racquet(path) for path in paths} or invented()
    print(f"{'racquet':<28}{'points':>8}{'lay ms':>9}{'estimate ms':>13}{'file to file ms':>17}")
    for name, file in files.items():
        outline, landmarks, _ = traced_of(file)
        known = known_of(file)
        _, found = recalibrated(file)
        prior = prior_for(file.construction)
        size = Size(*thicknesses(known))
        cells = (
            milliseconds(partial(laid, outline, landmarks, prior, size)),
            milliseconds(partial(calibrate, found.parts, known.readings)),
            milliseconds(partial(recalibrated, file)),
        )
        print(f"{name:<28}{len(outline.outer_mm):>8}{cells[0]:>9.1f}{cells[1]:>13.1f}{cells[2]:>17.1f}")


if __name__ == "__main__":
    main([Path(word) for word in sys.argv[1:]])
