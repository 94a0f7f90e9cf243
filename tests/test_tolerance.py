"""How exactly pieces are cut, weighed and placed: covariance against drawn placements."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from model.laying import lay
from model.materials import all_materials
from model.outline import outline_from_rings
from model.pieces import EdgeStrip, FromTip
from model.placement import added, lay_all
from model.site import site_of
from model.spelling import parse_piece
from model.tolerance import Tolerance, placement_cov, risen, throat_risen
from tests.model_samples import (
    EXACTLY,
    HANDLE_TOP,
    STRUNG_TOPS,
    paddle,
    perforated,
    rectangle,
    shuttle_frame,
    strung,
)

SITE = site_of(paddle(), HANDLE_TOP, 14.0, 30.0)


def test_exact_pieces_have_no_spread() -> None:
    laid, _ = lay_all(SITE, [parse_piece("3g:76mm@3"), parse_piece("2g@butt")])
    assert not placement_cov(SITE, laid, EXACTLY).any()


def test_a_strip_that_slips_along_a_straight_side() -> None:
    laid, _ = lay_all(SITE, [parse_piece("3g:76mm@3")])
    sd = np.sqrt(np.diag(placement_cov(SITE, laid, Tolerance(3.0, 0.0))))
    assert sd == pytest.approx([0, 0, 9, 0, 2 * 3 * 270 * 3, 0], rel=1e-9, abs=1e-6)


def test_mass_errors_add_in_quadrature() -> None:
    laid, _ = lay_all(SITE, [parse_piece("3g:76mm@3"), parse_piece("3g:76mm@9")])
    cov = placement_cov(SITE, laid, Tolerance(0.0, 0.1))
    assert cov[0, 0] == pytest.approx(2 * 0.01)
    assert cov[1, 1] == pytest.approx(2 * (0.1 * 95) ** 2)
    assert cov[0, 1] == pytest.approx(0.0, abs=1e-12)


def test_pieces_of_one_material_err_together() -> None:
    pieces = [parse_piece(f"lead:76mm@{hour}", all_materials()) for hour in (3, 9)]
    laid, _ = lay_all(SITE, pieces)
    cov = placement_cov(SITE, laid, Tolerance(0.0, 0.1))
    assert np.sqrt(cov[0, 0]) == pytest.approx(2 * 76 * 0.003)


@pytest.mark.parametrize("where", ["2", "1:30", "4:30"])
def test_against_drawn_places(where: str) -> None:
    strip = parse_piece(f"3g:40mm@{where}")
    assert isinstance(strip, EdgeStrip)
    one = lay(SITE, strip)
    assert one.middle_mm is not None
    rng = np.random.default_rng(4)
    drawn = np.array(
        [
            lay(SITE, replace(strip, mass_g=3 + 0.1 * m, place=FromTip(one.middle_mm + 2 * s))).integrals
            for m, s in rng.normal(size=(800, 2))
        ]
    )
    sd = np.sqrt(np.diag(placement_cov(SITE, [one], Tolerance(2.0, 0.1))))
    assert sd == pytest.approx(drawn.std(axis=0), rel=0.08)


def test_patches_and_rings_slip_too() -> None:
    laid, _ = lay_all(SITE, [parse_piece("2g:20x20mm@x10 y250"), parse_piece("4g:30mm@handle at 60mm")])
    sd = np.sqrt(np.diag(placement_cov(SITE, laid, Tolerance(3.0, 0.0))))
    assert sd[:3] == pytest.approx([0, 2 * 3, np.hypot(2 * 3, 4 * 3)])
    assert added(laid)[0] == 6


@pytest.mark.parametrize(
    ("where", "x_sd_mm", "y_sd_mm"), [("12", 3.0, 0.0), ("2:30", 3.0, 0.0), ("3", 0.0, 3.0), ("6", 3.0, 0.0)]
)
def test_a_strip_in_an_opening_slips_along_its_rim(where: str, x_sd_mm: float, y_sd_mm: float) -> None:
    """In a slot far from round, where an hour on the clock is a few mm in one place and many in another."""
    slotted = outline_from_rings(paddle().outer_mm, [rectangle(-60, 230, 60, 250)])
    site = site_of(slotted, HANDLE_TOP, 14.0, 30.0)
    laid, _ = lay_all(site, [parse_piece(f"2g:8mm@opening 1 at {where}")])
    sd = np.sqrt(np.diag(placement_cov(site, laid, Tolerance(3.0, 0.0))))
    assert sd[:3] == pytest.approx([0, 2 * x_sd_mm, 2 * y_sd_mm], abs=1e-9)


@pytest.mark.parametrize("place_mm", [8.0, 15.7, 31.4])
def test_a_strip_in_a_small_hole_can_lie_anywhere_in_it(place_mm: float) -> None:
    """Half the rim, 15.7 mm, is the hole's other side: at most it lies off by the hole's radius of 5 mm."""
    site = site_of(perforated(), HANDLE_TOP, 14.0, 30.0)
    laid, _ = lay_all(site, [parse_piece("2g:0.1mm@opening 2 at 12")])
    sd = np.sqrt(np.diag(placement_cov(site, laid, Tolerance(place_mm, 0.0))))
    assert sd[1] == pytest.approx(2 * 5, rel=1e-2)


@pytest.mark.parametrize("place_mm", [1.0, 14.0, 20.0, 100.0])
def test_a_slip_longer_than_there_is_room_for_counts_in_full(place_mm: float) -> None:
    """A ring with 15 mm of room on either side; the handle's sides are straight."""
    laid, _ = lay_all(SITE, [parse_piece("10g:100mm@handle at 65mm")])
    sd = np.sqrt(np.diag(placement_cov(SITE, laid, Tolerance(place_mm, 0.0))))
    assert sd == pytest.approx(
        [0, 0, 10 * place_mm, 0, 2 * 10 * 65 * place_mm, 0], rel=1e-9, abs=1e-6 * place_mm
    )


