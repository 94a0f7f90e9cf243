"""Every kind of piece against closed forms, and the properties all of them share."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.integrate import quad

from model.errors import StripError
from model.face import Landmarks, with_hoop
from model.handle import GRIP_MM, ring_means
from model.laying import lay, twin
from model.moments import geometry_moments, polyline_moments
from model.outline import Outline, outline_from_rings
from model.pieces import (
    Clock,
    EdgeStrip,
    FromHandleTop,
    FromTip,
    HandleRing,
    OpeningStrip,
    Piece,
)
from model.placement import added, lay_all
from model.regions import region
from model.site import Site, site_of
from model.spelling import parse_piece
from tests.drawn_pieces import pieces, strips
from tests.model_samples import HANDLE_TOP, STRUNG_TOPS, ellipse, paddle, perforated, rectangle, strung

Array = NDArray[np.float64]

T = 14.0  # face
H = 30.0  # handle
EXACT = 1e-6
PADDLE = site_of(paddle(), HANDLE_TOP, T, H)
R = 150.0
CIRCLE = site_of(outline_from_rings(ellipse(0, R, R, R, 72_000)), Landmarks(100.0), T, H)
BOX = site_of(outline_from_rings(rectangle(-40, 0, 40, 200)), Landmarks(50.0), T, H)
STRUNG = site_of(strung(), with_hoop(strung(), STRUNG_TOPS), 22.0, H)


def sums(site: Site, *texts: str, mirror: bool = False) -> Array:
    return added(lay_all(site, [parse_piece(t) for t in texts], mirror)[0])


def arc(m: float, angle: float, half: float, u: float, uu: float, zz: float) -> Array:
    """Means over an arc of half-angle ``half`` about ``angle`` (clockwise from +y), offset u outwards."""
    sinc, double = math.sin(half) / half, math.sin(2 * half) / (2 * half)
    r2 = R * R + 2 * R * u + uu
    x, y = (R + u) * math.sin(angle) * sinc, (R + u) * math.cos(angle) * sinc
    xx = r2 * (1 - math.cos(2 * angle) * double) / 2
    yy = r2 * (1 + math.cos(2 * angle) * double) / 2
    return m * np.array([1, x, R + y, xx, yy + 2 * R * y + R * R, zz])


@pytest.mark.parametrize(
    ("options", "u", "uu", "zz"),
    [
        ("", 0.0, 0.0, T**2 / 12),
        (", width 6mm", 0.0, 0.0, 3.0),
        (", width 6mm, thickness 0.5mm, 2 layers", 0.5, 0.25 + 1 / 12, 3.0),
        (", stand-off 2mm", 2.0, 4.0, T**2 / 12),
        (", on the face, width 6mm", -3.0, 9 + 36 / 12, 49.0),
        (", on the face, width 6mm, thickness 1mm, stand-off 2mm", -5.0, 25 + 3, 7.5**2 + 1 / 12),
        (", width 20mm", -1.5 * 0.3, 0.3 * 3, 0.7 * T**2 / 12 + 0.3 * 49),
    ],
)
def test_an_arc_of_a_circle(options: str, u: float, uu: float, zz: float) -> None:
    """With its width, thickness and stand-off; the polygon of 72,000 sides is a circle to 1e-9."""
    angle, half = 0.9, 0.4
    got = sums(CIRCLE, f"5g:{2 * half * R:.9f}mm@{angle * R:.9f}mm{options}")
    assert got == pytest.approx(arc(5.0, angle, half, u, uu, zz), rel=EXACT)


def test_a_strip_on_a_straight_edge() -> None:
    got = sums(BOX, "3g:60mm@90mm, on the face, width 8mm, stand-off 1mm")
    x = 40 - 1 - 4
    y = 200 - (90 - 40)
    want = 3 * np.array([1, x, y, x**2 + 64 / 12, y**2 + 60**2 / 12, 49.0])
    assert got == pytest.approx(want, rel=1e-12)


def test_a_strip_round_a_rectangles_corner() -> None:
    """Half on the top, half on the side: two straight strips."""
    corner = sums(BOX, "4g:40mm@40mm, width 6mm, thickness 1mm")
    top, side = (30.0, 200.5), (40.5, 190.0)
    want = np.array([4, 0, 0, 0, 0, 4 * 3.0])
    for (x, y), dx, dy in ((top, 20**2 / 12, 1 / 12), (side, 1 / 12, 20**2 / 12)):
        want[1:5] += 2 * np.array([x, y, x * x + dx, y * y + dy])
    assert corner == pytest.approx(want, rel=1e-12)


def test_the_whole_rectangles_perimeter() -> None:
    """From the handle top at 50 mm: two sides of 150 mm and the top of 80 mm."""
    got = sums(BOX, "19g@perimeter")
    per = 19 / (150 + 150 + 80)
    xx = per * (300 * 40**2 + 80**3 / 12)
    yy = per * (300 * (125**2 + 150**2 / 12) + 80 * 200**2)
    want = [19, 0, per * (300 * 125 + 80 * 200), xx, yy, 19 * T**2 / 12]
    assert got == pytest.approx(want, rel=EXACT, abs=1e-9)


@pytest.mark.parametrize(
    ("outline", "marks"), [(paddle(), HANDLE_TOP), (strung(), with_hoop(strung(), STRUNG_TOPS))]
)
def test_a_full_perimeter_band_is_the_edge_bands_own_moments(outline: Outline, marks: Landmarks) -> None:
    rim = geometry_moments(region(outline, marks, "rim"))
    got = sums(site_of(outline, marks, T, H), "7g@perimeter")
    assert got[:5] == pytest.approx(7 * np.array(rim.values()[:5]) / rim.size, rel=EXACT, abs=1e-6)


def test_distance_from_the_handle_top_counts_towards_the_tip() -> None:
    right = lay(BOX, parse_piece("3g:20mm@30mm from the handle top"))
    assert right.curve_mm.mean(axis=0) == pytest.approx([40, 80])
    left = lay(BOX, parse_piece("3g:20mm@-30mm from handle top"))
    assert left.curve_mm.mean(axis=0) == pytest.approx([-40, 80])
    assert right.middle_mm == pytest.approx(40 + 120)


def test_a_patch_is_a_rectangle() -> None:
    got = sums(PADDLE, "2g:30x20mm@x25 y250, thickness 0.5mm, 2 layers")
    want = 2 * np.array(
        [1, 25, 250, 25**2 + 30**2 / 12, 250**2 + 20**2 / 12, (7 + 0.5) ** 2 + 1 / 12],
    )
    assert got == pytest.approx(want, rel=1e-12)


def test_a_patch_turned_by_a_quarter_and_by_an_eighth() -> None:
    assert sums(PADDLE, "2g:30x20mm@x25 y250, turned 90") == pytest.approx(
        sums(PADDLE, "2g:20x30mm@x25 y250"), rel=1e-12
    )
    got = sums(PADDLE, "2g:30x20mm@x0 y250, turned 45")
    assert got[3] == pytest.approx(2 * (30**2 + 20**2) / 24, rel=1e-12)


def test_inside_an_openings_rim() -> None:
    """A circle of 5 mm about (30, 270) on the perforated sample: the tape lies inside it."""
    site = site_of(perforated(), HANDLE_TOP, T, H)
    n, r = 48, 5.0
    length = 2 * n * r * math.sin(math.pi / n) / 4  # a quarter of the 48-gon
    got = sums(site, f"0.5g:{length}mm@opening 3 at 12, thickness 0.4mm")
    inside = r * math.cos(math.pi / n) - 0.2
    # The tape follows 12 sides; the mean of y over them, from each side's middle.
    angles = (np.arange(12) - 5.5) * 2 * math.pi / n
    assert got[1] == pytest.approx(0.5 * 30, rel=1e-9)
    assert got[2] == pytest.approx(0.5 * (270 + inside * np.cos(angles).mean()), rel=1e-6)
    assert got[5] == pytest.approx(0.5 * T**2 / 12)


def test_ring_means_in_closed_form_and_by_quadrature() -> None:
    assert ring_means(np.array([3.0]), np.array([3.0]))[0] == pytest.approx([4.5], rel=1e-9)
    for a, b in ((5.0, 2.0), (2.0, 5.0), (3.0, 3.001)):
        ds = lambda t, a=a, b=b: math.hypot(a * math.sin(t), b * math.cos(t))  # noqa: E731
        whole = quad(ds, 0, math.pi / 2)[0]
        xx = quad(lambda t, a=a, ds=ds: (a * math.cos(t)) ** 2 * ds(t), 0, math.pi / 2)[0] / whole
        zz = quad(lambda t, b=b, ds=ds: (b * math.sin(t)) ** 2 * ds(t), 0, math.pi / 2)[0] / whole
        got = ring_means(np.array([a]), np.array([b]))
        assert [got[0][0], got[1][0]] == pytest.approx([xx, zz], rel=1e-6)


def test_a_ring_round_the_handle() -> None:
    """Of a stated radius: x² and z² are both r²/2."""
    got = sums(PADDLE, "4g:40mm@handle at 60mm, radius 16mm")
    want = 4 * np.array([1, 0, 60, 128, 60**2 + 40**2 / 12, 128])
    assert got == pytest.approx(want, rel=1e-9, abs=1e-9)


def test_under_the_grip_lies_nearer_the_axis() -> None:
    outside = sums(PADDLE, "4g:40mm@handle at 60mm")
    beneath = sums(PADDLE, "4g:40mm@under the grip at 60mm")
    xx, zz = ring_means(np.array([17 - GRIP_MM]), np.array([15 - GRIP_MM]))
    assert beneath[[3, 5]] == pytest.approx([4 * xx[0], 4 * zz[0]], rel=1e-9)
    assert (beneath[[3, 5]] < outside[[3, 5]]).all()


def test_a_plug_in_the_butt() -> None:
    got = sums(PADDLE, "9g@butt")
    assert got == pytest.approx(9 * np.array([1, 0, 6, 17**2 / 4, 36 + 12, 15**2 / 4]), rel=1e-9)
    assert sums(PADDLE, "9g@butt, depth 24mm")[2] == pytest.approx(9 * 12)


def test_across_the_throat_on_the_face() -> None:
    got = sums(PADDLE, "3g:20mm@throat, on the face, width 6mm")
    assert got == pytest.approx(3 * np.array([1, 0, 130, 400 / 12, 130**2 + 3, 49]), rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("3g:20mm@opening 4 at 12", "has openings 1 to 3"),
        ("3g:76mm@opening 1 at 12", "longer than the rim of opening 1"),
        ("3g:20x20mm@x500 y250", "wholly beside the racquet"),
        ("3g:20x20mm@x0 y50", "lies on the handle"),
        ("3g:20mm@handle at 125mm", "does not lie on the handle"),
        ("3g:20mm@handle at 5mm", "does not lie on the handle"),
        ("3g@butt, depth 200mm", "reaches past the handle top"),
    ],
)
def test_pieces_that_do_not_fit(text: str, words: str) -> None:
    with pytest.raises(StripError, match=words):
        lay(site_of(perforated(), HANDLE_TOP, T, H), parse_piece(text))


def test_the_handle_top_is_only_so_far_from_the_tip() -> None:
    """Of the box 150 mm of side and 40 mm of top."""
    for sign, mid in (("", 0.01), ("-", -0.01)):
        got = lay(BOX, parse_piece(f"3g:20mm@{sign}189.99mm from the handle top"))
        assert got.middle_mm == pytest.approx(mid)
        with pytest.raises(StripError, match=r"lies 191 mm from .*, but the tip is only 190 mm"):
            lay(BOX, parse_piece(f"3g:20mm@{sign}191mm from the handle top"))


@pytest.mark.parametrize(
    ("texts", "words"),
    [
        (("3g:30x20mm@x0 y250", "3g:30x20mm@x20 y250"), "lie on one another over 2.0 cm²"),
        (("3g:20mm@handle at 60mm", "3g:20mm@handle at 70mm"), "lie on one another"),
        (("3g:100mm@30mm from the handle top",), "runs 20 mm past the handle top"),
        (("3g:60x40mm@x30 y270",), "lies over an opening with 1.2 cm²"),
        (("3g:30x20mm@x95 y270",), "hangs over the outline with 3.0 cm²"),
    ],
)
def test_oddities_are_said(texts: tuple[str, ...], words: str) -> None:
    site = site_of(perforated(), HANDLE_TOP, T, H)
    _, notes = lay_all(site, [parse_piece(text) for text in texts])
    assert len(notes) == 1
    assert words in notes[0]


@pytest.mark.parametrize(
    "texts",
    [
        ("3g:76mm@3, width 6mm", "3g:76mm@3, on the face, width 6mm"),
        ("3g:76mm@2, on the face, width 6mm", "3g:76mm@2, on the face, width 6mm, back"),
        ("3g:40mm@handle at 60mm", "3g:40mm@under the grip at 60mm"),
        ("3g:60mm@2", "3g:60mm@4"),
    ],
)
def test_nothing_odd(texts: tuple[str, ...]) -> None:
    assert lay_all(PADDLE, [parse_piece(text) for text in texts])[1] == []


def test_covers_have_the_strips_own_area() -> None:
    flat = lay(BOX, parse_piece("3g:60mm@90mm, on the face, width 8mm, stand-off 1mm"))
    assert flat.cover.area == pytest.approx(480, rel=1e-6)
    assert flat.cover.bounds == pytest.approx((31, 120, 39, 180))
    folded = lay(BOX, parse_piece("3g:60mm@90mm, width 24mm"))
    assert folded.cover.bounds == pytest.approx((35, 120, 41, 180))


@settings(max_examples=60, deadline=None)
@given(strips())
def test_cutting_a_strip_in_two_changes_nothing(strip: EdgeStrip) -> None:
    assert isinstance(strip.place, FromTip)
    quarter = strip.length_mm / 4
    halves = [
        replace(
            strip, mass_g=strip.mass_g / 2, length_mm=2 * quarter, place=FromTip(strip.place.mm + d * quarter)
        )
        for d in (-1, 1)
    ]
    whole = lay(PADDLE, strip).integrals
    assert added([lay(PADDLE, h) for h in halves]) == pytest.approx(whole, rel=EXACT, abs=1e-6)


@settings(max_examples=40, deadline=None)
@given(st.floats(40, 90), st.floats(2, 60))
def test_cutting_a_ring_in_two_changes_nothing(y: float, length: float) -> None:
    site = STRUNG
    whole = lay(site, HandleRing(mass_g=4, y_mm=y, length_mm=length)).integrals
    parts = [HandleRing(mass_g=2, y_mm=y + d * length / 4, length_mm=length / 2) for d in (-1, 1)]
    assert added([lay(site, p) for p in parts]) == pytest.approx(whole, rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(pieces)
def test_twins_mirror(piece: Piece) -> None:
    one, other = lay(PADDLE, piece).integrals, lay(PADDLE, twin(PADDLE, piece)).integrals
    assert other == pytest.approx(one * np.array([1, -1, 1, 1, 1, 1]), rel=1e-9, abs=1e-6)


@settings(max_examples=40, deadline=None)
@given(pieces, st.floats(0.1, 5))
def test_integrals_are_linear_in_mass(piece: Piece, factor: float) -> None:
    once = lay(PADDLE, piece).integrals
    assert lay(PADDLE, piece.scaled(factor)).integrals == pytest.approx(factor * once, rel=1e-12)


def test_twins_of_openings_and_handle_tops() -> None:
    site = site_of(perforated(), HANDLE_TOP, T, H)
    other = twin(site, OpeningStrip(mass_g=1, opening=1, hours=2.0, length_mm=3))
    assert isinstance(other, OpeningStrip)
    assert (other.opening, other.hours) == (3, 10.0)
    strip = EdgeStrip(mass_g=1, length_mm=10, place=FromHandleTop(50))
    flipped = twin(PADDLE, strip)
    assert isinstance(flipped, EdgeStrip)
    assert flipped.place == FromHandleTop(50, left=True)
    clock = twin(PADDLE, EdgeStrip(mass_g=1, length_mm=10, place=Clock(0.0)))
    assert isinstance(clock, EdgeStrip)
    assert clock.place == Clock(0.0)


def test_polyline_integrals_agree_with_the_plain_ones() -> None:
    laid = lay(STRUNG, parse_piece("5g:200mm@2"))
    m = polyline_moments(laid.curve_mm)
    assert laid.integrals[:5] == pytest.approx(5 * np.array(m.values()[:5]) / m.size, rel=1e-12)
