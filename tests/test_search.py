"""The search: against exhaustive search, within its limits, with proof, and plain about failing."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.columns import Ground, columns_of, table_for
from model.figure_rows import figure_values, slope
from model.limits import Limit, parse_target
from model.pieces import EdgeStrip, FromTip
from model.placement import added, lay_all
from model.program import Goal, solve
from model.search import Found, search
from model.shelf import Shelf, Size, choices_of
from model.whole_strips import search_whole
from model.why_not import WhyNot
from model.zones import zone_stretches
from tests.search_cases import (
    AXIS,
    BEFORE,
    BODY,
    GROUND,
    MET,
    SITE,
    TAPE,
    down_to,
    exhaustive_pairs,
    exhaustive_runs,
    found,
    frame,
    on_a_frame,
    up,
)


def test_pieces_add_what_the_answer_says_and_meet_the_limits() -> None:
    asked = frame(up("twist", 0.5), down_to("swing", 3.0))
    best = found(search(asked, SITE, TAPE, GROUND))
    laid, notes = lay_all(SITE, best.pieces)
    assert notes == []
    assert added(laid) == pytest.approx(best.added, rel=1e-9, abs=1e-6)
    assert asked.missed(added(laid)) < MET
    assert best.goal == pytest.approx(best.added[0])
    assert best.after["twist"] == pytest.approx(BEFORE["twist"] + 0.5, abs=0.01)


def test_the_least_tape_for_twist_lies_at_the_widest_in_closed_form() -> None:
    """Along the straight sides a gram gives x² + t²/12; nothing outside them gives more."""
    best = found(search(frame(up("twist", 0.3)), SITE, TAPE, GROUND))
    per_gram = ((95 + 0.33 / 2) ** 2 + 0.33**2 / 12 + 6.35**2 / 12) / 1e5
    assert best.added[0] == pytest.approx(0.3 / per_gram, rel=2e-3)
    assert best.added[0] >= 0.3 / per_gram - 1e-9
    assert best.bound == pytest.approx(0.3 / per_gram, rel=1e-5)
    assert best.gap is not None
    assert best.gap < 2e-3
    assert best.strips == 2
    (strip,) = best.pieces
    assert isinstance(strip, EdgeStrip)
    assert strip.mirror


LIMITS = [
    (up("twist", 0.4), down_to("swing", 2.5)),
    (up("twist", 0.3), down_to("balance", 0.0)),
    (up("swing", 5.0), down_to("twist", 0.3)),
    (up("recoil", 1.0), up("twist", 0.3)),
    (up("spin", 1.0), down_to("recoil", 0.4)),
    (Limit("balance", 2.0, 2.5, True), up("twist", 0.2)),
]


@pytest.mark.parametrize("limits", LIMITS)
def test_never_worse_than_all_strips_on_a_grid(limits: tuple[Limit, ...]) -> None:
    asked = frame(*limits)
    best = found(search(asked, SITE, TAPE, GROUND))
    assert asked.missed(best.added) < MET
    assert best.goal <= exhaustive_runs(asked, 15.0) * 1.0005
    assert best.bound is not None
    assert best.bound <= best.goal + 1e-9
    assert best.gap is not None
    assert best.gap < 5e-3


@pytest.mark.parametrize(("twist", "balance", "pairs"), [(0.04, 2.0, 1), (0.06, 2.0, 2), (0.08, 2.0, 2)])
def test_two_pairs_where_one_would_weigh_much_more(twist: float, balance: float, pairs: int) -> None:
    """On a strung frame, whose balance lies low: one pair would take a tenth to two fifths more."""
    asked, site, ground = on_a_frame(twist, balance)
    best = found(search(asked, site, TAPE, ground))
    assert len(best.pieces) == pairs
    assert asked.missed(best.added) < MET
    assert best.goal <= exhaustive_runs(asked, 15.0, site, ground) * 1.0005
    assert best.gap is not None
    assert best.gap < 2e-3


@pytest.mark.parametrize("goal", [Goal("twist", -1.0), Goal("twist", -1.0, "swing")])
def test_other_goals_are_never_worse_either(goal: Goal) -> None:
    asked = frame(up("twist", 0.3), down_to("swing", 3.0), goal=goal)
    best = found(search(asked, SITE, TAPE, GROUND))
    assert asked.missed(best.added) < MET
    assert best.goal <= exhaustive_runs(asked, 15.0) + 1e-6


def test_a_bound_of_whole_strips_is_claimed_only_where_it_holds() -> None:
    """An upper limit on recoil weight is taken by its tangent, which cuts off some that meet it."""
    shelf = Shelf(SITE, TAPE, GROUND, (Size(1.0, 40.0),))
    for limits, holds in (((up("twist", 0.3),), True), ((up("twist", 0.3), down_to("recoil", 0.5)), False)):
        best = found(search_whole(frame(*limits), shelf, 6, 20.0))
        assert (best.bound is not None) == holds
        assert best.grid_mm == 20.0


def test_what_whole_strips_lack_is_said() -> None:
    """Two pieces are one pair: its twist weight is most where that of all pairs is."""
    shelf = Shelf(SITE, TAPE, GROUND, (Size(1.0, 40.0),))
    answer = search_whole(frame(up("twist", 0.9)), shelf, 2)
    assert isinstance(answer, WhyNot)
    sums = choices_of(shelf).sums
    most = BEFORE["twist"] + float((sums[:, 3] + sums[:, 5]).max()) / 1e5
    (obstacle,) = answer.obstacles
    assert obstacle.reachable == pytest.approx(most, rel=1e-6)
    assert obstacle.short == pytest.approx(BEFORE["twist"] + 0.9 - most, rel=1e-4)
    assert "with at most 2 pieces of these sizes" in answer.sentence
    assert f"twist can be no more than {most:.5g} kg·cm²" in answer.sentence


def test_whole_strips_against_every_choice() -> None:
    """Up to three pairs out of two sizes on a grid of 30 mm: all choices tried."""
    sizes = (Size(1.0, 40.0), Size(2.2, 70.0))
    shelf = Shelf(SITE, TAPE, GROUND, sizes)
    for limits in ((up("twist", 0.5),), (up("twist", 0.5), down_to("swing", 3.2)), (up("swing", 4.0),)):
        asked = frame(*limits)
        choices = choices_of(shelf, 30.0)
        best = np.inf
        for count in (1, 2, 3):
            for chosen in combinations(range(len(choices.sums)), count):
                ends = choices.ends_mm[list(chosen)]
                order = np.argsort(ends[:, 0])
                clear = (ends[order][1:, 0] >= ends[order][:-1, 1] - 1e-9).all()
                sums = choices.sums[list(chosen)].sum(axis=0)
                if clear and choices.pieces[list(chosen)].sum() <= 6 and asked.missed(sums) < MET:
                    best = min(best, asked.cost(sums))
        got = search_whole(asked, shelf, 6, 30.0)
        if np.isinf(best):
            assert isinstance(got, WhyNot)
            continue
        assert found(got).goal == pytest.approx(best, rel=1e-6)
        assert asked.missed(found(got).added) < MET
        laid, notes = lay_all(SITE, found(got).pieces)
        assert notes == []
        assert added(laid) == pytest.approx(found(got).added, rel=1e-9, abs=1e-6)


def test_where_only_mass_counts_whole_strips_leave_most_room_in_the_limits() -> None:
    """One pair does: of all its places the one taken leaves most room, in hundredths of each figure."""
    asked, size = frame(up("twist", 0.25), down_to("swing", 3.0)), Size(2.2, 70.0)
    best = found(search_whole(asked, Shelf(SITE, TAPE, GROUND, (size,)), 2))

    def room(after: dict[str, float]) -> float:
        twist = (after["twist"] - BEFORE["twist"] - 0.25) / BEFORE["twist"]
        return min(twist, (BEFORE["swing"] + 3.0 - after["swing"]) / BEFORE["swing"])

    every = choices_of(Shelf(SITE, TAPE, GROUND, (size,)), 1.0)
    pairs = every.sums[every.pieces == 2]
    assert room(best.after) >= max(room(asked.values(sums)) for sums in pairs) - 1e-5
    assert asked.missed(best.added) < MET


@pytest.mark.parametrize("mirror", [True, False])
def test_whole_strips_lie_at_tenths_side_by_side(mirror: bool) -> None:
    ground = Ground(((17.123, 399.7),), mirror)
    shelf = Shelf(SITE, TAPE, ground, (Size(3.0, 76.0), Size(1.0, 25.3)))
    asked = frame(down_to("swing", 3.0), goal=Goal("twist", -1.0))
    best = found(search_whole(asked, shelf, 4, 7.0))
    assert asked.missed(best.added) < MET
    middles = [p.place.mm for p in best.pieces if isinstance(p, EdgeStrip) and isinstance(p.place, FromTip)]
    assert len(middles) > 1
    assert [round(10 * s, 6) for s in middles] == [round(10 * s) for s in middles]
    assert lay_all(SITE, best.pieces)[1] == []  # none overlaps


def test_targets_of_a_known_strip_are_reached() -> None:
    table = table_for(SITE, TAPE)
    sums = TAPE.grams_per_mm * (
        table.between(np.array(120.0), np.array(190.0)) + table.between(np.array(-190.0), np.array(-120.0))
    )
    after = figure_values(BODY, sums, AXIS)
    targets = tuple(
        parse_target(f"{name} {after[name]:.9f}", BEFORE) for name in ("swing", "twist", "weight")
    )
    best = found(search(frame(goal=Goal(targets=targets)), SITE, TAPE, GROUND))
    for name in ("swing", "twist", "weight"):
        assert best.after[name] == pytest.approx(after[name], rel=2e-4)


@pytest.mark.parametrize("more", [1.0, 2.4])
def test_of_answers_as_near_to_a_target_the_lightest_is_taken(more: float) -> None:
    """A gram on the sample paddle's straight tip adds most swing weight, wherever along it."""
    density = table_for(SITE, TAPE).upto_and_density(np.array(0.0))[1]
    lightest = more / float(slope("swing", BODY, np.zeros(6), AXIS) @ density)
    target = parse_target(f"swing {BEFORE['swing'] + more:.9f}", BEFORE)
    best = found(search(frame(goal=Goal(targets=(target,))), SITE, TAPE, GROUND))
    assert best.after["swing"] == pytest.approx(BEFORE["swing"] + more, abs=0.005)
    assert best.added[0] == pytest.approx(lightest, rel=5e-3)
    assert best.mass_gap is not None
    assert 0 <= best.mass_gap < 5e-3
    assert best.added[0] * (1 - best.mass_gap) <= lightest


