"""How well each kind of reference tells the camera: errors of a known length, and the claimed sds.

usage: python -m tests.benchmarks.references [--count N] [--seed S] [--megapixels M]

For each seed one racquet is rendered beside a bank card, two of them, a plain A4 sheet and our printed A4
sheet. The reference is found and the distance of the racquet's ends is measured at pixels and heights taken
from the truth, so that only what the reference leaves open counts. Printed for each kind: how many were
found, median claimed sd and root mean square error in per cent of the length, and the rms of errors in
claimed sds.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
from rich.progress import track

from digitise.card_size import card_size
from digitise.reference import Asked, find_reference
from digitise.refusal import Refused
from digitise.sheet import PAPERS, print_scale
from digitise.sheet_pdf import sheet_pdf
from tests.printed_sheet import read_sheet
from tests.reference_scenes import beside_sheet, photographed
from tests.render import Scene, random_scene
from tests.test_reference import length_sd_mm, racquet_length_error_mm

KINDS = ("one card", "two cards", "A4 sheet", "printed sheet")


def scenes(seed: int, megapixels: float) -> Iterator[tuple[str, Scene, Asked]]:
    """The kinds of reference beside one seed's racquet, and what its owner would say of each."""
    two = random_scene(seed, "solid", megapixels=megapixels, cards=2, extras=0)
    yield "one card", two, Asked(cards=1)
    yield "two cards", two, Asked(cards=2)
    yield "A4 sheet", beside_sheet(seed, 297, 210, megapixels), Asked(card_size("a4"))
    sheet = read_sheet(sheet_pdf(PAPERS["a4"]))
    printed = beside_sheet(seed, *sheet.size_mm, megapixels)
    laid = replace(printed.cards[0], ink=sheet.ink())
    yield "printed sheet", replace(printed, cards=(laid,)), Asked(printed=print_scale(150.0))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=12)
    parser.add_argument("--seed", type=int, default=101)
    parser.add_argument("--megapixels", type=float, default=12)
    chosen = parser.parse_args()
    rows: dict[str, list[tuple[float, float]]] = {kind: [] for kind in KINDS}
    for seed in track(range(chosen.seed, chosen.seed + chosen.count), "Rendering and finding"):
        for kind, scene, asked in scenes(seed, chosen.megapixels):
            with tempfile.TemporaryDirectory() as folder:
                photo, rendered = photographed(scene, Path(folder))
            try:
                reference = find_reference(photo, asked)
            except Refused:
                continue
            per_cent = 100 / rendered.truth["racquet"]["overall_length_mm"]
            error, sd = racquet_length_error_mm(reference, rendered), length_sd_mm(reference, rendered)
            rows[kind].append((per_cent * error, per_cent * sd))
    print(f"{'reference':<16}{'found':>10}{'sd %':>10}{'rms %':>10}{'rms in sd':>12}")
    for kind, found in rows.items():
        errors, sds = np.array(found).reshape(-1, 2).T
        print(
            f"{kind:<16}{f'{len(found)}/{chosen.count}':>10}{np.median(sds):>10.2f}"
            f"{np.sqrt(np.mean(errors**2)):>10.2f}{np.sqrt(np.mean((errors / sds) ** 2)):>12.2f}"
        )


if __name__ == "__main__":
    main()
