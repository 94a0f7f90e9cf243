"""What several test files share: one traced sample photo, and a browser."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from model.racquet_file import RacquetFile
from tests.page_browser import ARGUMENTS, PHOTO, Hand, chromium, correcting


@pytest.fixture(scope="session")
def traced_paddle() -> RacquetFile:
    """The sample paddle's racquet file, traced once for all tests of one worker."""
    from digitise.photo import read_photo
    from digitise.record import racquet_of, with_photo_path
    from digitise.trace import Thickness, trace_photo
    from model.build import Known
    from model.reading_text import balance_reading, weight_reading

    photo = read_photo(PHOTO)
    traced = trace_photo(photo, "solid", Thickness(14.0, 0.3, 30.0, 0.3))
    known = Known("solid", 14.0, 30.0, (weight_reading("231"), balance_reading("238")))
    return with_photo_path(racquet_of(photo, traced, known, False), PHOTO, Path("/"))


@pytest.fixture
def paddle_path(traced_paddle: RacquetFile, tmp_path: Path) -> Path:
    """The sample paddle's racquet file, a copy of one's own to spoil."""
    from model.storage import write_racquet

    assert traced_paddle.photo is not None
    photo = traced_paddle.photo.model_copy(update={"path": str(PHOTO)})
    path = tmp_path / "club.racquet.json"
    write_racquet(path, traced_paddle.model_copy(update={"photo": photo}))
    return path


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """The system's chromium, without a window."""
    executable = chromium()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=executable, args=ARGUMENTS)
        yield started
        started.close()


@pytest.fixture
def new_hand(browser: Any) -> Iterator[Callable[..., Hand]]:
    """Hands on new windows, closed afterwards; no window may have had an error."""
    hands: list[Hand] = []

    def make(**options: Any) -> Hand:
        settings = {"viewport": {"width": 1280, "height": 800}} | options
        hand = Hand(browser.new_page(**settings))
        hands.append(hand)
        return hand

    yield make
    for hand in hands:
        hand.page.close()
    assert [trouble for hand in hands for trouble in hand.troubles] == []


@pytest.fixture
def address(paddle_path: Path) -> Iterator[str]:
    """The page's address, of one's own copy of the sample paddle's file."""
    with correcting(paddle_path) as found:
        yield found


@pytest.fixture
def hand(address: str, new_hand: Callable[..., Hand]) -> Hand:
    """A hand on that page, opened in a window of its own, which is closed before the server stops."""
    opened = new_hand()
    opened.open(address)
    return opened
