"""How fast and in how much memory a 12 MP photo is traced, beside its decoding and beside full-size GrabCut.

usage: python -m tests.benchmarks.trace_speed [PHOTO...] [--repeats N] [--grabcut N] [--whole] [--threads N]

Without photos three are rendered (12 megapixels; solid, perforated, strung). On each of them are timed, in
one process: decoding the JPEG alone (``cv2.imdecode``); the whole trace as ``digitise trace`` does it, from
the file to all that is written, smooth curves too; and on the first ``--grabcut`` photos what one would
write with the library alone, ``cv2.grabCut`` on the full picture, five iterations from a rectangle round the
racquet, or with ``--whole`` from one round all of the picture but its margin (minutes each). Times are of
the processor, the median of ``--repeats`` (GrabCut runs once), with as many OpenCV threads as ``--threads``
says. A shared machine is now twice as fast and now not: so each trace is divided by the mean of the decodes
just before and after it, and the median of these ratios is told. Peak memory is that of a process of its own
which does nothing else.

Bars: trace at most 15 times the decode, at least 50 times faster than GrabCut, at most 600 MB.
"""

from __future__ import annotations

import argparse
import resource
import sys
import tempfile
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from time import process_time
from typing import TYPE_CHECKING, TypeVar

import numpy as np
from rich.console import Console
from rich.progress import Progress

if TYPE_CHECKING:
    from digitise.trace import Traced
    from model.build import Known

Result = TypeVar("Result")
SEEDS = {"solid": 9000, "perforated": 9001, "strung": 9002}
ITERATIONS, ROOM_PX = 5, 40
"""GrabCut's, and by how much its rectangle is wider than the racquet, or narrower than the picture."""


@dataclass(frozen=True)
class Timed:
    """Processor seconds of one photo; None where GrabCut was left out."""

    name: str
    megapixels: float
    decode: float
    trace: float
    ratio: float
    grabcut: float | None
    peak_mb: float


def trace(path: Path, known: Known | None = None) -> Traced:
    """What ``digitise trace`` does with a photo, up to writing its file. What is ``known`` of the racquet is
    looked up beside the photo if it is left out."""
    from digitise.photo import read_photo
    from digitise.record import racquet_of
    from digitise.trace import Thickness, trace_photo
    from model.build import thicknesses
    from tests.gallery import known_of

    known = known or known_of(path, "solid")
    face, handle = thicknesses(known)
    thickness = Thickness(face.value, face.sd, handle.value, handle.sd)
    photo = read_photo(path)
    traced = trace_photo(photo, known.construction, thickness)
    racquet_of(photo, traced, known, card_on_face=False)
    return traced


def peak_mb(path: Path, threads: int) -> float:
    """Largest resident memory, in MB, of this process once it has traced ``path``."""
    import cv2

    cv2.setNumThreads(threads)
    trace(path)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (1e6 if sys.platform == "darwin" else 1e3)  # bytes there, kilobytes elsewhere


def in_own_process(work: Callable[..., Result], *given: object) -> Result:
    """What ``work`` gives in a fresh process, which takes the memory it needed with it when it ends."""
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        return pool.submit(work, *given).result()


def seconds(work: Callable[[], object]) -> float:
    """Processor time of a run."""
    start = process_time()
    work()
    return process_time() - start


def grabcut_seconds(path: Path, whole: bool) -> float:
    """Processor time of GrabCut on the full picture, from a rectangle round the racquet or the ``whole``."""
    import cv2

    from digitise.recast import seen_px

    picture = cv2.imread(str(path))
    if picture is None:
        raise SystemExit(f"{path} cannot be read; give a JPEG photo")
    low, high = np.full(2, ROOM_PX), np.array(picture.shape[1::-1]) - ROOM_PX
    if not whole:
        found = trace(path)
        ring = seen_px(found.estimate.camera, found.contour, found.body)
        low, high = ring.min(axis=0) - ROOM_PX, ring.max(axis=0) + ROOM_PX
    left, top = (int(max(0, edge)) for edge in low)
    right, bottom = (int(min(edge, size)) for edge, size in zip(high, picture.shape[1::-1], strict=True))
    rectangle = (left, top, right - left, bottom - top)
    state = np.zeros(picture.shape[:2], np.uint8)
    models = np.zeros((1, 65)), np.zeros((1, 65))
    return seconds(lambda: cv2.grabCut(picture, state, rectangle, *models, ITERATIONS, cv2.GC_INIT_WITH_RECT))


