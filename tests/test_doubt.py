"""Doubtful stretches of outlines whose faint and unequal places are known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest

from digitise.axis import Axis
from digitise.band import mirrored
from digitise.contour import Contour
from digitise.doubt import (
    ALIKE,
    DRAWN,
    ENDLESS,
    FAINT,
    HIDDEN,
    HOLLOW,
    REST,
    RIVAL,
    SD_MM,
    SHADOW,
    UNLIKE,
    UNSUITED,
    calls_for_hand,
    doubtful_share,
    doubtful_stretches,
    phrases,
    widened,
)
from digitise.doubt_looks import Looks
from digitise.resting import Resting
from digitise.spread import spread_of

COUNT = 400


def contour(faint: npt.ArrayLike = (), unequal: npt.ArrayLike = ()) -> Contour:
    """A ring of 400 points whose point 0 is the butt; these places of it are faint, or unequal."""
    angle = 2 * np.pi * np.arange(COUNT) / COUNT
    ring = np.column_stack([64 * np.sin(angle), 64 - 64 * np.cos(angle)])
    strength, apart = np.full(COUNT, 0.9), np.zeros(COUNT)
    strength[np.asarray(faint, int) % COUNT] = 0.1
    apart[np.asarray(unequal, int) % COUNT] = 1.4
    resting = Resting(Axis(np.zeros(2), np.array([0.0, 1.0])), 15.0, 0.0)
    return Contour(resting, ring, strength, apart, np.zeros(COUNT, bool))


def test_a_clear_outline_is_not_in_doubt() -> None:
    assert doubtful_stretches(contour()) == ()


def test_a_stretch_over_the_seam_stays_whole() -> None:
    (doubt,) = doubtful_stretches(contour(faint=np.arange(-10, 11)))
    assert (doubt.first, doubt.last, doubt.length_mm) == (COUNT - 10, 10, 21.0)
    assert doubt.reason == "faint edge"


def test_sides_and_reasons() -> None:
    right, left = doubtful_stretches(contour(np.arange(80, 120), np.arange(290, 310)))
    assert (right.first, right.last, right.side, right.reason) == (80, 119, "right side", "faint edge")
    assert (left.first, left.last, left.side, left.reason) == (290, 309, "left side", "the two sides differ")


def test_above_a_quarter_all_of_the_outline_is_in_doubt() -> None:
    little, much = (doubtful_stretches(contour(faint=np.arange(50, 50 + n))) for n in (100, 101))
    assert [(doubt.first, doubt.last, doubt.reason) for doubt in little] == [(50, 149, "faint edge")]
    assert [(doubt.first, doubt.last, doubt.reason) for doubt in much] == [
        (50, 150, "faint edge"),
        (151, 49, "much of the outline is in doubt"),
    ]
    assert (much[1].length_mm, much[1].sd_mm) == (299.0, SD_MM[REST])
    own, rest = phrases(much)
    assert own == much[0].words()
    assert rest == "all the rest, 299 mm: much of the outline is in doubt"
    assert phrases(little) == [little[0].words()]


def test_words_lead_to_the_place() -> None:
    (doubt,) = doubtful_stretches(contour(faint=np.arange(80, 121)))
    low, high = (64 - 64 * np.cos(2 * np.pi * i / COUNT) for i in (80, 120))
    assert doubt.words() == f"right side, {low:.0f} to {high:.0f} mm from the butt, 41 mm: faint edge"


def test_on_the_face_the_clock_leads_to_the_place() -> None:
    """The ring is a circle all of which is face: a twelfth of its points is an hour."""
    hour = COUNT / 12
    from_three = np.arange(round(3 * hour), round(4 * hour) + 1)  # counter-clockwise from 6: 3 back to 2
    (doubt,) = doubtful_stretches(contour(faint=from_three), None, 0.0)
    assert (doubt.side, doubt.where) == ("right side", "2 o'clock to 3 o'clock")
    (left,) = doubtful_stretches(contour(faint=np.arange(round(7.5 * hour), round(8.5 * hour))), None, 0.0)
    assert (left.side, left.where) == ("left side", "half past 9 to half past 10")
    (short,) = doubtful_stretches(contour(faint=COUNT // 4 + np.arange(-3, 4)), None, 0.0)
    assert short.where == "at 3 o'clock"


def test_ends_are_named() -> None:
    ends = np.concatenate([np.arange(-10, 11), COUNT // 2 + np.arange(-10, 11)])
    assert {doubt.side for doubt in doubtful_stretches(contour(faint=ends))} == {"butt end", "tip"}


def test_looks_give_the_reason_and_the_sd() -> None:
    clear, here = np.zeros(COUNT, bool), np.zeros(COUNT, bool)
    here[60:100] = True
    for looks, reason in (
        (Looks(here, clear, clear, clear), SHADOW),
        (Looks(clear, here | here[-np.arange(COUNT)], clear, clear), UNLIKE),
        (Looks(clear, clear, here, clear), RIVAL),
    ):
        doubt = doubtful_stretches(contour(), looks)[0]
        assert (doubt.first, doubt.last, doubt.reason, doubt.sd_mm) == (60, 99, reason, SD_MM[reason])
        assert len(doubtful_stretches(contour(), looks)) == (2 if reason == UNLIKE else 1)


def test_what_lies_beside_one_side_only_is_no_doubt_where_the_sides_agree() -> None:
    clear, here = np.zeros(COUNT, bool), np.zeros(COUNT, bool)
    here[60:100] = True
    beside = Looks(clear, here, clear, clear)
    assert doubtful_stretches(contour(), beside) == ()
    twins = COUNT - np.arange(60, 100)
    apart = contour()
    apart.apart_mm[twins] = 1.15  # not enough to call the sides unlike
    assert [doubt.reason for doubt in doubtful_stretches(apart, beside)] == [UNLIKE]
    beside_axis = contour()
    beside_axis.apart_mm[:] = 0.8 * np.sin(
        2 * np.pi * np.arange(COUNT) / COUNT
    )  # the axis lies 0.8 mm to the left
    assert doubtful_stretches(beside_axis, beside) == ()
    faint = doubtful_stretches(contour(faint=twins), beside)
    assert [doubt.reason for doubt in faint] == [UNLIKE, FAINT]


def test_a_hoop_that_bends_inward_is_in_doubt() -> None:
    hollow = np.zeros(COUNT, bool)
    hollow[90:130] = True
    (doubt,) = doubtful_stretches(contour(), None, None, hollow)
    assert (doubt.first, doubt.last, doubt.reason, doubt.sd_mm) == (90, 129, HOLLOW, 4.0)


def test_a_faint_edge_of_the_table_s_colour_is_told_as_such_and_the_colour_alone_is_no_doubt() -> None:
    clear, here = np.zeros(COUNT, bool), np.zeros(COUNT, bool)
    here[60:100] = True
    (doubt,) = doubtful_stretches(contour(faint=np.arange(60, 100)), Looks(clear, clear, clear, here))
    assert doubt.reason == ALIKE
    assert doubtful_stretches(contour(), Looks(clear, clear, clear, here)) == ()


def test_doubt_at_an_end_and_at_a_widest_place_widens_length_and_width() -> None:
    spread = spread_of(128.0, 128.0, np.diag([0.3, 0.4]) ** 2, np.zeros((0, 2)))
    tip = contour(faint=COUNT // 2 + np.arange(-10, 11))
    longer = widened(spread, tip, doubtful_stretches(tip))
    assert longer.length_sd_mm == pytest.approx(np.hypot(0.3, SD_MM[FAINT]))
    assert longer.width_sd_mm == pytest.approx(0.4)
    for quarter in (COUNT // 4, 3 * COUNT // 4):
        side = contour(faint=quarter + np.arange(-10, 11))
        wider = widened(spread, side, doubtful_stretches(side))
        assert wider.width_sd_mm == pytest.approx(np.hypot(0.4, SD_MM[FAINT]))


def test_doubt_on_one_side_counts_whichever_twin_lies_farther_out() -> None:
    spread = spread_of(128.0, 128.0, np.diag([0.3, 0.4]) ** 2, np.zeros((0, 2)))
    for beside in (-5, 5):
        tip = contour(faint=COUNT // 2 + beside + np.arange(-4, 5))
        tip.ring_mm[COUNT // 2 + np.array([-5, 5]), 1] = 128.5 + 1e-9 * np.array([1, -1])
        longer = widened(spread, tip, doubtful_stretches(tip))
        assert longer.length_sd_mm == pytest.approx(np.hypot(0.3, SD_MM[FAINT]))


@pytest.mark.parametrize(("length", "count"), [(5, 0), (6, 1)])
def test_short_stretches_are_let_pass(length: int, count: int) -> None:
    assert len(doubtful_stretches(contour(faint=np.arange(50, 50 + length)))) == count


def test_share() -> None:
    assert doubtful_share([], 400.0) == 0.0
    assert doubtful_share([(FAINT, 10.0), (SHADOW, 30.0)], 400.0) == 0.1
    assert doubtful_share([(FAINT, 400.0)], 400.0) == 1.0


def test_where_the_handle_may_end_elsewhere_a_hand_is_called_for() -> None:
    assert calls_for_hand([(FAINT, 10.0), (HIDDEN, 20.0)], 400.0)
    assert doubtful_share([(FAINT, 10.0), (HIDDEN, 20.0)], 400.0) == 0.075


@pytest.mark.parametrize(("faint_to", "clear"), [(24, False), (18, True)])
def test_a_butt_that_is_all_in_doubt_may_end_elsewhere(faint_to: int, clear: bool) -> None:
    """Of this ring 22 points on each side lie within 4 mm of its end."""
    butt = contour(faint=np.arange(-faint_to, faint_to + 1))
    doubts = doubtful_stretches(butt)
    left = [(doubt.reason, doubt.length_mm) for doubt in doubts]
    assert calls_for_hand(left, COUNT) != clear
    assert any(reason == ENDLESS for reason, _ in left) != clear
    if not clear:
        spread = widened(spread_of(128.0, 128.0, np.diag([1.0, 1.0]), np.zeros((0, 2))), butt, doubts)
        assert spread.length_sd_mm == pytest.approx(np.hypot(1.0, SD_MM[ENDLESS]))


def test_a_grip_of_a_width_its_thickness_rules_out_calls_for_a_hand() -> None:
    place = np.arange(COUNT)
    grip = (place > 30) & (place < 60)
    doubts = doubtful_stretches(contour(faint=np.arange(40, 80)), None, None, None, grip | mirrored(grip))
    assert {(doubt.side, doubt.length_mm) for doubt in doubts if doubt.reason == UNSUITED} == {
        ("right side", 29.0),
        ("left side", 29.0),
    }
    # what is in doubt beside it is told by its own reason
    assert [(doubt.reason, doubt.length_mm) for doubt in doubts if doubt.reason != UNSUITED] == [
        (FAINT, 20.0)
    ]
    assert calls_for_hand([(UNSUITED, 29.0)], COUNT)


def test_what_was_drawn_without_an_edge_is_told_and_calls_for_a_hand() -> None:
    rows = np.arange(100, 120)
    guessed = contour(faint=rows)
    guessed = replace(guessed, drawn=np.isin(np.arange(COUNT), rows))
    (doubt,) = doubtful_stretches(guessed)
    assert (doubt.first, doubt.last, doubt.reason, doubt.sd_mm) == (100, 119, DRAWN, 3.0)
    assert calls_for_hand([(doubt.reason, doubt.length_mm)], 400.0)
    assert not calls_for_hand([(FAINT, doubt.length_mm)], 400.0)


def test_what_is_faint_beside_it_makes_what_was_drawn_no_less_grave() -> None:
    faint = contour(faint=np.arange(80, 150))
    guessed = replace(faint, drawn=np.isin(np.arange(COUNT), np.arange(100, 120)))
    told = {(doubt.first, doubt.last): doubt.reason for doubt in doubtful_stretches(guessed)}
    assert told == {(100, 119): DRAWN, (80, 99): FAINT, (120, 149): FAINT}


def test_a_short_gap_between_what_was_drawn_is_no_reason_of_its_own() -> None:
    drawn = np.isin(np.arange(COUNT), [*range(100, 110), *range(116, 126)])
    told = {
        (doubt.first, doubt.last): doubt.reason
        for doubt in doubtful_stretches(replace(contour(), drawn=drawn))
    }
    assert told == {(100, 109): DRAWN, (116, 125): DRAWN}


@pytest.mark.parametrize(("mm", "called"), [(60.0, False), (61.0, True)])
def test_more_than_a_stated_share_in_doubt_calls_for_a_hand(mm: float, called: bool) -> None:
    assert calls_for_hand([(FAINT, mm - 20.0), (SHADOW, 20.0)], 400.0) == called


@pytest.mark.parametrize("faint_to", [10, 60, 90])
def test_a_butt_whose_cap_may_be_hidden_is_in_doubt_and_so_is_the_length(faint_to: int) -> None:
    """10 of 64 mm up are 32 degrees, 36 of 400 points on either side, however faint the grip is above."""
    faint = contour(faint=np.arange(-faint_to, faint_to + 1))
    doubts = doubtful_stretches(replace(faint, hides_cap=True))
    (doubt,) = (each for each in doubts if each.reason == HIDDEN)
    assert (doubt.side, doubt.length_mm) == ("butt end", 73.0)
    told = [each.length_mm for each in doubts if each.reason != REST]
    assert sum(told) == max(73, 2 * faint_to + 1)
    spread = widened(spread_of(128.0, 128.0, np.eye(2), np.zeros((0, 2))), faint, doubts)
    at_tip = SD_MM[REST] if faint_to > 50 else 0.0
    assert spread.length_sd_mm == pytest.approx(np.hypot(np.hypot(1.0, SD_MM[HIDDEN]), at_tip))


@pytest.mark.parametrize(("beside", "widens"), [(8, True), (-20, True), (14, False)])
def test_doubt_just_beside_an_end_is_doubt_of_the_length(beside: int, widens: bool) -> None:
    """Stretches 12 mm long, from so far beside the tip on."""
    spread = spread_of(128.0, 128.0, np.diag([0.3, 0.4]) ** 2, np.zeros((0, 2)))
    tip = contour(faint=COUNT // 2 + beside + np.arange(12))
    longer = widened(spread, tip, doubtful_stretches(tip))
    assert longer.length_sd_mm == pytest.approx(np.hypot(0.3, SD_MM[FAINT] if widens else 0.0))
