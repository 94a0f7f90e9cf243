"""Drafts of racquets marked from scratch: kept from the first moment, and opened again."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

from model.storage import read_racquet, write_racquet
from tests.page_browser import PHOTO, ROOT, Hand, correcting
from tests.page_marks import OPTIONS, mark_racquet, to_racquet

NewHand = Callable[..., Hand]


def test_a_marked_racquets_draft_is_opened_again(new_hand: NewHand, tmp_path: Path) -> None:
    target = tmp_path / "by-hand.racquet.json"
    draft = tmp_path / ".by-hand.racquet.json.draft"
    with correcting(PHOTO, *OPTIONS, "--out", target) as address:
        hand = new_hand()
        hand.page.goto(address)
        to_racquet(hand)
        mark_racquet(hand)
        assert draft.exists()  # marking alone is worth keeping
        hand.at_drawing()
        hand.press("n", "Shift+ArrowRight")
        edit, steps = hand.edit(), hand.page.evaluate("drawing.history.steps.length")
        assert steps == 2
        hand.page.goto("about:blank")
    assert not target.exists()
    with correcting(target) as address:  # by the name it will have
        hand.open(address)
        assert hand.edit() == edit
        hand.page.goto("about:blank")
    with correcting(PHOTO, *OPTIONS, "--out", target) as address:
        hand.open(address)
        assert hand.edit() == edit
        assert hand.page.locator("#state").inner_text() == "Not saved yet, kept as a draft"
        hand.at_drawing()
        hand.press("Control+z")
        assert hand.page.evaluate("drawing.history.at") == 0
        hand.press("Control+y")
        hand.save()
        hand.page.goto("about:blank")
    assert [reading.kind for reading in read_racquet(target).readings] == ["weight", "pendulum"]
    assert not draft.exists()


def test_a_draft_of_another_photo_is_not_written_over(paddle_path: Path, tmp_path: Path) -> None:
    from digitise.page.desk import Desk
    from digitise.photo import read_photo

    file = read_racquet(paddle_path)
    assert file.photo is not None
    other = file.model_copy(update={"photo": file.photo.model_copy(update={"sha256": "0" * 64})})
    write_racquet(paddle_path, other)
    target = tmp_path / "new.racquet.json"
    desk = Desk(target, read_photo(PHOTO), read_racquet(paddle_path))
    kept = desk.draft_path.read_bytes()
    command = [sys.executable, "-m", "digitise", "correct", str(PHOTO), "--out", str(target), "--no-browser"]
    ran = subprocess.run(command, capture_output=True, text=True, check=False, cwd=ROOT)
    assert ran.returncode == 1
    assert "was marked on club-paddle.jpg" in ran.stderr
    assert desk.draft_path.read_bytes() == kept
