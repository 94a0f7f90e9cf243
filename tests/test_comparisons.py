"""Trade-off, match and what-if: against the search and hand-worked sums."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from model.build import Known, Traced, body_of, build_racquet, site_in
from model.columns import Ground, Tape, columns_of
from model.errors import SearchError, StripError
from model.figure_rows import figures_before
from model.figures import BODY_ORDER
from model.laying import lay
from model.limits import Limit
from model.match import WITHIN, Player, common_target, match, nearest_target, parse_within, sureness
from model.materials import all_materials
from model.outline import outline_from_rings
from model.pieces import Stuff
from model.placement import added, lay_all
from model.program import Frame, Goal
from model.reading_text import balance_reading, weight_reading
from model.search import Found, search
from model.site import site_of
from model.spelling import parse_piece
from model.tradeoff import distance, front
from model.whatif import case, masses_of, side_by_side, sweep_mass, sweep_material, sweep_place
from model.zones import zone_stretches
from tests.model_samples import HANDLE_TOP, paddle, paddle_file

AXIS = 50.0
FILE = paddle_file()
BODY = body_of(FILE).values
SITE = site_in(FILE)
TAPE = Tape(0.04, 0.0, Stuff(6.35, 0.33, 2))
EDGE = Ground(tuple(zone_stretches(SITE, [], True)))
EVERYWHERE = Ground(EDGE.stretches, True, True, 15.0)
FREE = Frame(BODY, AXIS, (), Goal())
COLUMNS = columns_of(SITE, TAPE, EDGE)
BEFORE = figures_before(BODY, AXIS)
LONG = {"weight": "weight_g", "twist": "twist_weight_kgcm2"}
PAIR = parse_piece("3g:76mm@3, mirrored")

LIGHTER = build_racquet(
    paddle(),
    HANDLE_TOP,
    Known("solid", 14.0, 29.0, (weight_reading("224"), balance_reading("236"))),
    Traced(length_sd_mm=0.8, width_sd_mm=0.4),
)


def test_the_front_rises_and_bends_down() -> None:
    curve = front(FREE, COLUMNS)
    assert curve.cost_change[0] == pytest.approx(0.0, abs=1e-3)
    assert (np.diff(curve.gain_change) > 0).all()
    slopes = np.diff(curve.gain_change) / np.diff(curve.cost_change)
    assert (np.diff(slopes) <= 1e-6).all()


def test_the_front_is_what_the_search_finds() -> None:
    curve = front(FREE, COLUMNS, points=5)
    ceiling = Limit("swing", None, BEFORE["swing"] + float(curve.cost_change[2]))
    best = search(Frame(BODY, AXIS, (ceiling,), Goal("twist", -1.0)), SITE, TAPE, EDGE)
    assert isinstance(best, Found)
    assert best.after["twist"] - BEFORE["twist"] == pytest.approx(float(curve.gain_change[2]), rel=5e-3)


def test_distance_of_a_set_up_on_and_off_the_curve() -> None:
    curve = front(FREE, COLUMNS)
    ceiling = Limit("swing", None, BEFORE["swing"] + 2.0)
    best = search(Frame(BODY, AXIS, (ceiling,), Goal("twist", -1.0)), SITE, TAPE, EDGE)
    assert isinstance(best, Found)
    assert distance(FREE, COLUMNS, curve, best.added).share == pytest.approx(1.0, abs=5e-3)
    at_tip = distance(FREE, COLUMNS, curve, added(lay_all(SITE, [parse_piece("6g:76mm@12")])[0]))
    assert at_tip.share is not None
    assert at_tip.share < 0.2
    assert at_tip.least_cost is not None
    assert at_tip.least_cost < 0.2 * at_tip.cost_change
    beyond = distance(FREE, COLUMNS, curve, added(lay_all(SITE, [parse_piece("60g:76mm@3")])[0]))
    assert beyond.share is not None
    assert beyond.share > 1
    assert beyond.least_cost is None


def test_where_nothing_meets_the_limits_for_a_cost_there_is_no_share() -> None:
    """A gram at three o'clock turns the paddle by 0.09 kg·cm²; the limit asks for six times that."""
    asks = Frame(BODY, AXIS, (Limit("twist", BEFORE["twist"] + 0.54, None),), Goal())
    curve = front(asks, COLUMNS)
    one_gram = distance(asks, COLUMNS, curve, added(lay_all(SITE, [parse_piece("1g:30mm@3")])[0]))
    assert (one_gram.best_gain, one_gram.share) == (None, None)
    assert one_gram.gain_change == pytest.approx((95**2 + 14**2 / 12) / 1e5)
    assert one_gram.least_cost == pytest.approx(float(curve.cost_change[0]), rel=1e-6)