def test_the_lightest_as_near_to_two_targets_is_that_of_the_same_limits() -> None:
    after = {"twist": BEFORE["twist"] + 0.5, "swing": BEFORE["swing"] + 4.0}
    targets = tuple(parse_target(f"{name} {value:.9f}", BEFORE) for name, value in after.items())
    best = found(search(frame(goal=Goal(targets=targets)), SITE, TAPE, GROUND))
    limits = [Limit(name, value - 1e-4, value + 1e-4) for name, value in after.items()]
    least = found(search(frame(*limits), SITE, TAPE, GROUND))
    assert [best.after[name] for name in after] == pytest.approx(list(after.values()), abs=0.01)
    assert best.added[0] == pytest.approx(least.added[0], rel=5e-3)


def test_of_whole_strips_as_near_to_a_target_lighter_ones_are_taken() -> None:
    """The light pair reaches it alone, 308 mm from the axis (1.9e5 = 2 * 308²); heavier ones could too."""
    shelf = Shelf(SITE, TAPE, GROUND, (Size(3.0, 76.0), Size(1.0, 25.0)))
    target = parse_target(f"swing {BEFORE['swing'] + 1.9:.9f}", BEFORE)
    best = found(search_whole(frame(goal=Goal(targets=(target,))), shelf, 4))
    assert best.after["swing"] == pytest.approx(BEFORE["swing"] + 1.9, abs=0.005)
    assert best.added[0] == pytest.approx(2.0)


