"""``python -m tests.render FOLDER --count N --seed S``: write a set of photos with their truth."""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterator
from pathlib import Path

from tests.render.compose import render, write
from tests.render.invent import random_scene
from tests.render.samples import SAMPLES
from tests.render.scene import Scene
from tests.render.spoil import FAILURES


def options() -> argparse.Namespace:
    """What was asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--count", type=int, default=6)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--megapixels", type=float, default=12)
    parser.add_argument("--construction", choices=("solid", "perforated", "strung"))
    parser.add_argument("--failures", action="store_true", help="one photo of each kind to be refused")
    parser.add_argument("--samples", action="store_true", help="the photos of sample_images instead")
    return parser.parse_args()


def scenes(chosen: argparse.Namespace) -> Iterator[tuple[str, Scene]]:
    """Names and scenes, one after the other."""
    if chosen.samples:
        yield from ((name, make()) for name, make in SAMPLES.items())
        return
    wanted = list(FAILURES) if chosen.failures else [None] * chosen.count
    for number, failure in enumerate(wanted):
        seed = chosen.seed + number
        scene = random_scene(seed, chosen.construction, megapixels=chosen.megapixels, failure=failure)
        kind = failure or (scene.racquets[0].spec.construction + "-" + scene.table.kind)
        yield f"{kind}-{seed:04d}", scene


def main() -> None:
    """Render what was asked for and print one line a photo."""
    chosen = options()
    for name, scene in scenes(chosen):
        start = time.perf_counter()
        write(render(scene), chosen.folder, name)
        print(f"{name} {time.perf_counter() - start:.2f} s", flush=True)


if __name__ == "__main__":
    main()
