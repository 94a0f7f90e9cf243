"""The page without a mouse, for a screen reader, with fingers, at twice the size, on a tablet."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from model.storage import read_racquet
from tests.page_browser import Hand, correcting

NewHand = Callable[..., Hand]
SERIOUS = {"serious", "critical"}


@pytest.fixture
def address(paddle_path: Path) -> Iterator[str]:
    with correcting(paddle_path) as found:
        yield found


def test_everything_by_keyboard_alone(address: str, new_hand: NewHand, paddle_path: Path) -> None:
    """Find the drawing with Tab, then move, add, turn, delete, pull, redraw, move a mark, mirror and save."""
    hand = new_hand()
    hand.open(address)
    count = len(hand.points())
    for _ in range(30):
        hand.page.keyboard.press("Tab")
        if hand.page.evaluate("document.activeElement.id") == "drawing":
            break
    assert hand.page.evaluate("document.activeElement.id") == "drawing"
    hand.press("n", "n", "p")
    i = hand.page.evaluate("drawing.point")
    before = hand.points()[i]
    hand.press("ArrowRight", "Shift+ArrowUp")
    np.testing.assert_allclose(hand.points()[i], [before[0] + 0.1, before[1] + 1.0], atol=1e-6)
    assert f"{i + 1} of {count}" in hand.page.locator("#say").inner_text()
    hand.press("Enter")
    assert len(hand.points()) == count + 1
    hand.press("k")
    assert sum(hand.edit()["outer"]["corners"]) >= 1
    hand.press("Delete")
    assert len(hand.points()) == count
    hand.press("2", "n", "]", "Shift+ArrowRight")
    assert hand.page.evaluate("drawing.reach") == 35
    moved = np.array(hand.points()).shape
    assert moved[0] >= count
    hand.press("3", "s", "Enter", "Control+ArrowUp", "Control+ArrowUp", "Enter")
    assert hand.page.evaluate("drawing.tool.anchors.length") == 2
    hand.press("Escape", "4", "n", "n", "n")
    assert hand.page.evaluate("drawing.mark") is not None
    hand.press("Shift+ArrowUp")
    hand.press("Control+s")
    hand.until("drawing.history.isSaved")
    file = read_racquet(paddle_path)
    assert file.correction is not None
    assert len(file.correction.touched) >= 1
    hand.page.keyboard.press("Tab")
    assert hand.page.evaluate("document.activeElement.id") != "drawing"


def test_redrawing_by_keyboard(address: str, new_hand: NewHand) -> None:
    hand = new_hand()
    hand.open(address)
    x, y = next(p for p in hand.points() if p[0] > 80 and 280 < p[1] < 330)
    hand.at_drawing()
    hand.close_up((x, y), 3.0)
    hand.press("3")
    hand.page.keyboard.press("Enter")
    hand.until("drawing.tool.anchors.length === 1")
    hand.press("Control+ArrowDown", "Control+ArrowDown")
    hand.page.keyboard.press("Enter")
    hand.until("drawing.tool.anchors.length === 2")
    before = hand.edit()
    hand.page.keyboard.press("f")
    hand.until("drawing.tool.anchors.length === 0")
    hand.settled()
    assert hand.edit() != before
    assert len(hand.edit()["redrawn"]) == 1


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("tool", ["Points", "Pull", "Redraw", "Landmarks", "Card"])
def test_no_serious_finding_by_axe(scheme: str, tool: str, address: str, new_hand: NewHand) -> None:
    """The checks of axe-core: names, roles, contrast, order, and more."""
    from axe_playwright_python.sync_playwright import Axe

    hand = new_hand(color_scheme=scheme, bypass_csp=True)  # axe is put into the page, which it forbids
    hand.open(address)
    hand.tool(tool)
    hand.page.locator("summary").click()
    results = Axe().run(hand.page)
    found = [v for v in results.response["violations"] if v["impact"] in SERIOUS]
    assert [(v["id"], v["nodes"][0]["html"]) for v in found] == []
    assert len(results.response["passes"]) > 15


def test_every_control_has_a_name_and_a_visible_focus(address: str, new_hand: NewHand) -> None:
    hand = new_hand()
    hand.open(address)
    seen: list[str] = []
    for _ in range(60):
        hand.page.keyboard.press("Tab")
        name, outline = hand.page.evaluate(
            "() => { const e = document.activeElement; const s = getComputedStyle(e);"
            " return [(e.getAttribute('aria-label') || e.labels?.[0]?.innerText || e.innerText || '').trim(),"
            " parseFloat(s.outlineWidth)]; }"
        )
        if hand.page.evaluate("document.activeElement === document.body"):
            break
        assert name
        assert outline >= 2
        seen.append(name)
    assert len(seen) > 15
    assert seen[0] == "To the drawing"


def test_fingers_drag_pan_and_pinch(address: str, new_hand: NewHand) -> None:
    hand = new_hand(viewport={"width": 820, "height": 1180}, has_touch=True)
    hand.open(address)
    spot = next(p for p in hand.points() if p[0] > 80 and p[1] > 220)
    hand.close_up((spot[0], spot[1]), 6.0)
    session = hand.page.context.new_cdp_session(hand.page)

    def touch(kind: str, *fingers: tuple[float, float]) -> None:
        at = [{"x": x, "y": y, "id": i} for i, (x, y) in enumerate(fingers)]
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": at})

    x, y = hand.on_screen((spot[0], spot[1]))
    touch("touchStart", (x + 10, y + 8))  # a finger is not exact
    for step in (6, 12, 18):
        touch("touchMove", (x + 10 + step, y + 8))
    touch("touchEnd")
    hand.settled()
    moved = np.min(np.abs(np.array(hand.points())[:, 0] - (spot[0] + 3.0)))
    assert moved < 0.05
    before = hand.page.evaluate("drawing.view.scale")
    edit = hand.edit()
    touch("touchStart", (300, 500), (500, 500))
    touch("touchMove", (250, 500), (550, 500))
    touch("touchMove", (200, 500), (600, 500))
    touch("touchEnd")
    assert hand.page.evaluate("drawing.view.scale") == pytest.approx(2 * before, rel=0.05)
    assert hand.edit() == edit


@pytest.mark.parametrize("size", [(1280, 800), (820, 1180), (640, 400), (400, 800)])
def test_nothing_is_cut_off(size: tuple[int, int], address: str, new_hand: NewHand) -> None:
    """640 × 400 is the laptop at 200 %. Nothing may need scrolling sideways, nor lie over something else."""
    hand = new_hand(viewport={"width": size[0], "height": size[1]})
    hand.open(address)
    wide: Any = hand.page.evaluate("[document.documentElement.scrollWidth, innerWidth]")
    assert wide[0] <= wide[1]
    assert hand.page.locator("#drawing").bounding_box()["height"] >= 300
    for name in ("Save", "Undo", "Whole"):
        box = hand.page.get_by_role("button", name=name, exact=False).first.bounding_box()
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= size[0]


def test_doubtful_stretches_one_by_one(paddle_path: Path, new_hand: NewHand) -> None:
    """D goes to each, Y declares it right, and the file then has its own sd there."""
    from model.racquet_file import RacquetFile
    from model.sight_record import DoubtRecord
    from model.storage import write_racquet

    file: RacquetFile = read_racquet(paddle_path)
    ring = file.outline.outer_mm
    side = [i for i, (x, y) in enumerate(ring) if x > 80 and 200 < y < 260]
    doubt = DoubtRecord(
        start_mm=ring[side[0]], end_mm=ring[side[-1]], length_mm=60.0, side="right side", reason="faint edge"
    )
    write_racquet(paddle_path, file.model_copy(update={"doubts": [doubt]}))
    with correcting(paddle_path) as address:
        hand = new_hand()
        hand.open(address)
        assert "faint edge" in hand.page.get_by_role("region", name="In doubt").inner_text()
        hand.at_drawing()
        hand.press("d")
        assert abs(hand.page.evaluate("drawing.view.x") - 94) < 15
        hand.press("y")
        assert "settled by hand" in hand.page.get_by_role("region", name="In doubt").inner_text()
        hand.save()
        hand.page.goto("about:blank")  # it would miss the server
    after = read_racquet(paddle_path)
    assert after.doubts == []
    assert after.correction is not None
    assert [stretch.how for stretch in after.correction.touched] == ["declared right"]


def test_what_is_in_doubt_for_the_others_sake_is_so_no_longer_once_they_are_right(
    paddle_path: Path, new_hand: NewHand
) -> None:
    from digitise.doubt import REST
    from model.cautions import NEEDS_CORRECTION
    from model.racquet_file import RacquetFile
    from model.sight_record import DoubtRecord
    from model.storage import write_racquet

    file: RacquetFile = read_racquet(paddle_path)
    ring = np.array(file.outline.outer_mm)
    step_mm = np.linalg.norm(np.roll(ring, -1, axis=0) - ring, axis=1)
    last = int(np.searchsorted(np.cumsum(step_mm), 0.3 * step_mm.sum()))

    def doubt(first: int, to: int, reason: str) -> DoubtRecord:
        ends = [ring[at].tolist() for at in (first, to)]
        length_mm = float(step_mm[first:to].sum())
        return DoubtRecord(
            start_mm=ends[0], end_mm=ends[1], length_mm=length_mm, side="right side", reason=reason
        )

    doubts = [doubt(0, last, "faint edge"), doubt(last + 1, len(ring) - 1, REST)]
    write_racquet(paddle_path, file.model_copy(update={"doubts": doubts, "flags": [NEEDS_CORRECTION]}))
    with correcting(paddle_path) as address:
        hand = new_hand()
        hand.open(address)
        listed = hand.page.get_by_role("region", name="In doubt")
        assert REST in listed.inner_text()
        assert listed.get_by_role("button", name="Right as it is").count() == 1  # not for the rest
        hand.at_drawing()
        hand.press("d")
        hand.press("y")
        words = listed.inner_text()
        assert "settled by hand" in words
        assert "no longer in doubt" in words
        hand.save()
        hand.page.goto("about:blank")  # it would miss the server
    after = read_racquet(paddle_path)
    assert after.doubts == []
    assert after.flags == []


def test_an_answer_that_is_called_off_half_way_is_none(paddle_path: Path, new_hand: NewHand) -> None:
    with correcting(paddle_path) as address:
        hand = new_hand()
        hand.open(address)
        came = hand.page.evaluate(
            """async () => {
                const { post } = await import(new URL("static/api.js", location.href));
                const asking = new AbortController(), fetched = window.fetch;
                window.fetch = async (path, { signal }) => new Response(new ReadableStream({
                    start: (body) => signal.addEventListener("abort", () => body.error(signal.reason)),
                }));
                const answer = post("figures", {}, asking.signal);
                setTimeout(() => asking.abort(), 20);
                try { await answer; return "an answer"; }
                catch (error) { return error.name; }
                finally { window.fetch = fetched; }
            }"""
        )
    assert came == "AbortError"
