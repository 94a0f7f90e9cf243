"""Polishing: exact slopes, ends cut to tenths of a mm, and the limits kept."""

from __future__ import annotations

import numpy as np
import pytest

from model.columns import Ground, columns_of
from model.layout import Bench, Layout, layout_of
from model.limits import Limit
from model.pieces import HandleRing
from model.polish import polish, rounded
from model.program import Goal, solve
from model.search import search
from model.zones import zone_stretches
from tests.search_cases import (
    GROUND,
    MET,
    SITE,
    TAPE,
    down_to,
    found,
    frame,
    on_a_frame,
    up,
)


@pytest.mark.parametrize(("twist", "balance"), [(0.04, 2.0), (0.06, 2.0), (0.073, 1.7), (0.08, 2.0)])
def test_ends_lie_at_tenths_within_the_limits_at_hardly_a_cost(twist: float, balance: float) -> None:
    asked, site, ground = on_a_frame(twist, balance)
    bench, columns = Bench(site, TAPE, ground), columns_of(site, TAPE, ground)
    loose = solve(asked, columns)
    assert loose is not None
    exact = polish(asked, bench, layout_of(columns, loose.grams))
    cut = rounded(asked, bench, exact)
    assert cut.layout.edge * 10 == pytest.approx(np.round(cut.layout.edge * 10), abs=1e-9)
    assert bench.added(cut.layout) == pytest.approx(cut.added, rel=1e-12, abs=1e-9)
    assert asked.missed(cut.added) < MET
    assert cut.cost <= exact.cost * 1.002


def test_tape_under_the_grip_ends_at_tenths_too() -> None:
    asked = frame(Limit("weight", 6.0, None, True), goal=Goal("swing"))
    best = found(search(asked, SITE, TAPE, Ground(GROUND.stretches, True, True)))
    (ring,) = best.pieces
    assert isinstance(ring, HandleRing)
    assert ring.mass_g == pytest.approx(ring.strips * ring.length_mm * TAPE.grams_per_mm, rel=1e-9)
    assert asked.missed(best.added) < MET
    ends = np.array([ring.y_mm - ring.length_mm / 2, ring.y_mm + ring.length_mm / 2])
    assert ends * 10 == pytest.approx(np.round(ends * 10), abs=1e-6)


@pytest.mark.parametrize("places", ["edge", "handle", "both"])
@pytest.mark.parametrize("mirror", [True, False])
def test_slopes_of_a_layout_are_its_differences(places: str, mirror: bool) -> None:
    bench = Bench(SITE, TAPE, Ground(tuple(zone_stretches(SITE, [], mirror)), mirror, True, 9.0))
    edge = [[40.3, 88.1], [151.7, 260.2]] if places != "handle" else []
    handle = [[30.4, 71.6]] if places != "edge" else []
    layout = Layout(np.array(edge).reshape(-1, 2), np.array(handle).reshape(-1, 2), 2.5)
    total, slopes = bench.added_and_slopes(layout)
    assert total == pytest.approx(bench.added(layout), rel=1e-12, abs=1e-9)
    at, step = layout.vector(), 1e-3
    for k, column in enumerate(slopes.T):
        move = np.where(np.arange(len(at)) == k, step, 0.0)
        difference = bench.added(layout.at(at + move)) - bench.added(layout.at(at - move))
        assert column == pytest.approx(difference / (2 * step), rel=1e-5, abs=1e-5)


@pytest.mark.parametrize(("recoil", "balance"), [(1.12, 2.09), (0.7, 3.37), (2.4, 1.2)])
def test_a_steep_ratio_on_the_handle_is_reached(recoil: float, balance: float) -> None:
    """By the swing axis tape hardly adds swing weight: a small error of slope or place is large there."""
    ground = Ground(GROUND.stretches, True, True)
    asked = frame(up("recoil", recoil), down_to("balance", balance), goal=Goal("twist", -1.0, "swing"))
    loose = solve(asked, columns_of(SITE, TAPE, ground))
    assert loose is not None
    best = found(search(asked, SITE, TAPE, ground))
    assert asked.missed(best.added) < MET
    assert best.goal <= asked.cost(loose.added) * 0.99
