"""The page in a real browser, on a 12 MP photo, with what it writes read back from the file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from shapely import distance, points
from shapely.geometry import LinearRing

from digitise.page.follow import evenly
from model.storage import read_racquet
from tests.page_browser import Hand, correcting

NewHand = Callable[..., Hand]
STALE = "409"  # the browser notes a refused save as an error of its own


def outline(path: Path) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    return np.array(read_racquet(path).outline.outer_mm)


def nearest(hand: Hand, x: float, y: float) -> int:
    away = np.hypot(*(np.array(hand.points()) - [x, y]).T)
    return int(np.argmin(away))


def test_a_dragged_point_moves_the_saved_outline(hand: Hand, paddle_path: Path) -> None:
    before = read_racquet(paddle_path)
    spot = hand.points()[nearest(hand, 95, 230)]
    hand.close_up((spot[0], spot[1]), 8.0)
    hand.drag([(spot[0], spot[1]), (spot[0] + 5.0, spot[1])])
    assert hand.page.locator("#state").inner_text().startswith("Not saved yet")
    hand.save()
    file = read_racquet(paddle_path)
    assert file.outline.width_mm.value == pytest.approx(before.outline.width_mm.value + 5.0, abs=0.8)
    near = points(np.array([[spot[0] + 5.0, spot[1]]]))
    assert distance(LinearRing(outline(paddle_path)), near)[0] < 1.0
    assert file.correction is not None
    assert file.correction.automatic is not None
    assert file.correction.automatic.outline == before.outline
    assert {stretch.how for stretch in file.correction.touched} == {"moved"}
    assert file.figures.twist_weight_kgcm2.value > before.figures.twist_weight_kgcm2.value


def test_figures_follow_a_drag_and_say_what_changed(hand: Hand) -> None:
    assert "same" in hand.figure("width")
    spot = hand.points()[nearest(hand, 95, 230)]
    hand.close_up((spot[0], spot[1]), 8.0)
    hand.drag([(spot[0], spot[1]), (spot[0] + 3.0, spot[1])])
    change = float(hand.figure("width").split("+")[1])
    assert change == pytest.approx(3.0, abs=0.5)
    assert "+" in hand.figure("twist weight")


def test_undo_reaches_back_over_a_reload(hand: Hand) -> None:
    first = hand.edit()
    spot = hand.points()[10]
    hand.close_up((spot[0], spot[1]))
    hand.drag([(spot[0], spot[1]), (spot[0] + 1.0, spot[1] + 1.0)])
    second = hand.edit()
    hand.at_drawing()
    hand.press("Delete")
    assert hand.edit() not in (first, second)
    hand.page.reload()
    hand.ready()
    hand.at_drawing()
    hand.press("Control+z")
    assert hand.edit() == second
    hand.press("Control+z")
    assert hand.edit() == first
    hand.press("Control+y")
    assert hand.edit() == second


def test_undo_reaches_back_over_a_restart(paddle_path: Path, new_hand: NewHand) -> None:
    with correcting(paddle_path) as address:
        hand = new_hand()
        hand.open(address)
        first = hand.edit()
        hand.at_drawing()
        hand.press("n", "Shift+ArrowRight")
        second = hand.edit()
        hand.page.goto("about:blank")
    with correcting(paddle_path) as address:
        hand.open(address)
        assert hand.edit() == second
        hand.at_drawing()
        hand.press("Control+z")
        assert hand.edit() == first
        hand.page.goto("about:blank")


def test_mirror_makes_both_sides_alike(hand: Hand, paddle_path: Path) -> None:
    spot = hand.points()[nearest(hand, 95, 230)]
    hand.close_up((spot[0], spot[1]), 8.0)
    hand.drag([(spot[0], spot[1]), (spot[0] + 4.0, spot[1])])
    hand.page.get_by_role("button", name="Right side onto left").click()
    hand.settled()
    hand.save()
    ring = outline(paddle_path)
    twin = LinearRing(ring * [-1.0, 1.0])
    apart = distance(twin, points(ring))
    # The rim is seen from one lens: each side by its own shift, good to a tenth of a millimetre.
    assert np.sqrt(np.mean(apart**2)) < 0.08
    assert apart.max() < 0.4


def test_both_sides_at_once(hand: Hand, paddle_path: Path) -> None:
    before = read_racquet(paddle_path).outline.width_mm.value
    hand.page.get_by_role("button", name="Both sides").click()
    spot = hand.points()[nearest(hand, 95, 230)]
    hand.close_up((spot[0], spot[1]), 8.0)
    hand.drag([(spot[0], spot[1]), (spot[0] + 3.0, spot[1])])
    hand.save()
    assert read_racquet(paddle_path).outline.width_mm.value == pytest.approx(before + 6.0, abs=1.0)


def test_pull_moves_softly_within_its_reach(hand: Hand, paddle_path: Path) -> None:
    before = LinearRing(outline(paddle_path))
    hand.tool("Pull")
    place = hand.page.evaluate("drawing.edit.outer && [95, 300]")
    on_line = hand.page.evaluate(
        "([x, y]) => { const p = drawing.edit.outer.points; return p.reduce((b, q) =>"
        " Math.hypot(q[0]-x, q[1]-y) < Math.hypot(b[0]-x, b[1]-y) ? q : b); }",
        place,
    )
    hand.close_up((on_line[0], on_line[1]), 6.0)
    hand.drag([(on_line[0], on_line[1]), (on_line[0] + 4.0, on_line[1])])
    hand.save()
    ring = outline(paddle_path)
    moved = distance(before, points(ring))
    away = np.hypot(*(ring - on_line).T)
    assert moved[away < 6].max() == pytest.approx(4.0, abs=0.4)
    assert moved[away > 60].max() < 1.0  # a spline swings a little beyond what was pulled
    halfway = moved[(away > 12) & (away < 17)]
    assert 0.8 < np.median(halfway) < 3.6


def damage(hand: Hand, low_mm: float, high_mm: float) -> None:
    """Spoil the right side between two heights: every point there up to 7 mm outward."""
    hand.page.evaluate(
        """([low, high]) => {
          const outer = structuredClone(drawing.edit.outer);
          for (const p of outer.points) {
            const share = (p[1] - low) / (high - low);
            if (p[0] > 0 && share > 0 && share < 1) p[0] += 7 * Math.sin(Math.PI * share) ** 2;
          }
          drawing.commit({ ...drawing.edit, outer });
        }""",
        [low_mm, high_mm],
    )
    hand.settled()


def truth_on_sheet(path: Path) -> LinearRing:
    """The outline traced from the untouched photo, which is within 0.25 mm of the truth."""
    return LinearRing(outline(path))


@pytest.mark.parametrize("by_clicks", [False, True])
def test_redrawing_with_snapping_recovers_a_damaged_outline(
    by_clicks: bool, hand: Hand, paddle_path: Path
) -> None:
    good = truth_on_sheet(paddle_path)
    ring = outline(paddle_path)
    side = ring[(ring[:, 0] > 0) & (ring[:, 1] > 170) & (ring[:, 1] < 370)]
    side = evenly(
        side[np.argsort(side[:, 1])], 1.0, closed=False
    )  # a ring has few points where it is straight
    damage(hand, 190, 350)
    hand.save()
    spoilt = outline(paddle_path)
    there = (spoilt[:, 0] > 0) & (spoilt[:, 1] > 200) & (spoilt[:, 1] < 340)
    assert np.sqrt(np.mean(distance(good, points(spoilt[there])) ** 2)) > 3.0
    hand.tool("Redraw")
    hand.page.evaluate("drawing.fit(); drawing.drawNow(true)")
    wobble = np.random.default_rng(4).normal(0, 0.8, (9, 2))
    rough = side[np.linspace(0, len(side) - 1, 9).astype(int)] + wobble
    if by_clicks:
        for x, y in rough[::2]:
            hand.page.mouse.click(*hand.on_screen((x, y)))
            hand.page.wait_for_timeout(400)
        hand.page.get_by_role("button", name="Finish").click()
        hand.until("!drawing.tool.isDrawing")  # the line is sent once every click has its answer
        hand.settled()
    else:
        hand.drag([(x, y) for x, y in rough])
    hand.save()
    mended = outline(paddle_path)
    there = (mended[:, 0] > 0) & (mended[:, 1] > 175) & (mended[:, 1] < 365)
    assert np.sqrt(np.mean(distance(good, points(mended[there])) ** 2)) <= 0.5
    correction = read_racquet(paddle_path).correction
    assert correction is not None
    (redrawn,) = [stretch for stretch in correction.touched if stretch.how == "redrawn"]
    assert redrawn.length_mm == pytest.approx(210, abs=25)
    assert redrawn.sd_mm == pytest.approx(0.15, abs=0.05)


def test_a_self_crossing_is_shown_and_cannot_be_saved(hand: Hand, paddle_path: Path) -> None:
    before = paddle_path.read_bytes()
    i = nearest(hand, 95, 230)
    spot = hand.points()[i]
    hand.page.evaluate("drawing.fit(); drawing.drawNow(true)")
    hand.drag([(spot[0], spot[1]), (-130.0, spot[1])])
    wrong = hand.page.get_by_role("list", name="What is wrong")
    assert "crosses itself" in wrong.inner_text()
    assert hand.page.get_by_role("button", name="Save").is_disabled()
    at = hand.page.evaluate("drawing.problems[0].at")
    assert abs(at[1] - spot[1]) < 60
    hand.page.keyboard.press("Control+s")
    hand.settled()
    assert paddle_path.read_bytes() == before
    hand.press("Control+z")
    assert hand.page.get_by_role("button", name="Save").is_enabled()


def test_two_windows_on_one_file(address: str, hand: Hand, new_hand: NewHand, paddle_path: Path) -> None:
    second = new_hand()
    second.open(address)
    assert "another window" in second.page.locator("#banner").inner_text()
    second.page.get_by_role("button", name="Close").click()
    hand.at_drawing()
    hand.press("n", "Shift+ArrowRight")
    first_edit = hand.edit()
    second.at_drawing()
    second.page.keyboard.press("n")
    second.page.keyboard.press("Shift+ArrowUp")
    second.page.wait_for_selector("#banner:not([hidden])")
    assert "Another window has changed this racquet" in second.page.locator("#banner").inner_text()
    assert hand.edit() == first_edit
    hand.save()
    saved = paddle_path.read_bytes()
    second.page.get_by_role("button", name="Show what the other window has").click()
    second.ready()
    assert second.edit() == first_edit
    assert paddle_path.read_bytes() == saved
    second.troubles = [trouble for trouble in second.troubles if STALE not in trouble]


@pytest.mark.parametrize(
    ("old", "new", "words", "choice"),
    [
        ('"flags": [', '"flagged": [', "something else has written there", "all that the file holds"),
        ('"face_source": "stated"', '"face_source": "default"', "got another outline", "the file's outline"),
    ],
)
def test_a_file_changed_by_something_else_is_not_overwritten(
    old: str, new: str, words: str, choice: str, hand: Hand, paddle_path: Path
) -> None:
    hand.at_drawing()
    hand.press("n", "Shift+ArrowRight")
    changed = paddle_path.read_text("utf-8").replace(old, new)
    paddle_path.write_text(changed, "utf-8")
    hand.page.get_by_role("button", name="Save").click()
    hand.page.wait_for_selector("#banner:not([hidden])")
    assert words in hand.page.locator("#banner").inner_text()
    assert paddle_path.read_text("utf-8") == changed
    hand.page.get_by_role("button", name=f"Write over {choice}").click()
    hand.until("drawing.history.isSaved")
    assert paddle_path.read_text("utf-8") != changed
    hand.troubles = [trouble for trouble in hand.troubles if STALE not in trouble]


def test_card_corners_rescale_everything(hand: Hand, paddle_path: Path) -> None:
    before = read_racquet(paddle_path)
    hand.tool("Card")
    card: Any = hand.page.evaluate("drawing.sheet.card")
    middle = np.mean(card, axis=0)
    # Both right-hand corners 2 % nearer to the middle: the card seems smaller, so the racquet larger.
    hand.page.evaluate("drawing.fit(); drawing.drawNow(true)")
    for i in range(4):
        spot = np.array(hand.page.evaluate(f"drawing.sheet.card[{i}]"))
        now = np.mean(hand.page.evaluate("drawing.sheet.card"), axis=0)
        hand.close_up((spot[0], spot[1]), 8.0)
        inward = spot + 0.03 * (now - spot)
        hand.drag([(spot[0], spot[1]), (inward[0], inward[1])])
    assert middle.shape == (2,)
    assert "same" not in hand.figure("length")
    hand.save()
    after = read_racquet(paddle_path)
    growth = after.outline.length_mm.value / before.outline.length_mm.value
    assert growth == pytest.approx(1 / 0.97, abs=0.012)
    assert after.scale is not None
    assert before.scale is not None
    assert after.scale.card.corners_px != before.scale.card.corners_px
    hand.press("Control+z", "Control+z", "Control+z", "Control+z")
    assert "same" in hand.figure("length")


def test_landmarks_and_axis(hand: Hand, paddle_path: Path) -> None:
    before = read_racquet(paddle_path).landmarks.handle_top_mm
    hand.tool("Landmarks")
    hand.page.evaluate("drawing.fit(); drawing.drawNow(true)")
    y = hand.edit()["handle_top_mm"]
    hand.drag([(46.0, y), (46.0, y + 6.0)])
    hand.page.get_by_label("Axis at the tip").fill("1.5")
    hand.page.keyboard.press("Enter")
    hand.settled()
    hand.save()
    file = read_racquet(paddle_path)
    assert file.landmarks.handle_top_mm.value == pytest.approx(before.value + 6.0, abs=0.5)
    assert file.landmarks.handle_top_mm.sd < before.sd
    assert file.correction is not None
    assert file.correction.axis_moved


def test_an_opening_is_drawn_and_deleted(hand: Hand, paddle_path: Path) -> None:
    hand.tool("Redraw")
    hand.page.get_by_role("button", name="Snap to edges").click()
    hand.page.get_by_role("button", name="New opening").click()
    hand.page.evaluate("drawing.fit(); drawing.drawNow(true)")
    turn = np.linspace(0, 2 * np.pi, 30)
    hand.drag([(30 * np.cos(a), 250 + 30 * np.sin(a)) for a in turn])
    assert len(hand.edit()["openings"]) == 1
    hand.save()
    (ring,) = read_racquet(paddle_path).outline.openings_mm
    radius = np.hypot(*(np.array(ring) - np.mean(ring, axis=0)).T)
    assert radius.mean() == pytest.approx(30.0, abs=1.0)
    hand.page.get_by_label("Line", exact=True).select_option("1")
    hand.page.get_by_role("button", name="Delete this opening").click()
    hand.settled()
    hand.save()
    assert read_racquet(paddle_path).outline.openings_mm == []
