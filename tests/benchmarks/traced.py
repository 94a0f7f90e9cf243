"""How well photos with known truth are traced: outline, length, width, figures, and the claimed sd.

usage: python -m tests.benchmarks.traced FOLDER

FOLDER holds NAME.jpg beside NAME.truth.json, as ``tests.render`` writes them. Each photo is traced with what
its owner would know: construction, thicknesses, weight and balance. Printed for each: the outline's rms
distance to the truth in mm (after the best rigid fit), errors of length, width, swing and twist weight in
per cent, and beside length and width the limit that the file's own sd sets; then the medians and the worst.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from scipy.optimize import least_squares
from shapely.geometry import LinearRing

from digitise.photo import read_photo
from digitise.record import racquet_of
from digitise.refusal import Refused
from digitise.trace import Thickness, trace_photo
from model.build import Known, thicknesses
from model.errors import ModelError
from model.racquet_file import RacquetFile
from model.reading_text import balance_reading, weight_reading

CONSTRUCTIONS = {"paddle": "solid", "perforated": "perforated", "strung": "strung"}
COLUMNS = ("rms mm", "length %", "limit %", "width %", "limit %", "swing %", "twist %")
FloatArray = npt.NDArray[np.float64]


def rms_after_fit(ring_mm: FloatArray, truth_mm: FloatArray) -> float:
    """Root mean square distance, mm, of a ring's points to the true ring, turned and shifted to fit best."""
    truth = LinearRing(truth_mm)

    def distances(move: FloatArray) -> FloatArray:
        cos, sin = np.cos(move[2]), np.sin(move[2])
        moved = ring_mm @ np.array([[cos, sin], [-sin, cos]]) + move[:2]
        return np.asarray(shapely.distance(truth, shapely.points(moved)), float)

    best = least_squares(distances, np.zeros(3), x_scale=[1.0, 1.0, 0.01])
    return float(np.sqrt(np.mean(best.fun**2)))


def traced(photo_path: Path, racquet: dict[str, Any]) -> RacquetFile:
    """The racquet file of a photo whose racquet's truth is ``racquet``."""
    mass = racquet["mass"]
    readings = (weight_reading(f"{mass['weight_g']}"), balance_reading(f"{mass['balance_mm']}"))
    face_mm, handle_mm = racquet["face_thickness_mm"], racquet["handle_thickness_mm"]
    known = Known(CONSTRUCTIONS[racquet["family"]], face_mm, handle_mm, readings, 50.0)
    face, handle = thicknesses(known)
    photo = read_photo(photo_path)
    found = trace_photo(photo, known.construction, Thickness(face.value, face.sd, handle.value, handle.sd))
    return racquet_of(photo, found, known, card_on_face=False)


def errors(file: RacquetFile, racquet: dict[str, Any]) -> list[float]:
    """The numbers of COLUMNS for one photo."""
    outline, figures, mass = file.outline, file.figures, racquet["mass"]
    length, width = racquet["overall_length_mm"], racquet["max_width_mm"]
    return [
        rms_after_fit(np.array(outline.outer_mm), np.array(racquet["outline_mm"], float)),
        100 * (outline.length_mm.value / length - 1),
        100 * outline.length_mm.sd / length,
        100 * (outline.width_mm.value / width - 1),
        100 * outline.width_mm.sd / width,
        100 * (figures.swing_weight_kgcm2.value / mass["swing_weight_kgcm2"] - 1),
        100 * (figures.twist_weight_kgcm2.value / mass["twist_weight_kgcm2"] - 1),
    ]


def main() -> None:
    folder = Path(sys.argv[1])
    print(f"{'photo':<34}" + "".join(f"{name:>10}" for name in COLUMNS))
    rows = []
    for truth_path in sorted(folder.glob("*.truth.json")):
        truth = json.loads(truth_path.read_text())
        if truth.get("expect_failure"):
            continue
        name = truth_path.name.removesuffix(".truth.json")
        try:
            row = errors(traced(folder / f"{name}.jpg", truth["racquet"]), truth["racquet"])
        except (Refused, ModelError) as error:
            print(f"{name:<34}  not traced: {error}")
            continue
        rows.append(row)
        print(f"{name:<34}" + "".join(f"{value:>10.2f}" for value in row), flush=True)
    if rows:
        sizes = np.abs(rows)
        for words, values in (("median size", np.median(sizes, axis=0)), ("largest", sizes.max(axis=0))):
            print(f"{words:<34}" + "".join(f"{value:>10.2f}" for value in values))


if __name__ == "__main__":
    main()