def test_impossible_twist_says_how_much_there_is() -> None:
    """Full of tape from handle top to handle top is the most."""
    columns = columns_of(SITE, TAPE, GROUND)
    most = BEFORE["twist"] + float(columns.room_g @ (columns.per_gram[:, 3] + columns.per_gram[:, 5])) / 1e5
    answer = search(frame(up("twist", 9.0)), SITE, TAPE, GROUND)
    assert isinstance(answer, WhyNot)
    assert answer.obstacles[0].reachable == pytest.approx(most, rel=1e-6)
    assert answer.obstacles[0].short == pytest.approx(BEFORE["twist"] + 9.0 - most, rel=1e-6)
    assert answer.times_room == pytest.approx(9.0 / (most - BEFORE["twist"]), rel=1e-6)
    assert f"{answer.times_room:.1f} times as much tape" in answer.sentence


def test_the_binding_limit_is_named() -> None:
    answer = search(
        frame(up("twist", 0.5), Limit("swing", None, 0.5, True, "swing at most +0.5")), SITE, TAPE, GROUND
    )
    assert isinstance(answer, WhyNot)
    assert "'swing at most +0.5' can't be met with the others" in answer.sentence
    eased = BEFORE["swing"] + 0.5 + answer.obstacles[0].short
    assert f"swing at 50 mm can be no less than {eased:.5g} kg·cm²" in answer.sentence
    limits = (up("twist", 0.5), Limit("swing", None, eased + 1e-3))
    assert isinstance(search(frame(*limits), SITE, TAPE, GROUND), Found)


