"""Whether the claimed sd of length and width is right, over rendered photos of random scenes.

usage: python -m tests.benchmarks.claimed_sd [--count N] [--seed S] [--cards 1] [--photos 1] [--jobs J]
                                             [--light KIND] [--results FILE] [--keep FOLDER]

Every photo is rendered (12 megapixels; random racquet, table, light, pose, height, card, lens, noise; what no
photo tells, as the lens's exact focal length and how round the butt is, differs as from make to make), traced
and compared with its truth. Of right sds, 68 in 100 errors lie within one and 95 within two. Photos that were
refused, and those whose file says that a hand must correct the outline, are counted apart. ``--results``
names a file of one JSON object a line, to which new photos are added: a run that was cut short goes on.
A second table gives the outline's rms distance to the truth by construction, table and light, a third the
cells of two and three of these. ``--light sun``, for one, puts all photos in the sun. ``--keep``
keeps the photos with their truth, and takes those that are there.

With ``--cards 2`` each photo is traced as it is and rendered again with one of them alone; with
``--photos 3`` each racquet is photographed so many times, with the same phone, and traced from all photos
together and from each alone. A third table then gives what that cuts sd and error of the length by, and with
two cards a fourth what the length's sd is made of.
"""

from __future__ import annotations

import argparse
import json
import os
import tempfile
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any, get_args

import numpy as np
from rich.progress import track

from tests.render.lights import LightKind

CONSTRUCTIONS = ("solid", "perforated", "strung")
MEASURES = ("length", "width")
LINED_TABLES, LINED = ("tiles", "wood", "mat"), ("no lines", "with lines")
"""Tables that show long straight lines, and what a table with and without them is called."""
SOURCES = ("camera", "edge", "butt rounded", "face thick", "handle thick", "butt thick", "rim rounded")
"""What the length's sd is made of; the last five in the order of ``spread.other_bodies``."""


Task = tuple[int, int, int, Path | None, str | None]


def one(task: Task) -> dict[str, Any]:
    """Seed, number of cards and of photos, where to keep them, the light if not any: what became of it.

    Errors and claimed sds are in mm; ``alone`` are those of one card or of each photo by itself, where there
    are several.
    """
    from digitise.record import racquet_of
    from digitise.refusal import Refused
    from digitise.together import combined
    from digitise.trace import Thickness, trace_photo
    from model.build import Known, thicknesses
    from model.cautions import NEEDS_CORRECTION
    from model.errors import ModelError
    from tests.benchmarks.traced import rms_after_fit
    from tests.render.invent import of_any_make, random_scene, taken_again

    seed, cards, count, keep, light = task
    construction = CONSTRUCTIONS[seed % 3]
    scene = of_any_make(random_scene(seed, construction, cards=cards, light=light))  # type: ignore[arg-type]
    spec = scene.racquets[0].spec
    row: dict[str, Any] = {"seed": seed, "cards": cards, "photos": count, "construction": construction}
    row |= {"table": scene.table.kind, "light": scene.light.kind, "asked": light}
    known = Known(construction, spec.face_thickness_mm, spec.handle_thickness_mm, (), 50.0)
    face, handle = thicknesses(known)
    thickness = Thickness(face.value, face.sd, handle.value, handle.sd)
    scenes = [scene, *(taken_again(scene, number) for number in range(1, count))]
    name = f"{construction}-{seed}-{cards}" + ("" if light is None else f"-{light}")
    shots = [_photo(each, name if k == 0 else f"{name}-again-{k}", keep) for k, each in enumerate(scenes)]
    truth = shots[0][1]

    def errors(traced: Any) -> dict[str, list[float]]:
        spread = traced.spread
        return {
            "length": [spread.length_mm - truth["overall_length_mm"], spread.length_sd_mm],
            "width": [spread.width_mm - truth["max_width_mm"], spread.width_sd_mm],
        }

    try:
        traces = [trace_photo(photo, construction, thickness) for photo, _ in shots]
        best, found = 0, traces[0]
        if count > 1:
            joint = combined(traces, [photo.file_name for photo, _ in shots])
            best, found = joint.best, joint.traced
            row["alone"] = [errors(each) for each in traces]
        elif cards > 1:
            # the same photo without the other cards, which would be taken for things on the table
            photo, _ = _photo(replace(scene, cards=scene.cards[:1]), f"{name}-alone", keep)
            single = trace_photo(photo, construction, thickness)
            row["alone"] = [errors(single)]
            row["sources"] = [_sources(single), _sources(found)]
            row["cards_used"] = len(found.reference.outlines_px)
        file = racquet_of(shots[best][0], found, known, card_on_face=False)
    except (Refused, ModelError) as error:
        return row | {"refused": str(error)}
    return row | {
        "rms_mm": rms_after_fit(found.contour.ring_mm, np.array(truth["outline_mm"], float)),
        "by_hand": NEEDS_CORRECTION in file.flags,
        **errors(found),
        "length_mm": truth["overall_length_mm"],
        "width_mm": truth["max_width_mm"],
    }


