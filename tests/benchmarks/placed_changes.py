"""How far the predicted change in swing and twist weight is off when the outline comes from a photo.

usage: python -m tests.benchmarks.placed_changes TRACED TRUTHS

TRACED holds NAME.racquet.json files that ``digitise trace`` wrote, TRUTHS the NAME.truth.json of their
photos. On each racquet the same 50 random set-ups, as a person writes them (clock positions, distances
along the edge from the tip and from the handle top; 1 to 3 strips of 1 to 5 g and 30 to 120 mm, half of them
mirrored), are laid on the traced and on the true outline. Printed for each racquet: median and largest error
of the change in swing weight and in twist weight, in per cent of the true change; then over all.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from model.build import site_in
from model.errors import ModelError
from model.face import Landmarks, with_hoop
from model.outline import outline_from_rings
from model.placement import added, lay_all
from model.site import Site, site_of
from model.spelling import parse_piece
from model.storage import read_racquet

Array = NDArray[np.float64]

SETUPS = 50
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


WAYS = ("clock position", "from the tip", "from the handle top")


def random_setup(rng: np.random.Generator, reach_mm: float, way: int | None = None) -> list[str]:
    """One set-up in words, each strip in one of WAYS (None: as it comes).

    ``reach_mm`` is how far the handle top lies from the tip along the edge.
    """
    strips = []
    for _ in range(rng.integers(1, 4)):
        mass, length = rng.uniform(1, 5), rng.uniform(30, 120)
        kind = rng.integers(3) if way is None else way
        if kind == 0:
            minutes = int(rng.integers(0, 5 * 60)) * (1 if rng.random() < 0.5 else -1) % 720
            where = f"{minutes // 60 or 12}:{minutes % 60:02d}"
        elif kind == 1:
            where = f"{rng.uniform(-0.8, 0.8) * reach_mm:.0f}mm"
        else:
            along = rng.uniform(80, 0.9 * reach_mm) * (1 if rng.random() < 0.5 else -1)
            where = f"{along:.0f}mm from the handle top"
        strips.append(f"{mass:.2f}g:{length:.0f}mm@{where}{', mirrored' if rng.random() < 0.5 else ''}")
    return strips


def changes(site: Site, setup: list[str], axis_mm: float) -> Array:
    """Change in swing and twist weight (2,), g mm²."""
    mass, _, y, xx, yy, zz = added(lay_all(site, [parse_piece(text) for text in setup])[0])
    return np.array([yy - 2 * axis_mm * y + axis_mm**2 * mass + zz, xx + zz])


def errors(traced: Site, true: Site, axis_mm: float, way: int | None = None) -> Array:
    """Relative errors (SETUPS, 2) in per cent."""
    rng = np.random.default_rng(SEED)
    rows: list[Array] = []
    while len(rows) < SETUPS:
        setup = random_setup(rng, min(true.handle_tops_mm), way)
        try:
            got, want = changes(traced, setup, axis_mm), changes(true, setup, axis_mm)
        except ModelError:
            continue  # it does not fit on this racquet
        rows.append(100 * (got / want - 1))
    return np.array(rows)


def main(traced_folder: Path, truth_folder: Path) -> None:
    print(
        f"{'racquet':<34}{'swing: median':>14}{'largest':>9}{'twist: median':>15}{'largest':>9}{'top mm':>8}"
    )
    mixed: list[Array] = []
    by_way: list[list[Array]] = [[] for _ in WAYS]
    for path in sorted(traced_folder.glob("*.racquet.json")):
        name = path.name.removesuffix(".racquet.json")
        truth = json.loads((truth_folder / f"{name}.truth.json").read_text("utf-8"))["racquet"]
        traced, true, axis = site_in(read_racquet(path)), true_site(truth), SWING_AXIS_MM[truth["family"]]
        off = np.abs(errors(traced, true, axis))
        mixed.append(off)
        for way, rows in enumerate(by_way):
            rows.append(np.abs(errors(traced, true, axis, way)))
        middle, worst = np.median(off, axis=0), off.max(axis=0)
        cells = f"{middle[0]:>14.2f}{worst[0]:>9.2f}{middle[1]:>15.2f}{worst[1]:>9.2f}"
        print(f"{name:<34}{cells}{traced.handle_top_mm - true.handle_top_mm:>+8.1f}")
    for label, share in (("median", 50), ("95th percentile", 95)):
        swing, twist = np.percentile(np.vstack(mixed), share, axis=0)
        print(f"{label:<44}swing {swing:.2f} %, twist {twist:.2f} %")
        for words, rows in zip(WAYS, by_way, strict=True):
            swing, twist = np.percentile(np.vstack(rows), share, axis=0)
            print(f"  {label + ', ' + words:<42}swing {swing:.2f} %, twist {twist:.2f} %")


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    main(Path(sys.argv[1]), Path(sys.argv[2]))
