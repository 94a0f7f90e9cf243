"""Zones of a search in words, as stretches of the edge."""

from __future__ import annotations

import math

import numpy as np
import pytest

from model.columns import Ground
from model.errors import SearchError
from model.pieces import EdgeStrip, FromTip
from model.program import Goal
from model.search import search
from model.zones import zone_stretches
from tests.search_cases import (
    SITE,
    TAPE,
    found,
    frame,
    up,
)


@pytest.mark.parametrize(
    ("zones", "mirror", "want"),
    [
        ((), True, [(0, 0)]),
        (("40mm to 200mm",), True, [(40, 200)]),
        (("40mm to 200mm",), False, [(-200, -40), (40, 200)]),
        (("left 40mm to 200mm",), False, [(-200, -40)]),
        (("100mm to 20cm", "30mm to 120mm"), True, [(30, 200)]),
        (("9:00 to 11:00",), True, [(0, 0)]),
    ],
)
def test_zones(zones: tuple[str, ...], mirror: bool, want: list[tuple[float, float]]) -> None:
    got = zone_stretches(SITE, list(zones), mirror)
    if want == [(0, 0)]:
        want = [(0.0, SITE.handle_tops_mm[1])] if not zones else zone_stretches(SITE, ["1:00 to 3:00"], True)
    assert np.array(got) == pytest.approx(np.array(want))


CORNER = math.hypot(20, 30)  # the sample paddle's: 75 mm from the tip, and its sides run straight from there
AT = {
    1: 75 + CORNER * (140 * math.tan(math.pi / 6) - 75) / (20 + 30 * math.tan(math.pi / 6)),
    1.5: 75 + CORNER + (110 - 95),
    2: 75 + CORNER + (110 - 95 / math.tan(math.pi / 3)),
    3: 75 + CORNER + 110,
}  # where these hours' rays from 140 mm under the tip meet the edge, 95 mm from the axis
TOP = SITE.handle_tops_mm[0]


@pytest.mark.parametrize(
    ("zone", "mirror", "want"),
    [
        ("11:00 to 2:00", True, [(0, AT[2])]),
        ("10:00 to 1:00", True, [(0, AT[2])]),
        ("11:00 to 1:00", True, [(0, AT[1])]),
        ("12 to 3", True, [(0, AT[3])]),
        ("9 to 12:00", True, [(0, AT[3])]),
        ("10:30 to 11:00", True, [(AT[1], AT[1.5])]),
        ("3 to 6", True, [(AT[3], TOP)]),
        ("10:00 to 1:30", False, [(-AT[2], AT[1.5])]),
        ("2:00 to 3:00", False, [(AT[2], AT[3])]),
        ("6:00 to 10:00", False, [(-TOP, -AT[2])]),
        ("left 2:00 to 3:00", False, [(-AT[3], -AT[2])]),
        ("left 10:00 to 1:30", False, [(-AT[2], 0)]),
        ("right 10:00 to 1:30", False, [(0, AT[1.5])]),
        ("right 30mm to 60mm", False, [(30, 60)]),
        ("2:00 to 250mm", False, [(-250, -AT[2]), (AT[2], 250)]),
    ],
)
def test_zones_by_the_clock_run_clockwise(zone: str, mirror: bool, want: list[tuple[float, float]]) -> None:
    assert np.array(zone_stretches(SITE, [zone], mirror)) == pytest.approx(np.array(want), abs=1e-6)


def test_tape_across_the_tip_is_found_where_a_zone_allows_it() -> None:
    """The sample paddle's tip is straight: there swing weight costs least twist weight on the axis."""
    ground = Ground(tuple(zone_stretches(SITE, ["11:00 to 1:00"], True)))
    got = found(search(frame(up("swing", 1.0), goal=Goal("twist")), SITE, TAPE, ground))
    (piece,) = got.pieces
    assert isinstance(piece, EdgeStrip)
    assert piece.place == FromTip(0.0)


@pytest.mark.parametrize(
    ("zone", "mirror", "words"),
    [
        ("4:30 to 2:00", True, "runs clockwise across the handle: turn the two round"),
        ("5:00 to 7:00", False, "one up to 6:00 and one from there"),
        ("3:00 to 3:00", True, "no stretch of the edge"),
        ("2.5 to 4", True, "in the zone '2.5 to 4', the place '2.5' is no clock position: write 2:30 for"),
        ("2:75 to 4", True, "'2:75' does not exist"),
        ("0 to 40mm", True, "write 0mm for a distance"),
        ("somewhere", True, "can't be read"),
        ("left", True, "names one side"),
        ("600mm to 700mm", True, "no stretch of the edge"),
        ("40kg to 50mm", True, "zone's end"),
    ],
)
def test_bad_zones(zone: str, mirror: bool, words: str) -> None:
    with pytest.raises(SearchError, match=words):
        zone_stretches(SITE, [zone], mirror)
