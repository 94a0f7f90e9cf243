"""Strips: how they are read, where they lie, what they add."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.errors import StripError
from model.face import Landmarks, with_hoop
from model.laying import lay
from model.moments import polyline_moments
from model.outline import outline_from_rings
from model.pieces import Clock, EdgeStrip, FromTip
from model.placement import added, lay_all
from model.site import Site, site_of
from model.spelling import parse_piece
from tests.model_samples import HANDLE_TOP, STRUNG_TOPS, ellipse, paddle, strung

THICK = 14.0
PADDLE = site_of(paddle(), HANDLE_TOP, THICK)
R = 150.0
CIRCLE = site_of(outline_from_rings(ellipse(0, R, R, R, 7200)), Landmarks(100.0), THICK)


def sums(site: Site, *texts: str, mirror: bool = False) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    return added(lay_all(site, [parse_piece(t) for t in texts], mirror)[0])


@pytest.mark.parametrize(
    ("text", "mass", "length", "hours", "along"),
    [
        ("3g:76mm@3:30", 3, 76, 3.5, None),
        ("3:76@12", 3, 76, 0, None),
        ("3g:76mm@6", 3, 76, 6, None),
        ("3g:76mm@180mm", 3, 76, None, 180),
        ("3g:76mm@180", 3, 76, None, 180),
        ("3g:76mm@-180", 3, 76, None, -180),
        ("0.1oz:3in@-180mm", 0.1 * 28.349523125, 76.2, None, -180),
        (" 2 g : 5 cm @ +3in ", 2, 50, None, 76.2),
    ],
)
def test_reading_strips(
    text: str, mass: float, length: float, hours: float | None, along: float | None
) -> None:
    strip = parse_piece(text)
    assert strip.mass_g == pytest.approx(mass)
    assert isinstance(strip, EdgeStrip)
    assert strip.length_mm == pytest.approx(length)
    if hours is not None:
        assert strip.place == Clock(hours)
    else:
        assert isinstance(strip.place, FromTip)
        assert strip.place.mm == pytest.approx(along)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("3g", "must be MASS:LENGTH@WHERE"),
        ("3g@3:30", "must be MASS:LENGTH@WHERE"),
        ("3g:76mm@", "must be MASS:LENGTH@WHERE"),
        ("-3g:76mm@3", "more than zero, not -3 g"),
        ("0:76mm@3", "more than zero, not 0 g"),
        ("3g:0mm@3", "longer than zero"),
        ("3g:76kg@3", "unknown unit 'kg'"),
        ("3g:76mm@13:00", "clock position '13:00' does not exist"),
        ("3g:76mm@3:60", "clock position '3:60' does not exist"),
        ("3g:76mm@top", "place along the edge 'top'"),
    ],
)
def test_bad_strips_are_refused(text: str, words: str) -> None:
    with pytest.raises(StripError, match=words):
        parse_piece(text)


def test_a_tiny_strip_is_a_point_mass() -> None:
    want = 3 * np.array([1, 95, 270, 95**2, 270**2, THICK**2 / 12])
    assert sums(PADDLE, "3g:0.001mm@3") == pytest.approx(want, rel=1e-6)


def test_a_long_strip_on_a_straight_edge() -> None:
    m, length = 4.0, 120.0
    got = sums(PADDLE, f"{m}g:{length}mm@9")
    want = m * np.array([1, -95, 270, 95**2, 270**2 + length**2 / 12, THICK**2 / 12])
    assert got == pytest.approx(want, rel=1e-12)


@settings(deadline=None)
@given(st.floats(-1.5, 1.5), st.floats(0.05, 1.0))
def test_a_strip_on_a_circle(angle: float, half: float) -> None:
    """An arc of half-angle h about the angle a: means of sin and cos over it in closed form."""
    m = 5.0
    got = sums(CIRCLE, f"{m}g:{2 * half * R:.9f}mm@{angle * R:+.9f}mm")
    sinc, double = math.sin(half) / half, math.sin(2 * half) / (2 * half)
    x = R * math.sin(angle) * sinc
    y = R + R * math.cos(angle) * sinc
    xx = R**2 * (1 - math.cos(2 * angle) * double) / 2
    yy = R**2 * (1 + math.cos(2 * angle) * double) / 2 + 2 * R * (y - R) + R**2
    assert got == pytest.approx(m * np.array([1, x, y, xx, yy, THICK**2 / 12]), rel=2e-6, abs=1e-3)


def test_clock_and_distance_name_the_same_place() -> None:
    corner = math.hypot(20, 30)
    along = 75 + corner + (380 - 270)
    assert sums(PADDLE, f"3g:76mm@{along}mm") == pytest.approx(sums(PADDLE, "3g:76mm@3"), rel=1e-9)


@settings(max_examples=40, deadline=None)
@given(st.floats(-280, 280), st.floats(2, 100))
def test_cutting_a_strip_in_two_changes_nothing(along: float, length: float) -> None:
    whole = sums(PADDLE, f"4g:{length}mm@{along:+.6f}mm")
    low, high = along - length / 4, along + length / 4
    halves = sums(PADDLE, f"2g:{length / 2}mm@{low:+.6f}mm", f"2g:{length / 2}mm@{high:+.6f}mm")
    assert halves == pytest.approx(whole, rel=1e-6, abs=1e-3)


@settings(max_examples=40, deadline=None)
@given(st.floats(5, 280), st.floats(2, 100))
def test_mirror_twins(along: float, length: float) -> None:
    right = sums(PADDLE, f"3g:{length}mm@{along:+.6f}mm")
    left = sums(PADDLE, f"3g:{length}mm@{-along:+.6f}mm")
    both = sums(PADDLE, f"3g:{length}mm@{along:+.6f}mm", mirror=True)
    assert left == pytest.approx(right * np.array([1, -1, 1, 1, 1, 1]), rel=1e-9, abs=1e-6)
    assert both == pytest.approx(left + right, rel=1e-9, abs=1e-6)


def test_clock_twin_is_the_mirrored_hour() -> None:
    laid, notes = lay_all(PADDLE, [parse_piece("3g:60mm@2:30")], mirror=True)
    assert laid[1].curve_mm == pytest.approx(lay(PADDLE, parse_piece("3g:60mm@9:30")).curve_mm, abs=1e-9)
    assert notes == []


def test_without_a_string_bed_six_o_clock_is_the_face_s_lower_end() -> None:
    """Two rows of holes on the axis, or a hole over an open throat, are no bridge."""
    small = [ellipse(0, y, 4, 4, 24) for y in (145.0, 160.0, 175.0)]
    over_throat = [ellipse(0, 170, 20, 25), ellipse(0, 215, 5, 5, 24)]
    for openings in (small, over_throat):
        site = site_of(outline_from_rings(paddle().outer_mm, openings), Landmarks(190.0, 2.0), THICK)
        assert site.throat_mm == site.face_bottom_mm == 190.0


def test_a_place_beside_six_o_clock_lies_on_its_ray_on_the_bridge() -> None:
    """At a quarter past six the hand points 7.5° to the left of straight down."""
    site = site_of(strung(), Landmarks(190.0, 2.0, 340.0), 22.0)
    laid = lay(site, parse_piece("3g:20mm@6:15"))
    down = site.centre_mm[1] - (335 + 515 - 159) / 2
    assert laid.curve_mm[:, 0].mean() == pytest.approx(-down * np.tan(np.radians(7.5)), rel=1e-3)


@pytest.mark.parametrize("where", ["12", "0mm", "6"])
def test_a_strip_on_the_axis_is_laid_once(where: str) -> None:
    laid, notes = lay_all(PADDLE, [parse_piece(f"3g:20mm@{where}")], mirror=True)
    assert len(laid) == 1
    assert "its own mirror twin" in notes[0]


def test_six_o_clock_lies_across_the_throat() -> None:
    m = 3.0
    want = m * np.array([1, 0, 130, 20**2 / 12, 130**2, THICK**2 / 12])
    assert sums(PADDLE, "3g:20mm@6") == pytest.approx(want, rel=1e-9, abs=1e-9)
    with pytest.raises(StripError, match="across the throat, which is 34 mm wide"):
        lay(PADDLE, parse_piece("3g:76mm@6"))


def test_six_o_clock_on_a_frame_is_the_bridge_under_its_string_bed() -> None:
    """The bridge lies between 335 and 356 mm; tape along its middle lies over no opening."""
    site = site_of(strung(), with_hoop(strung(), STRUNG_TOPS), 22.0)
    (laid,), notes = lay_all(site, [parse_piece("3g:20mm@6")])
    assert laid.curve_mm[:, 1] == pytest.approx(np.full(2, (335 + 515 - 159) / 2), abs=0.2)
    assert notes == []


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("3g:76mm@700mm", "give a smaller distance"),
        ("3g:76mm@500mm", "reaches the butt of the handle"),
        ("3g:2000mm@12", "longer than the whole edge"),
    ],
)
def test_strips_that_do_not_fit_are_refused(text: str, words: str) -> None:
    with pytest.raises(StripError, match=words):
        lay(PADDLE, parse_piece(text))


def test_overlaps_are_said() -> None:
    strips = [parse_piece("3g:76mm@100mm"), parse_piece("3g:76mm@150mm"), parse_piece("3g:20mm@-100mm")]
    _, notes = lay_all(PADDLE, strips, mirror=False)
    assert notes == [
        "the strip '3g:76mm@100mm' and the strip '3g:76mm@150mm' lie on one another over 26 mm: "
        "they count as two layers"
    ]
    assert (
        "mirror twin of '3g:60mm@20mm'" in lay_all(PADDLE, [parse_piece("3g:60mm@20mm")], mirror=True)[1][0]
    )


def test_a_strip_round_the_whole_face_is_the_rim() -> None:
    side = 75 + math.hypot(20, 30) + 200 + math.hypot(20, 30) + math.hypot(58, 20)
    laid = lay(PADDLE, EdgeStrip(mass_g=10.0, length_mm=2 * side, place=FromTip(0.0)))
    rim = polyline_moments(PADDLE.edge.stretch(-side, side))
    want = 10 * np.array(rim.values()[:5]) / (2 * side)
    assert added([laid])[:5] == pytest.approx(want, rel=1e-9, abs=1e-6)
    assert laid.curve_mm[0] == pytest.approx([-17, 130], abs=1e-6)