def test_what_fills_the_handle_has_no_room_to_slip() -> None:
    laid, _ = lay_all(SITE, [parse_piece("10g:130mm@handle at 65mm")])
    assert not placement_cov(SITE, laid, Tolerance(3.0, 0.0)).any()


TOP_SD_MM = 2.0
# From the handle top, at y = 130 mm, the edge runs up straight below and to (75, 150) from (17, 130) above.
BELOW_MM, ABOVE_MM = TOP_SD_MM / 2, TOP_SD_MM / 2 * np.hypot(58, 20) / 20


@pytest.mark.parametrize(
    ("text", "below_mm", "above_mm"),
    [
        ("3g:40mm@150mm from the handle top", BELOW_MM, ABOVE_MM),
        ("3g:40mm@3", TOP_SD_MM / 4, TOP_SD_MM / 4),
        ("3g:40mm@200mm", 0.0, 0.0),
        ("3g:30x20mm@x0 y250", 0.0, 0.0),
    ],
)
def test_a_handle_top_higher_moves_what_is_measured_from_it(
    text: str, below_mm: float, above_mm: float
) -> None:
    """On a straight side a piece runs from so far below its place to so far above; x stays."""
    laid, _ = lay_all(SITE, [parse_piece(text)])
    mass, _, first, *_ = added(laid)
    y = first / mass
    want = [0, 0, mass * (above_mm + below_mm), 0, mass * ((y + above_mm) ** 2 - (y - below_mm) ** 2), 0]
    assert SITE.handle_top_sd_mm == TOP_SD_MM
    assert risen(SITE, laid) == pytest.approx(want, rel=1e-6, abs=1e-6)


def test_both_of_a_pair_move_together() -> None:
    laid, _ = lay_all(SITE, [parse_piece("3g:40mm@150mm from the handle top, mirrored")])
    assert risen(SITE, laid)[2] == pytest.approx(2 * 3 * (BELOW_MM + ABOVE_MM))


def test_where_the_handle_top_is_known_nothing_moves() -> None:
    laid, _ = lay_all(SITE, [parse_piece("3g:40mm@150mm from the handle top")])
    assert not risen(replace(SITE, handle_top_sd_mm=0.0), laid).any()


THROAT_SD_MM = 2.0
STRUNG_SITE = site_of(
    strung(), replace(STRUNG_TOPS, throat_top_mm=345.0, throat_top_sd_mm=THROAT_SD_MM), 21.0
)
ROD_SITE = site_of(
    shuttle_frame(), replace(STRUNG_TOPS, throat_top_mm=440.0, throat_top_sd_mm=THROAT_SD_MM), 11.0
)


@pytest.mark.parametrize(
    ("text", "up_mm"),
    [
        (
            "3g:2mm@3",
            THROAT_SD_MM / 2,
        ),  # half-way between the throat top and the tip, where the rim is upright
        ("3g:40mm@200mm", 0.0),
        ("3g:40mm@100mm from the handle top", 0.0),
        ("3g:40mm@handle at 60mm", 0.0),
        ("3g:10mm@throat", 0.0),  # on the bridge, which is seen between the openings
    ],
)
def test_a_throat_top_higher_moves_what_is_placed_by_the_clock(text: str, up_mm: float) -> None:
    laid, _ = lay_all(STRUNG_SITE, [parse_piece(text)])
    mass, _, first, *_ = added(laid)
    got = throat_risen(STRUNG_SITE, laid)
    assert got[[0, 2, 4]] == pytest.approx([0, mass * up_mm, 2 * first * up_mm], rel=2e-3, abs=1e-6)
    assert got[1] == pytest.approx(0.0, abs=1e-3)


def test_tape_across_a_shafts_upper_end_moves_with_it() -> None:
    laid, _ = lay_all(ROD_SITE, [parse_piece("3g:5mm@throat")])
    want = [0, 0, 3 * THROAT_SD_MM, 0, 2 * 3 * 440 * THROAT_SD_MM, 0]
    assert throat_risen(ROD_SITE, laid) == pytest.approx(want, rel=1e-9, abs=1e-6)


def test_where_the_face_begins_at_the_handle_there_is_no_throat_top_to_be_unsure_of() -> None:
    laid, _ = lay_all(SITE, [parse_piece("3g:40mm@3")])
    assert not throat_risen(SITE, laid).any()
    assert not risen(STRUNG_SITE, lay_all(STRUNG_SITE, [parse_piece("3g:2mm@3")])[0]).any()