def test_of_no_gain_there_is_no_share() -> None:
    """Of a set-up that is no piece at all: for no swing weight no tape gains any twist weight."""
    nothing = distance(FREE, COLUMNS, front(FREE, COLUMNS), np.zeros(6))
    assert nothing.best_gain == pytest.approx(0.0, abs=1e-9)
    assert nothing.share is None


def test_a_front_under_impossible_limits_is_refused() -> None:
    with pytest.raises(SearchError, match="no trade-off"):
        front(Frame(BODY, AXIS, (Limit("twist", 99.0, None),), Goal()), COLUMNS)
    with pytest.raises(SearchError, match="both twist"):
        front(FREE, COLUMNS, "twist", "twist")


def test_a_lighter_racquet_reaches_the_heavier() -> None:
    player = Player("light", body_of(LIGHTER).values, site_in(LIGHTER), TAPE, EVERYWHERE)
    target = {figure: BEFORE[figure] for figure in WITHIN}
    got = match(player, target, WITHIN, AXIS, 4)
    assert got.reached
    laid, _ = lay_all(site_in(LIGHTER), got.found.pieces)
    after = Frame(player.body, AXIS, (), Goal()).values(added(laid))
    for figure, size in WITHIN.items():
        assert abs(after[figure] - target[figure]) <= size + 1e-4


def test_a_heavier_racquet_can_not_and_says_why() -> None:
    target = {figure: figures_before(body_of(LIGHTER).values, AXIS)[figure] for figure in WITHIN}
    got = match(Player("heavy", BODY, SITE, TAPE, EVERYWHERE), target, WITHIN, AXIS, 4)
    assert not got.reached
    assert (
        "weight is 4 g over the target already, more than the 1 allowed, and adding can't lower it"
        in got.why[0]
    )


@pytest.mark.parametrize("figure", ["weight", "twist"])
def test_how_sure_a_match_is(figure: str) -> None:
    """A racquet at the target as it is: the law of one Gaussian, or of the difference of two alike."""
    body, player = body_of(FILE), Player("a", BODY, SITE, TAPE, EDGE)
    sd = float(np.sqrt(body.cov[BODY_ORDER.index(LONG[figure]), BODY_ORDER.index(LONG[figure])]))
    target, within = {figure: BEFORE[figure]}, {figure: 1.2 * sd}
    found = match(player, target, within, AXIS, 4).found
    assert found.pieces == ()
    alone = sureness(FILE, found, target, within, AXIS)
    assert alone.after_sd[figure] == pytest.approx(sd, rel=1e-4)
    assert alone.chance == pytest.approx(math.erf(1.2 / math.sqrt(2)), abs=0.02)
    both = sureness(FILE, found, target, within, AXIS, body)
    assert both.chance == pytest.approx(math.erf(1.2 / 2), abs=0.02)


def test_tape_that_was_not_weighed_makes_a_match_less_sure() -> None:
    """5 g of a tape known to 15 % leave 0.75 g; the racquet's own weight is known to 0.5 g."""
    light = Player("light", body_of(LIGHTER).values, SITE, replace(TAPE, relative_sd=0.15), EDGE)
    target, within = {"weight": 229.0}, {"weight": 0.5}
    found = match(light, target, within, AXIS, 4).found
    sure = sureness(LIGHTER, found, target, within, AXIS)
    own = LIGHTER.figures.weight_g.sd
    assert sure.after_sd["weight"] == pytest.approx(math.hypot(own, 0.15 * found.added[0]), rel=1e-3)
    assert sure.chance < 0.5


def test_a_common_target_is_within_reach_of_all() -> None:
    players = [
        Player("a", BODY, SITE, TAPE, EVERYWHERE),
        Player("b", body_of(LIGHTER).values, site_in(LIGHTER), TAPE, EVERYWHERE),
    ]
    target = common_target(players, WITHIN, AXIS)
    for player in players:
        assert match(player, target, WITHIN, AXIS, 4).reached
    assert target["weight"] <= BEFORE["weight"] + 1
    strict = dict.fromkeys(WITHIN, 1e-4)
    heavy = Player("c", BODY + np.array([0, 40.0, 0, 0, 0]), SITE, TAPE, EDGE)
    with pytest.raises(SearchError, match=r"can't all be brought .* --within 'balance off'|leave out"):
        common_target([players[0], heavy], strict, AXIS)