def _sources(traced: Any) -> list[float]:
    """Standard deviation of the length from each of SOURCES, mm."""
    from digitise.spread import edge_variance, outline_spread

    bare = outline_spread(traced.estimate, traced.contour, traced.body, ()).own_mm2[0, 0]
    camera = max(bare - edge_variance(traced.contour)[0], 0.0)
    edge = max(traced.spread.own_mm2[0, 0] - camera, 0.0)
    return [float(np.sqrt(camera)), float(np.sqrt(edge)), *np.abs(traced.spread.shared_mm[:, 0]).tolist()]


def _photo(scene: Any, name: str, keep: Path | None) -> tuple[Any, dict[str, Any]]:
    """The photo of a scene as read from its file, and its racquet's truth."""
    from digitise.photo import read_photo
    from tests.render.compose import render, write

    with tempfile.TemporaryDirectory() as folder:
        path = (keep or Path(folder)) / f"{name}.jpg"
        if not path.exists():
            write(render(scene), path.parent, name)
        truth: dict[str, Any] = json.loads(path.with_suffix(".truth.json").read_text("utf-8"))["racquet"]
        return read_photo(path), truth


def report(rows: list[dict[str, Any]]) -> None:
    """Print the table of all rows."""
    print(f"{'':<12}{'photos':>7}{'refused':>9}{'by hand':>9}", end="")
    print(
        "".join(
            f"{f'{m}: in 1 sd':>17}{'in 2 sd':>9}{'median %':>10}{'95th %':>8}{'sd %':>7}" for m in MEASURES
        )
    )
    for name in (*CONSTRUCTIONS, "with lines", "no lines", "all"):
        here = [r for r in rows if name in ("all", r["construction"], LINED[r["table"] in LINED_TABLES])]
        good = [r for r in here if not r.get("refused") and not r["by_hand"]]
        refused, by_hand = sum("refused" in r for r in here), sum(bool(r.get("by_hand")) for r in here)
        print(f"{name:<12}{len(here):>7}{refused:>9}{by_hand:>9}", end="")
        for measure in MEASURES if good else ():
            error, sd = np.abs(np.array([r[measure] for r in good], float)).T
            size = np.array([r[f"{measure}_mm"] for r in good])
            within = [100 * float(np.mean(error < k * sd)) for k in (1, 2)]
            share = 100 * error / size
            print(
                f"{within[0]:>15.0f} %{within[1]:>7.0f} %{np.median(share):>10.2f}"
                f"{np.percentile(share, 95):>8.2f}{np.median(100 * sd / size):>7.2f}",
                end="",
            )
        print()


def report_outline(rows: list[dict[str, Any]]) -> None:
    """Print how far outlines are off, by what makes it easy or hard."""
    traced = [r for r in rows if "rms_mm" in r]
    print(f"\n{'outline rms, mm':<24}{'photos':>7}{'median':>9}{'95th':>9}{'<= 0.8':>9}{'> 1.5':>8}")
    for what in ("construction", "table", "light"):
        for kind in sorted({r[what] for r in traced}):
            off = np.array([r["rms_mm"] for r in traced if r[what] == kind])
            share = [100 * float(np.mean(off <= 0.8)), 100 * float(np.mean(off > 1.5))]
            print(
                f"{what + ' ' + kind:<24}{len(off):>7}{np.median(off):>9.2f}{np.percentile(off, 95):>9.2f}"
                f"{share[0]:>7.0f} %{share[1]:>6.0f} %"
            )


def report_cells(rows: list[dict[str, Any]]) -> None:
    """Print the share of photos whose outline is at most 0.8 mm off, by construction x table and x light, and
    the cells of all three that are worst; a refused photo counts as missed."""
    for what in ("table", "light"):
        print(f"\n{'<= 0.8 mm of photos':<24}" + "".join(f"{c:>16}" for c in CONSTRUCTIONS))
        for kind in sorted({r[what] for r in rows}):
            cells = [[r for r in rows if r[what] == kind and r["construction"] == c] for c in CONSTRUCTIONS]
            print(f"{what + ' ' + kind:<24}" + "".join(f"{_share_within(cell):>16}" for cell in cells))
    cells_by: dict[tuple[str, ...], list[dict[str, Any]]] = {}
    for row in rows:
        cells_by.setdefault((row["construction"], row["table"], row["light"]), []).append(row)
    worst = sorted(cells_by.items(), key=lambda item: -sum(_missed(row) for row in item[1]))[:8]
    print("\nmost photos missed, by construction, table and light:")
    for names, cell in worst:
        print(f"  {', '.join(names)}: {sum(_missed(row) for row in cell)} of {len(cell)}")