def timed(path: Path, repeats: int, grabcut: bool, whole: bool, peak: float) -> Timed:
    """All times of one photo."""
    import cv2

    from tests.gallery import known_of

    data = np.fromfile(path, np.uint8)
    picture = cv2.imdecode(data, cv2.IMREAD_COLOR)
    if picture is None:
        raise SystemExit(f"{path} cannot be read; give a JPEG photo")
    known = known_of(path, "solid")
    trace(path, known)  # what is loaded on first use is not timed

    def decode() -> float:
        return seconds(lambda: cv2.imdecode(data, cv2.IMREAD_COLOR))

    times = np.array([(decode(), seconds(lambda: trace(path, known)), decode()) for _ in range(repeats)])
    decodes = (times[:, 0] + times[:, 2]) / 2
    return Timed(
        name=path.stem,
        megapixels=picture.shape[0] * picture.shape[1] / 1e6,
        decode=float(np.median(decodes)),
        trace=float(np.median(times[:, 1])),
        ratio=float(np.median(times[:, 1] / decodes)),
        grabcut=grabcut_seconds(path, whole) if grabcut else None,
        peak_mb=peak,
    )


def render_photo(folder: Path, construction: str) -> Path:
    """A photo of a racquet of this construction, with its truth."""
    from tests.render.compose import render, write
    from tests.render.invent import random_scene

    write(render(random_scene(SEEDS[construction], construction)), folder, construction)  # type: ignore[arg-type]
    return folder / f"{construction}.jpg"


def rendered(folder: Path, progress: Progress) -> list[Path]:
    """A photo of each construction, with its truth."""
    return [
        in_own_process(render_photo, folder, construction)
        for construction in progress.track(SEEDS, description="rendering")
    ]


def report(rows: list[Timed]) -> None:
    """Print each photo's times and ratios, then the medians."""
    print(f"{'photo':<34}{'MP':>6}{'decode s':>10}{'trace s':>9}{'x decode':>10}", end="")
    print(f"{'GrabCut s':>11}{'x trace':>9}{'peak MB':>9}")
    for row in rows:
        slow = f"{row.grabcut:>11.1f}{row.grabcut / row.trace:>9.0f}" if row.grabcut else f"{'-':>11}{'-':>9}"
        print(
            f"{row.name:<34}{row.megapixels:>6.1f}{row.decode:>10.3f}{row.trace:>9.2f}"
            f"{row.ratio:>10.1f}{slow}{row.peak_mb:>9.0f}"
        )
    ratios = [row.ratio for row in rows]
    print(f"trace over decode: median {np.median(ratios):.1f}, most {max(ratios):.1f} (bar 15, goal 8)")
    print(f"peak memory: most {max(row.peak_mb for row in rows):.0f} MB (bar 600)")
    faster = [row.grabcut / row.trace for row in rows if row.grabcut]
    if faster:
        print(f"GrabCut over trace: least {min(faster):.0f} (bar 50)")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("photos", type=Path, nargs="*")
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--grabcut", type=int, default=1, help="how many photos to run full-size GrabCut on")
    parser.add_argument("--whole", action="store_true", help="GrabCut from all of the picture but its margin")
    parser.add_argument("--threads", type=int, default=1, help="OpenCV threads")
    chosen = parser.parse_args()
    rows = []
    with tempfile.TemporaryDirectory() as folder, Progress(console=Console(stderr=True)) as progress:
        photos = chosen.photos or rendered(Path(folder), progress)
        # Memory first, and rendering elsewhere: a new process counts the most that the one which started it
        # ever held.
        peaks = [
            in_own_process(peak_mb, path, chosen.threads)
            for path in progress.track(photos, description="memory")
        ]
        import cv2

        cv2.setNumThreads(chosen.threads)
        for k, path in enumerate(progress.track(photos, description="timing")):
            rows.append(timed(path, chosen.repeats, k < chosen.grabcut, chosen.whole, peaks[k]))
    print(f"OpenCV {cv2.__version__}, {chosen.threads} OpenCV thread(s), median of {chosen.repeats}")
    report(rows)


if __name__ == "__main__":
    main()
