"""A real browser on the page: fixtures and a person's hands for the tests."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[1]
PHOTO = ROOT / "sample_images" / "club-paddle.jpg"
TRUTH = ROOT / "sample_images" / "club-paddle.truth.json"
NEEDED = "DIGITISE_NEEDS_BROWSER"
"""Set where a browser test may not be skipped."""
ARGUMENTS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
READY_MS = 60_000
Spot = tuple[float, float]


def chromium() -> str:
    """Where the system's browser is; skips the test where there is none, unless one is needed."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        words = "browser tests need chromium: as root, apt-get install chromium"
        if os.environ.get(NEEDED):
            pytest.fail(words)
        pytest.skip(words)
    return found


@contextmanager
def correcting(*arguments: str | Path) -> Iterator[str]:
    """``digitise correct`` at work; gives the page's address."""
    command = [sys.executable, "-m", "digitise", "correct", *map(str, arguments), "--no-browser"]
    environment = os.environ | {"PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"}
    running = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment
    )
    assert running.stdout is not None
    try:
        line = running.stdout.readline()
        if "http://" not in line:
            assert running.stderr is not None
            raise AssertionError(f"digitise correct did not start: {line}{running.stderr.read()}")
        yield line[line.index("http://") :].strip()
    finally:
        running.send_signal(signal.SIGINT)
        try:
            running.wait(15)
        except subprocess.TimeoutExpired:
            running.kill()
            running.wait()
        running.stdout.close()
        if running.stderr is not None:
            running.stderr.close()


class Hand:
    """What a person does on the page; places in mm on the sheet."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.troubles: list[str] = []
        page.on("pageerror", lambda error: self.troubles.append(str(error)))
        page.on(
            "console",
            lambda message: self.troubles.append(message.text) if message.type == "error" else None,
        )

    def open(self, address: str) -> None:
        self.page.goto(address)
        self.ready()

    def ready(self) -> None:
        self.page.wait_for_selector("html[data-ready=yes]", timeout=READY_MS)
        self.settled()

    def settled(self) -> None:
        """Wait until the program has answered and keeps the draft."""
        self.until("!drawing.isWeighing && !drawing.isBusy && drawing.history.isKept")

    def until(self, true: str) -> None:
        """Wait for a JavaScript condition; the page's policy forbids the browser tool's own way."""
        from playwright.sync_api import Error

        for _ in range(READY_MS // 30):
            try:
                if self.page.evaluate(f"Boolean({true})"):
                    return
            except Error as error:
                if "context was destroyed" not in str(error):  # the page was on its way to another
                    raise
            self.page.wait_for_timeout(30)
        raise AssertionError(f"this never came true on the page: {true}")

    def on_screen(self, spot: Spot) -> Spot:
        box = self.page.locator("#drawing").bounding_box()
        x, y = self.page.evaluate("([x, y]) => drawing.view.toScreen(x, y)", list(spot))
        return box["x"] + x, box["y"] + y

    def drag(self, way: list[Spot], steps: int = 4) -> None:
        mouse = self.page.mouse
        mouse.move(*self.on_screen(way[0]))
        mouse.down()
        for spot in way[1:]:
            mouse.move(*self.on_screen(spot), steps=steps)
        mouse.up()
        self.settled()

    def tool(self, name: str) -> None:
        self.page.get_by_role("radio", name=name).click()

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)
        self.settled()

    def at_drawing(self) -> None:
        self.page.locator("#drawing").focus()

    def edit(self) -> dict[str, Any]:
        return dict(self.page.evaluate("JSON.parse(JSON.stringify(drawing.edit))"))

    def points(self) -> list[list[float]]:
        return list(self.edit()["outer"]["points"])

    def close_up(self, spot: Spot, px_per_mm: float = 12.0) -> None:
        """Zoom in on a place."""
        self.page.evaluate(
            "([x, y, s]) => { drawing.view.show(x, y, s); drawing.view.x = x; drawing.view.y = y;"
            " drawing.drawNow(true); }",
            [*spot, px_per_mm],
        )

    def save(self) -> None:
        self.page.get_by_role("button", name="Save").click()
        self.until("drawing.history.isSaved")
        self.settled()

    def figure(self, name: str) -> str:
        row = self.page.get_by_role("row").filter(has=self.page.get_by_role("rowheader", name=name))
        return str(row.first.inner_text())


def truth_outline() -> list[Spot]:
    """The sample's true outline in its own frame."""
    return [(x, y) for x, y in json.loads(TRUTH.read_text("utf-8"))["racquet"]["outline_mm"]]
