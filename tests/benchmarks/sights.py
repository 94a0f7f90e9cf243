"""How far off handle top and openings are, and how much of what is wrong is said to be in doubt.

usage: python -m tests.benchmarks.sights FOLDER... [--results FILE]

Each FOLDER holds NAME.jpg beside NAME.truth.json, as ``tests.render`` writes them. Printed are: the handle
top's error and how it compares with the claimed sd; the error of the openings' total area by construction;
and, of the outline that is more than 1.5 mm off after the best rigid fit, the share that is flagged as
doubtful, in photos whose outline is wrong (rms over 1.5 mm) and in all others, with the share of good
outline (within 0.8 mm) that is flagged, too. ``--results`` names a file of one JSON object a line, to which
new photos are added.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from rich.progress import track
from scipy.optimize import least_squares
from shapely.geometry import LinearRing, Polygon

from digitise.photo import read_photo
from digitise.record import outline_of
from digitise.refusal import Refused
from digitise.trace import Thickness, Traced, trace_photo
from model.build import Known, thicknesses
from tests.benchmarks.traced import CONSTRUCTIONS

BAD_MM, GOOD_MM, WRONG_RMS_MM = 1.5, 0.8, 1.5
FloatArray = npt.NDArray[np.float64]


def off_mm(ring_mm: FloatArray, truth_mm: FloatArray) -> FloatArray:
    """Distance (n,) of a ring's points to the true ring after the best rigid fit."""
    truth = LinearRing(truth_mm)

    def distances(move: FloatArray) -> FloatArray:
        cos, sin = np.cos(move[2]), np.sin(move[2])
        moved = ring_mm @ np.array([[cos, sin], [-sin, cos]]) + move[:2]
        return np.asarray(shapely.distance(truth, shapely.points(moved)), float)

    return np.asarray(
        least_squares(distances, np.zeros(3), x_scale=[1.0, 1.0, 0.01], loss="soft_l1").fun, float
    )


def flagged(found: Traced) -> npt.NDArray[np.bool_]:
    """Which points (n,) of the outline lie in doubtful stretches."""
    count = len(found.contour.ring_mm)
    flags = np.zeros(count, bool)
    for doubt in found.doubts:
        flags[(doubt.first + np.arange((doubt.last - doubt.first) % count + 1)) % count] = True
    return flags


def row(photo: Path) -> dict[str, Any] | None:
    """The numbers of one photo; None for one that is meant to be refused."""
    truth = json.loads(photo.with_suffix(".truth.json").read_text("utf-8"))
    if truth.get("expect_failure"):
        return None
    racquet = truth["racquet"]
    known = Known(
        CONSTRUCTIONS[racquet["family"]], racquet["face_thickness_mm"], racquet["handle_thickness_mm"]
    )
    face, handle = thicknesses(known)
    made: dict[str, Any] = {"photo": str(photo), "construction": known.construction}
    try:
        thickness = Thickness(face.value, face.sd, handle.value, handle.sd)
        found = trace_photo(read_photo(photo), known.construction, thickness)
    except Refused as refusal:
        return made | {"refused": str(refusal.reason)}
    off, flags = off_mm(found.contour.ring_mm, np.array(racquet["outline_mm"], float)), flagged(found)
    area = sum(Polygon(opening["ring"]).area for opening in racquet["open_rings_mm"])
    mine = sum(Polygon(ring).area for ring in outline_of(found).openings_mm)
    bad, good = off > BAD_MM, off < GOOD_MM
    return made | {
        "rms": float(np.sqrt(np.mean(off**2))),
        "top": found.marks.top_mm - racquet["handle_top_y_mm"],
        "top_sd": found.marks.top_sd_mm,
        "open": 100 * (mine / area - 1) if area else None,
        "bad": [int(bad.sum()), int((bad & flags).sum())],
        "good": [int(good.sum()), int((good & flags).sum())],
    }


def report(rows: list[dict[str, Any]]) -> str:
    """The lines that are printed."""
    seen = [r for r in rows if "refused" not in r]
    lines = [f"{len(rows)} photos, {len(rows) - len(seen)} refused"]
    if not seen:
        return lines[0]
    top, sd = np.abs([r["top"] for r in seen]), np.array([r["top_sd"] for r in seen])
    lines.append(
        f"handle top: median {np.median(top):.1f}, 90 % {np.quantile(top, 0.9):.1f}, "
        f"largest {top.max():.1f} mm; "
        f"over 5 mm {int((top > 5).sum())}; within one sd {100 * np.mean(top < sd):.0f} %, "
        f"two {100 * np.mean(top < 2 * sd):.0f} %"
    )
    for construction in ("perforated", "strung"):
        area = np.abs(
            [r["open"] for r in seen if r["construction"] == construction and r["open"] is not None]
        )
        if len(area):
            lines.append(
                f"openings, {construction}: median {np.median(area):.1f}, 90 % {np.quantile(area, 0.9):.1f}, "
                f"largest {area.max():.1f} % of {len(area)} photos"
            )
    for words, wrong in (("wrong outlines", True), ("other outlines", False)):
        some = [r for r in seen if (r["rms"] > WRONG_RMS_MM) == wrong]
        bad, good = (
            np.sum([r[key] for r in some], axis=0) if some else np.zeros(2) for key in ("bad", "good")
        )
        lines.append(
            f"{words}, {len(some)} photos: flagged {bad[1]:.0f} of {bad[0]:.0f} mm that are over "
            f"{BAD_MM} mm off, "
            f"and {good[1]:.0f} of {good[0]:.0f} mm that are good"
        )
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else None)
    parser.add_argument("folders", type=Path, nargs="+")
    parser.add_argument("--results", type=Path)
    chosen = parser.parse_args()
    results: Path | None = chosen.results
    old = results.read_text("utf-8").splitlines() if results and results.exists() else []
    rows: list[dict[str, Any]] = [json.loads(line) for line in old]
    done = {r["photo"] for r in rows}
    photos = [p for folder in chosen.folders for p in sorted(folder.glob("*.jpg")) if str(p) not in done]
    for photo in track(photos, "Tracing"):
        made = row(photo)
        if made is None:
            continue
        rows.append(made)
        if results:
            with results.open("a", encoding="utf-8") as file:
                file.write(json.dumps(made) + "\n")
    print(report(rows))


if __name__ == "__main__":
    main()