@pytest.mark.parametrize("twist", [0.21, 0.33, 0.47])
def test_a_limit_still_binds_when_ends_in_tenths_leave_a_little_room(twist: float) -> None:
    """A tenth of a mm of heavy tape is 0.2 thousandths of the twist weight."""
    heavy = replace(TAPE, grams_per_mm=4 * TAPE.grams_per_mm, stuff=replace(TAPE.stuff, layers=4))
    best = found(search(frame(up("twist", twist)), SITE, heavy, GROUND))
    assert [b.index for b in best.binding] == [0]


def test_one_strip_too_few_is_said() -> None:
    """With one piece allowed and both sides alike only a strip across the tip is left."""
    answer = search(frame(up("twist", 0.5), down_to("swing", 3.0)), SITE, TAPE, GROUND, strips=1)
    assert isinstance(answer, WhyNot)
    assert "with at most 1 piece on the edge (a mirrored pair is two)" in answer.sentence


def test_the_price_of_a_limit_is_its_slope() -> None:
    one = found(search(frame(up("twist", 0.50), down_to("swing", 9.0)), SITE, TAPE, GROUND))
    more = found(search(frame(up("twist", 0.52), down_to("swing", 9.0)), SITE, TAPE, GROUND))
    (binding,) = one.binding
    assert binding.price == pytest.approx((more.goal - one.goal) / 0.02, rel=0.02)


def test_the_price_of_a_balance_is_for_a_mm() -> None:
    asked, site, ground = on_a_frame(0.06, 2.0)
    best = found(search(asked, site, TAPE, ground))
    harder, easier = (found(search(on_a_frame(0.06, mm)[0], site, TAPE, ground)) for mm in (1.8, 2.2))
    prices = {asked.limits[b.index].figure: b.price for b in best.binding}
    assert prices["balance"] == pytest.approx((harder.goal - easier.goal) / 0.4, rel=0.05)


def test_butt_and_handle_balance_the_racquet() -> None:
    ground = Ground(GROUND.stretches, True, True, 20.0)
    asked = frame(up("twist", 0.5), Limit("balance", -0.2, 0.2, True))
    best = found(search(asked, SITE, TAPE, ground))
    assert asked.missed(added(lay_all(SITE, best.pieces)[0])) < MET
    assert (
        isinstance(search(asked, SITE, TAPE, GROUND), WhyNot)
        or best.goal <= found(search(asked, SITE, TAPE, GROUND)).goal + 1e-6
    )


@pytest.mark.parametrize("balance", [1.9, 2.1, 2.4])
def test_one_pair_where_two_would_be_better_is_the_best_of_all_pairs(balance: float) -> None:
    asked, site, ground = on_a_frame(0.05, balance)
    best = found(search(asked, site, TAPE, ground, strips=2))
    assert len(best.pieces) == 1
    assert best.goal <= exhaustive_pairs(asked, 2.0, site, ground) * 1.0005


@settings(max_examples=15, deadline=None)
@given(st.floats(0.1, 1.0), st.floats(1.0, 8.0), st.booleans())
def test_limits_are_never_broken(twist: float, swing: float, mirror: bool) -> None:
    ground = Ground(tuple(zone_stretches(SITE, [], mirror)), mirror)
    asked = frame(up("twist", twist), down_to("swing", swing))
    answer = search(asked, SITE, TAPE, ground)
    if isinstance(answer, Found):
        assert asked.missed(added(lay_all(SITE, answer.pieces)[0])) < MET
        assert answer.strips <= 4
    else:
        assert solve(asked, columns_of(SITE, TAPE, ground)) is None or "on the edge" in answer.sentence
