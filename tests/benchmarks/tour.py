"""Run the README's tour and print what each command says, to compare with the numbers in its text.

usage: python -m tests.benchmarks.tour

It works in a temporary folder and leaves nothing behind.
"""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[2]


def tour_commands() -> list[list[str]]:
    """The ``digitise`` commands of the tour, as words after ``digitise``."""
    readme = (ROOT / "README.md").read_text("utf-8")
    section = re.search(r"^## From a photo to a stuck set-up$(.*?)(?=^## )", readme, re.MULTILINE | re.DOTALL)
    if section is None:
        sys.exit("the README has no tour")
    blocks = re.findall(r"^```sh\n(.*?)^```$", section[1], re.MULTILINE | re.DOTALL)
    lines = "".join(blocks).replace("\\\n", " ").splitlines()
    return [shlex.split(line)[1:] for line in lines if line.startswith("digitise ")]


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        for words in tour_commands():
            print(f"$ digitise {shlex.join(words)}", flush=True)
            arguments = [str(ROOT / word) if word.startswith("sample_images/") else word for word in words]
            subprocess.run(
                [sys.executable, "-m", "digitise", *arguments],
                cwd=folder,
                env=os.environ | {"PYTHONPATH": str(ROOT)},
                check=True,
            )
            print(flush=True)


if __name__ == "__main__":
    main()