def test_the_nearest_target_is_missed_by_as_few_as_can_be() -> None:
    """Two of 250 g and one of 230 g that takes 5 g: those two are half a tolerance over."""
    five_grams = Ground((), True, False, 5.0)
    bodies = [BODY + np.array([grams - BODY[0], 0, 0, 0, 0]) for grams in (250.0, 230.0, 250.0)]
    players = [Player(f"{i}", body, SITE, TAPE, five_grams) for i, body in enumerate(bodies)]
    with pytest.raises(SearchError, match="weight 230 to 250 g"):
        common_target(players, {"weight": 1.0}, AXIS)
    assert nearest_target(players, {"weight": 1.0}, AXIS) == pytest.approx({"weight": 249.5})


@pytest.mark.parametrize("text", ["power 3", "twist lots", "twist -1"])
def test_bad_tolerances(text: str) -> None:
    with pytest.raises(SearchError):
        parse_within([text])
    with pytest.raises(SearchError, match="nothing is left"):
        parse_within([f"{figure} off" for figure in WITHIN])


def test_tolerances_take_the_units_that_are_shown() -> None:
    got = parse_within(["twist 0.2 kg·cm²", "weight 0.1oz", "balance 0.2cm", "swing off"])
    assert got == pytest.approx({"weight": 2.8349523125, "balance": 2.0, "twist": 0.2})
    got = parse_within(["weight 1e1", "twist 2e-1kg⋅cm²"])
    assert (got["weight"], got["twist"]) == pytest.approx((10.0, 0.2))
    with pytest.raises(SearchError, match="the unit 'mm' does not fit"):
        parse_within(["twist 2mm"])


def test_a_row_is_the_sum_of_mass_integrals() -> None:
    row = case(FILE, [PAIR], AXIS, "pair")
    assert row.mass_g == 6
    assert row.change[3] == pytest.approx(6 * (95**2 + 14**2 / 12) / 1e5)
    assert row.change[2] == pytest.approx(6 * (220**2 + 76**2 / 12 + 14**2 / 12) / 1e5)


def test_moving_a_pair_along_straight_sides_changes_twist_nowhere() -> None:
    rows = sweep_place(FILE, PAIR, AXIS, 10.0)
    straight = [row for row in rows if row.at is not None and 150 <= row.at <= 270]
    assert len(straight) >= 10
    assert [row.change[3] for row in straight] == pytest.approx([straight[0].change[3]] * len(straight))
    swings = [row.change[2] for row in straight]
    assert swings == sorted(swings, reverse=True)


def test_masses_scale_and_tapes_trade_length_for_density() -> None:
    rows = sweep_mass(FILE, PAIR, AXIS, masses_of("1..3 by 0.5"))
    assert [row.at for row in rows] == [1.0, 1.5, 2.0, 2.5, 3.0]
    assert rows[-1].change[3] == pytest.approx(3 * rows[0].change[3])
    rows, left_out = sweep_material(FILE, PAIR, AXIS, all_materials())
    assert left_out == ["overgrip, 625 mm", "cover, 938 mm"]  # 3 g at 4.8 and 3.2 mg/mm
    tapes = {row.label.split(",")[0]: row for row in rows}
    assert tapes["lead-wide"].at == pytest.approx(3 / 0.041, abs=0.05)  # cut to a tenth of a mm
    # A shorter strip of the same grams has less inertia about its own middle.
    assert tapes["lead-wide"].change[2] < tapes["steel"].change[2]
    with pytest.raises(StripError, match="in g"):
        masses_of("many")
    with pytest.raises(StripError, match="at 400 g weighs 400 g, more than the racquet itself"):
        sweep_mass(FILE, PAIR, AXIS, [1.0, 400.0])
    with pytest.raises(StripError, match="no strip along the edge"):
        sweep_material(FILE, parse_piece("3g@butt"), AXIS, all_materials())


def test_side_by_side() -> None:
    rows = side_by_side({"a": FILE, "b": LIGHTER}, {"a": [PAIR], "b": [PAIR]}, AXIS)
    assert [row.label for row in rows] == ["a", "b"]
    assert rows[0].change[3] == pytest.approx(rows[1].change[3])
    assert rows[0].change[1] != pytest.approx(rows[1].change[1])


def test_no_place_is_minus_nothing() -> None:
    """The tip, on a racquet whose edge is no whole number of steps long."""
    rows = sweep_place(FILE, parse_piece("3g:76mm@3"), AXIS, 20.7)
    (at_tip,) = [row for row in rows if row.at is not None and abs(row.at) < 1]
    assert (at_tip.label, f"{at_tip.at:g}") == ("0 mm", "0")
    low = outline_from_rings(FILE.outline.outer_mm - np.array([0.0, 0.3]))
    site = site_of(low, HANDLE_TOP, 14.0, 30.0)
    with pytest.raises(StripError, match=r"which runs from 0 to 130 mm"):
        lay(site, parse_piece("3g:76mm@handle at 2mm"))