def _missed(row: dict[str, Any]) -> bool:
    return bool(row.get("rms_mm", np.inf) > 0.8)


def _share_within(rows: list[dict[str, Any]]) -> str:
    if not rows:
        return "-"
    within = len(rows) - sum(_missed(row) for row in rows)
    return f"{100 * within / len(rows):.0f} % of {len(rows)}"


def report_alone(rows: list[dict[str, Any]]) -> None:
    """Print what a second card or more photos cut sd and error of the length by."""
    good = [r for r in rows if r.get("alone") and not r.get("refused") and not r["by_hand"]]
    if not good:
        return
    several = [r for r in good if r.get("cards_used", 2) > 1]
    size = np.array([r["length_mm"] for r in several])
    joint = 100 * np.array([r["length"] for r in several]) / size[:, None]
    alone = [100 * np.array([a["length"] for a in r["alone"]]) / r["length_mm"] for r in several]
    claimed = [float(np.sqrt(np.mean(each[:, 1] ** 2))) for each in alone]
    cut = np.array(claimed) / joint[:, 1]
    off = [np.abs(errors) for errors in (np.concatenate(alone)[:, 0], joint[:, 0])]
    error = [float(np.median(errors)) for errors in off]
    print(f"\n{'length':<24}{'racquets':>9}{'alone %':>10}{'joint %':>10}{'cut by':>9}")
    sds = np.median(claimed), np.median(joint[:, 1]), np.median(cut)
    print(f"{'claimed sd, median':<24}{len(several):>9}{sds[0]:>10.2f}{sds[1]:>10.2f}{sds[2]:>9.2f}")
    print(
        f"{'error, median':<24}{len(several):>9}{error[0]:>10.2f}{error[1]:>10.2f}{error[0] / error[1]:>9.2f}"
    )
    print("over 1 % off: " + " and ".join(f"{int((o > 1).sum())} of {len(o)}" for o in off))
    if len(several) < len(good):
        print(f"left out: {len(good) - len(several)} in which only one card was used")


def report_sources(rows: list[dict[str, Any]]) -> None:
    """Print what the length's sd is made of with one card and with two, root mean square in mm."""
    good = [r for r in rows if r.get("sources") and r.get("cards_used", 0) > 1 and not r["by_hand"]]
    if not good:
        return
    print(f"\n{'length sd from, mm':<24}" + "".join(f"{name:>14}" for name in SOURCES))
    for name in (*CONSTRUCTIONS, "all"):
        here = [r["sources"] for r in good if name in ("all", r["construction"])]
        for k, cards in enumerate(("one card", "two cards") if here else ()):
            sds = np.sqrt(np.mean(np.square([each[k] for each in here]), axis=0))
            print(f"{f'{name}, {cards}':<24}" + "".join(f"{sd:>14.2f}" for sd in sds))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=5000)
    parser.add_argument("--cards", type=int, default=1)
    parser.add_argument("--photos", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--light", choices=get_args(LightKind))
    parser.add_argument("--results", type=Path)
    parser.add_argument("--keep", type=Path)
    chosen = parser.parse_args()
    rows: list[dict[str, Any]] = []
    if chosen.results and chosen.results.exists():
        rows = [json.loads(line) for line in chosen.results.read_text("utf-8").splitlines()]
    seeds = range(chosen.seed, chosen.seed + chosen.count)
    wanted = (chosen.cards, chosen.photos)
    rows = [r for r in rows if r["seed"] in seeds and (r["cards"], r.get("photos", 1)) == wanted]
    rows = [r for r in rows if r.get("asked") == chosen.light]
    done = {r["seed"] for r in rows}
    tasks: list[Task] = [(seed, *wanted, chosen.keep, chosen.light) for seed in seeds if seed not in done]
    if chosen.keep:
        chosen.keep.mkdir(parents=True, exist_ok=True)
    with ProcessPoolExecutor(chosen.jobs) as pool:
        for row in track(pool.map(one, tasks), total=len(tasks), description="photos"):
            rows.append(row)
            if chosen.results:
                with chosen.results.open("a", encoding="utf-8") as file:
                    file.write(json.dumps(row) + "\n")
    report(rows)
    report_outline(rows)
    report_cells(rows)
    report_alone(rows)
    report_sources(rows)


if __name__ == "__main__":
    main()
