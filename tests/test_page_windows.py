"""Two windows on one racquet: each is told of the other, and either may go on."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from digitise.page.guard import LARGEST_BODY_BYTES
from model.storage import read_racquet
from tests.page_browser import Hand, correcting

NewHand = Callable[..., Hand]
STALE = "409"  # the browser notes a refused save as an error of its own
TOLD_MS = 10_000


@pytest.fixture
def address(paddle_path: Path) -> Iterator[str]:
    with correcting(paddle_path) as found:
        yield found


@pytest.fixture
def hands(address: str, new_hand: NewHand) -> tuple[Hand, Hand]:
    first, second = new_hand(), new_hand()
    first.open(address)
    second.open(address)
    return first, second


def nudge(hand: Hand) -> None:
    hand.at_drawing()
    hand.press("n", "Shift+ArrowRight")


def banner(hand: Hand) -> str:
    return str(hand.page.locator("#banner").inner_text())


def go_on(hand: Hand) -> None:
    hand.page.get_by_role("button", name="Go on from here instead").click(timeout=TOLD_MS)
    hand.page.locator("#say", has_text="This window goes on").wait_for(state="attached")
    hand.settled()


def without_conflicts(hand: Hand) -> None:
    hand.troubles = [trouble for trouble in hand.troubles if STALE not in trouble]


def test_a_window_is_told_though_it_still_shows_that_there_is_another(hands: tuple[Hand, Hand]) -> None:
    first, second = hands
    assert "open in another window too" in banner(second)
    nudge(first)
    second.page.get_by_text("Another window has changed this racquet since").wait_for(timeout=TOLD_MS)
    assert second.page.get_by_role("button", name="Go on from here instead").is_visible()


def test_going_on_from_what_is_saved_leaves_it_saved(hands: tuple[Hand, Hand], paddle_path: Path) -> None:
    first, second = hands
    nudge(first)
    go_on(second)
    assert second.page.locator("#state").inner_text() == "Saved"
    second.page.reload()
    second.ready()
    assert second.page.locator("#state").inner_text() == "Saved"
    go_on(first)
    assert first.page.locator("#state").inner_text() == "Not saved yet, kept as a draft"
    first.save()
    go_on(second)
    # what the second window has is no longer what the file holds
    assert second.page.locator("#state").inner_text() == "Not saved yet, kept as a draft"


def test_very_many_steps_are_kept_taken_over_and_saved(hands: tuple[Hand, Hand], paddle_path: Path) -> None:
    first, second = hands
    count = LARGEST_BODY_BYTES // len(json.dumps(first.edit())) + 200
    first.page.evaluate(
        """count => {
            for (let i = 0; i < count; i++) {
                const edit = drawing.history.edit;
                drawing.history.push({ ...edit, handle_top_mm: edit.handle_top_mm + 0.001 });
            }
        }""",
        count,
    )
    first.settled()
    draft = paddle_path.with_name(f".{paddle_path.name}.draft")
    assert len(json.loads(draft.read_text("utf-8"))["steps"]) == 1 + count
    second.page.get_by_role("button", name="Show what the other window has").click(timeout=TOLD_MS)
    second.ready()
    nudge(second)
    go_on(first)
    assert not first.page.locator("#banner").is_visible()
    kept = json.loads(draft.read_text("utf-8"))
    assert len(kept["steps"]) == 1 + count
    assert kept["at"] == count
    before = read_racquet(paddle_path).landmarks.handle_top_mm.value
    first.save()
    after = read_racquet(paddle_path).landmarks.handle_top_mm.value
    assert after - before == pytest.approx(0.001 * count, abs=0.05)
    without_conflicts(second)
