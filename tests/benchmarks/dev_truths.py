"""How well weight and balance alone give the figures, on racquets with known insides.

usage: python -m tests.benchmarks.dev_truths FOLDER

FOLDER holds NAME.truth.json files: true outline, landmarks, thicknesses and figures. The outline is
taken as known; only weight (± 0.5 g) and balance (± 1 mm) are given to the model. Printed per
racquet: relative error of swing, twist, recoil and spin weight in percent, and error / sd; then
the median and 90th percentile of the errors.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import numpy as np

from model.build import Known, Traced, build_racquet
from model.face import Landmarks
from model.outline import outline_from_rings
from model.racquet_file import RacquetFile
from model.readings import BalanceReading, WeightReading

CONSTRUCTIONS = {"paddle": "solid", "perforated": "perforated", "strung": "strung"}
FIGURES = ("swing", "twist", "recoil", "spin")


def built(racquet: dict[str, Any]) -> RacquetFile:
    mass = racquet["mass"]
    outline = outline_from_rings(racquet["outline_mm"], [o["ring"] for o in racquet["open_rings_mm"]])
    readings = (
        WeightReading(value=mass["weight_g"], sd=0.5),
        BalanceReading(value=mass["balance_mm"], sd=1.0),
    )
    known = Known(
        CONSTRUCTIONS[racquet["family"]],
        racquet["face_thickness_mm"],
        racquet["handle_thickness_mm"],
        readings,
        mass["swing_weight_axis_mm"],
    )
    return build_racquet(outline, Landmarks(racquet["handle_top_y_mm"], 1.0), known, Traced())


def errors(racquet: dict[str, Any]) -> tuple[list[float], list[float]]:
    """Relative errors in percent, and errors in sds, of FIGURES."""
    figures = built(racquet).figures
    percent, pulls = [], []
    for name in FIGURES:
        key = f"{name}_weight_kgcm2"
        got, true = getattr(figures, key), racquet["mass"][key]
        percent.append(100 * (got.value / true - 1))
        pulls.append((got.value - true) / got.sd)
    return percent, pulls


def main(folder: Path) -> None:
    rows = []
    for path in sorted(folder.glob("*.truth.json")):
        truth = json.loads(path.read_text("utf-8"))
        if truth["expect_failure"]:
            continue
        percent, pulls = errors(truth["racquet"])
        rows.append(percent)
        cells = "  ".join(
            f"{n} {p:+5.1f} % ({z:+4.1f} sd)" for n, p, z in zip(FIGURES, percent, pulls, strict=True)
        )
        print(f"{path.name.removesuffix('.truth.json'):<34} {cells}")
    size = np.abs(np.array(rows))
    for label, values in (
        ("median", np.median(size, axis=0)),
        ("90th percentile", np.quantile(size, 0.9, axis=0)),
    ):
        print(f"{label:<34} " + "  ".join(f"{n} {v:5.2f} %" for n, v in zip(FIGURES, values, strict=True)))


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    main(Path(sys.argv[1]))
