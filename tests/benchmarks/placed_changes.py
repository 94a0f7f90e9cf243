"""How far the predicted change in swing and twist weight is off when the outline comes from a photo.

usage: python -m tests.benchmarks.placed_changes TRACED TRUTHS

TRACED holds NAME.racquet.json files that ``digitise trace`` wrote, TRUTHS the NAME.truth.json of their
photos. On each racquet the same 50 random set-ups, as a person writes them (1 to 3 strips of 1 to 5 g and 30
to 120 mm, half of them mirrored, at clock positions and at distances along the edge from the tip and from the
handle top), are laid on the traced and on the true outline. Errors are in per cent of the true change in
swing weight and in twist weight. Printed for each racquet: median and 95th percentile from the photo alone;
the same once length and width have been tape-measured, to the mm; and how far the handle top is off. Then,
over all racquets, both for each way of writing and for single pieces of each other kind.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from model.build import site_in
from model.errors import ModelError
from model.face import Landmarks, with_hoop
from model.outline import outline_from_rings
from model.placement import added, lay_all
from model.racquet_file import RacquetFile
from model.reading_text import parse_reading
from model.recalibrate import recalibrated
from model.site import Site, site_of
from model.spelling import parse_piece
from model.storage import read_racquet

Array = NDArray[np.float64]
Setup = Callable[[np.random.Generator, Site], list[str]]

SETUPS, TRIES = 50, 500
SEED = 7
SWING_AXIS_MM = {"paddle": 50.0, "perforated": 50.0, "strung": 100.0}


def true_site(racquet: dict[str, Any]) -> Site:
    """Where tape lies on the true outline."""
    openings = [opening["ring"] for opening in racquet["open_rings_mm"]]
    outline = outline_from_rings(racquet["outline_mm"], openings)
    marks = Landmarks(racquet["handle_top_y_mm"])
    if racquet["family"] == "strung":
        marks = with_hoop(outline, marks)
    return site_of(outline, marks, racquet["face_thickness_mm"], racquet["handle_thickness_mm"])


def tape_measured(file: RacquetFile, racquet: dict[str, Any]) -> RacquetFile:
    """The file once length and width have been read off a tape measure, to the mm."""
    sizes = {"length": racquet["overall_length_mm"], "width": racquet["max_width_mm"]}
    more = [parse_reading(kind, f"{mm:.0f}mm, within 0.5mm") for kind, mm in sizes.items()]
    return recalibrated(file, [*file.readings, *more])[0]


def clock(rng: np.random.Generator, _: float) -> str:
    minutes = int(rng.integers(0, 5 * 60)) * (1 if rng.random() < 0.5 else -1) % 720
    return f"{minutes // 60 or 12}:{minutes % 60:02d}"


def from_tip(rng: np.random.Generator, reach_mm: float) -> str:
    return f"{rng.uniform(-0.8, 0.8) * reach_mm:.0f}mm"


def from_handle_top(rng: np.random.Generator, reach_mm: float) -> str:
    along = rng.uniform(80, 0.9 * reach_mm) * (1 if rng.random() < 0.5 else -1)
    return f"{along:.0f}mm from the handle top"


WHERE = (clock, from_tip, from_handle_top)


def strips(only: int | None = None, options: str = "") -> Setup:
    """Set-ups of 1 to 3 strips, each placed in one of WHERE (None: as it comes)."""

    def made(rng: np.random.Generator, true: Site) -> list[str]:
        reach_mm = min(true.handle_tops_mm)  # how far the handle top lies from the tip along the edge
        texts = []
        for _ in range(rng.integers(1, 4)):
            mass, length = rng.uniform(1, 5), rng.uniform(30, 120)
            where = WHERE[rng.integers(3) if only is None else only](rng, reach_mm)
            mirrored = ", mirrored" if rng.random() < 0.5 else ""
            texts.append(f"{mass:.2f}g:{length:.0f}mm@{where}{options}{mirrored}")
        return texts

    return made


def throat(rng: np.random.Generator, _: Site) -> list[str]:
    return [f"3g:{rng.uniform(10, 50):.0f}mm@throat"]


def largest_opening(rng: np.random.Generator, _: Site) -> list[str]:
    hours = rng.integers(1, 13)
    return [f"3g:{rng.uniform(30, 120):.0f}mm@opening LARGEST at {hours}:00"]


def under_grip(rng: np.random.Generator, true: Site) -> list[str]:
    return [f"5g:40mm@under the grip at {rng.uniform(40, true.handle_top_mm - 30):.0f}mm"]


def perimeter(rng: np.random.Generator, _: Site) -> list[str]:
    return [f"10g@perimeter, width {rng.uniform(10, 30):.0f}mm"]


KINDS: dict[str, Setup] = {
    "strips, all ways mixed": strips(),
    "  clock positions": strips(0),
    "  distances from the tip": strips(1),
    "  distances from the handle top": strips(2),
    "  folded over the edge, 25 mm wide": strips(options=", width 25mm, thickness 0.3mm"),
    "  on the face, 12 mm wide": strips(options=", on the face, width 12mm, thickness 0.3mm"),
    "along the whole perimeter": perimeter,
    "across the throat": throat,
    "in the largest opening's rim": largest_opening,
    "under the grip": under_grip,
}
MIXED = next(iter(KINDS))


def changes(site: Site, setup: list[str], axis_mm: float) -> Array:
    """Change in swing and twist weight (2,), g mm²."""
    areas = [Polygon(ring).area for ring in site.outline.openings_mm]
    largest = str(int(np.argmax(areas)) + 1) if areas else "1"
    pieces = [parse_piece(text.replace("LARGEST", largest)) for text in setup]
    mass, _, y, xx, yy, zz = added(lay_all(site, pieces)[0])
    return np.array([yy - 2 * axis_mm * y + axis_mm**2 * mass + zz, xx + zz])


def errors(traced: Site, true: Site, axis_mm: float, setup: Setup) -> Array:
    """Absolute errors (at most SETUPS, 2) in per cent, of set-ups that fit on both."""
    rng = np.random.default_rng(SEED)
    rows: list[Array] = []
    for _ in range(TRIES):
        texts = setup(rng, true)
        try:
            got, want = changes(traced, texts, axis_mm), changes(true, texts, axis_mm)
        except ModelError:
            continue  # it does not fit on this racquet
        rows.append(np.abs(100 * (got / want - 1)))
        if len(rows) == SETUPS:
            break
    return np.array(rows).reshape(-1, 2)


def cells(off: Array) -> str:
    """Median and 95th percentile of swing, then of twist."""
    return "".join(f"{x:>7.2f}" for x in np.percentile(off, [50, 95], axis=0).T.ravel())


def main(traced_folder: Path, truth_folder: Path) -> None:
    head = f"{'swing':>7}{'95th':>7}{'twist':>7}{'95th':>7}"
    print(f"{'racquet':<36}{head}   measured:{head}{'top mm':>8}")
    every: dict[str, tuple[list[Array], list[Array]]] = {kind: ([], []) for kind in KINDS}
    for path in sorted(traced_folder.glob("*.racquet.json")):
        name = path.name.removesuffix(".racquet.json")
        truth = json.loads((truth_folder / f"{name}.truth.json").read_text("utf-8"))["racquet"]
        file, true, axis = read_racquet(path), true_site(truth), SWING_AXIS_MM[truth["family"]]
        sites = site_in(file), site_in(tape_measured(file, truth))
        for kind, setup in KINDS.items():
            for site, rows in zip(sites, every[kind], strict=True):
                rows.append(errors(site, true, axis, setup))
        photo, measured = (rows[-1] for rows in every[MIXED])
        off_mm = sites[0].handle_top_mm - true.handle_top_mm
        print(f"{name:<36}{cells(photo)}            {cells(measured)}{off_mm:>+8.1f}")
    print("over all")
    for kind, (photo_rows, measured_rows) in every.items():
        photo, measured = np.vstack(photo_rows), np.vstack(measured_rows)
        print(f"{kind:<36}{cells(photo)}            {cells(measured)}{len(photo):>8} set-ups")


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    main(Path(sys.argv[1]), Path(sys.argv[2]))
