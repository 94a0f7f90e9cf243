"""How fast the page answers in a real browser, on a 12 MP photo.

usage: python -m tests.benchmarks.page_speed [FILE.racquet.json]

Needs chromium, as the browser tests do. Without a file the sample paddle is traced first. A point is dragged
for 120 steps and let go, twelve times; printed are, as medians and the 95th percentile:

- script: time the page's own painting takes for each frame of the drag, in ms (the bar is 17);
- frame: time from one painted frame to the next while dragging, in ms; where a machine draws without a
  graphics processor this also holds what the browser does to show it;
- figures: time from letting go to the new figures on the page, in ms (the bar is 100);
- server: what of that the program itself takes to reckon.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from playwright.sync_api import sync_playwright

from tests.page_browser import ARGUMENTS, PHOTO, Hand, chromium, correcting

DRAGS, STEPS = 12, 120


def traced(folder: Path) -> Path:
    """The sample paddle's racquet file."""
    out = folder / "club.racquet.json"
    options = ["--construction", "solid", "--face-thickness", "14", "--handle-thickness", "30"]
    command = [sys.executable, "-m", "digitise", "trace", str(PHOTO), *options, "--out", str(out)]
    subprocess.run([*command, "--weight", "231", "--balance", "238"], check=True, capture_output=True)
    return out


def measure(hand: Hand) -> dict[str, list[float]]:
    """Times in ms of each frame and each release."""
    hand.page.evaluate(
        """() => {
          window.gaps = [];
          let last = 0;
          const tick = (now) => {
            if (drawing.tool.isDragging && last) gaps.push(now - last);
            last = drawing.tool.isDragging ? now : 0;
            requestAnimationFrame(tick);
          };
          requestAnimationFrame(tick);
        }"""
    )
    figures, server = [], []
    mouse = hand.page.mouse
    for turn in range(DRAGS):
        spot = hand.points()[(11 * turn + 5) % len(hand.points())]
        x, y = hand.on_screen((spot[0], spot[1]))
        mouse.move(x, y)
        mouse.down()
        for step in range(STEPS):
            mouse.move(x + 6 * np.sin(step / 9), y + 4 * np.cos(step / 7))
        hand.page.evaluate(
            """() => new Promise((done) => {
              const surface = document.getElementById('drawing');
              surface.addEventListener('pointerup', () => {
                const began = performance.now();
                const rows = document.querySelector('.figures tbody');
                new MutationObserver((_, watcher) => {
                  watcher.disconnect();
                  window.releasedMs = performance.now() - began;
                }).observe(rows, { childList: true });
              }, { once: true });
              done();
            })"""
        )
        hand.page.evaluate("window.releasedMs = 0")
        mouse.up()
        hand.until("window.releasedMs > 0")
        hand.settled()
        figures.append(float(hand.page.evaluate("window.releasedMs")))
        server.append(float(hand.page.evaluate("drawing.tookMs")))
        time.sleep(0.3)
    return {
        "script": [float(v) for v in hand.page.evaluate("drawing.frames")],
        "frame": [float(v) for v in hand.page.evaluate("window.gaps")],
        "figures": figures,
        "server": server,
    }


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(sys.argv[1]) if len(sys.argv) > 1 else traced(Path(folder))
        with correcting(path) as address, sync_playwright() as playwright:
            started = playwright.chromium.launch(executable_path=chromium(), args=ARGUMENTS)
            hand = Hand(started.new_page(viewport={"width": 1280, "height": 800}))
            hand.open(address)
            hand.page.wait_for_timeout(1500)
            times = measure(hand)
            started.close()
    print(f"{'':10}{'median':>10}{'95 %':>10}{'count':>8}   ms")
    for name, values in times.items():
        print(f"{name:10}{np.median(values):10.1f}{np.quantile(values, 0.95):10.1f}{len(values):8}")


if __name__ == "__main__":
    main()
