"""``python -m tests.render FOLDER --count N --seed S``: write a set of photos with their truth."""

from __future__ import annotations

import argparse
import time
from pathlib import Path

from tests.render.compose import render, write
from tests.render.invent import FAILURES, random_scene
from tests.render.samples import SAMPLES


def main() -> None:
    """Read the options, render, and print one line a photo."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("folder", type=Path)
    options.add_argument("--count", type=int, default=6)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--megapixels", type=float, default=12)
    options.add_argument("--construction", choices=("solid", "perforated", "strung"))
    options.add_argument("--failures", action="store_true", help="one photo of each kind to be refused")
    options.add_argument("--samples", action="store_true", help="the photos of sample_images instead")
    chosen = options.parse_args()
    jobs = []
    if chosen.samples:
        jobs = [(name, lambda make=make: make()) for name, make in SAMPLES.items()]
    elif chosen.failures:
        for k, why in enumerate(FAILURES):
            jobs.append(
                (
                    f"fail-{why}-{k:02d}",
                    lambda k=k, why=why: random_scene(
                        chosen.seed + k, chosen.construction, megapixels=chosen.megapixels, failure=why
                    ),
                )
            )
    else:
        for seed in range(chosen.seed, chosen.seed + chosen.count):
            jobs.append(
                (
                    f"photo-{seed:04d}",
                    lambda seed=seed: random_scene(seed, chosen.construction, megapixels=chosen.megapixels),
                )
            )
    for name, scene in jobs:
        start = time.perf_counter()
        write(render(scene()), chosen.folder, name)
        print(f"{name} {time.perf_counter() - start:.2f} s", flush=True)


if __name__ == "__main__":
    main()
