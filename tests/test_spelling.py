"""Pieces as text: read, refused, and written back."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings

from model.errors import StripError
from model.laying import lay
from model.materials import all_materials
from model.pieces import FacePatch, Piece
from model.site import site_of
from model.spelling import parse_piece
from model.spelt import spell, spell_as_cut
from tests.drawn_pieces import pieces
from tests.model_samples import HANDLE_TOP, paddle

PADDLE = site_of(paddle(), HANDLE_TOP, 14.0, 30.0)


def test_mass_of_a_material_follows_from_length_and_layers() -> None:
    materials = all_materials()
    piece = parse_piece("lead:100mm@3, 2 layers", materials)
    assert piece.mass_g == pytest.approx(200 * 0.0205)
    assert piece.mass_sd_g == pytest.approx(200 * 0.0030)
    assert (piece.stuff.width_mm, piece.stuff.thickness_mm) == (6.35, 0.33)
    assert parse_piece("3g:100mm@3, of lead, width 5mm", materials).stuff.width_mm == 5.0
    assert parse_piece("brass-slug@butt", materials).mass_g == pytest.approx(9.6)
    assert parse_piece("Lead:100mm@3, of lead", materials).mass_g == pytest.approx(100 * 0.0205)
    with pytest.raises(StripError, match="no material 'leed'"):
        parse_piece("leed:100mm@3", materials)
    with pytest.raises(StripError, match="give the mass in grams"):
        parse_piece("lead:20x20mm@x0 y250", materials)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("lead:76mm@3, of tungsten", "is of lead and of tungsten at once: leave one of them out"),
        ("3g:76mm@3, upside down", "option 'upside down' is unknown"),
        ("3g:76mm@3, 40 layers", "must be 1 to 20"),
        ("3g:76mm@3, radius 3mm", "'radius' means nothing"),
        ("3g@butt, on the face", "'on the face' means nothing"),
        ("3g@butt, on the back", "'back' means nothing"),
        ("3g:76mm@3, turned 30", "'turned' means nothing"),
        ("2g:30x20mm@x20 y250, turned 1.2.3", "the turn '1.2.3' is not a number with a unit"),
        ("2g:30x20mm@x20 y250, turned ..", "the turn '..' is not a number"),
        ("3g:76mm@3, width 0mm", "width must be more than zero"),
        ("3g:76mm@3, width 60cm", "the width must be at most 100 mm, not 600 mm: check its unit"),
        ("3g:76mm@3, thickness 4cm", "the thickness must be at most 30 mm, not 40 mm"),
        ("3g:30mm@handle at 60mm, radius 16cm", "the radius must be at most 40 mm, not 160 mm"),
        ("3g:30mm@handle at 60mm, radius 0mm", "radius must be more than zero"),
        ("3g:76mm@3, stand-off 51mm", "3, stand-off 51mm', the stand-off must be at most 50 mm, not 51 mm"),
        ("3g:76mm@3, on the face, stand-off -500mm", "at most 50 mm, not -500 mm"),
        ("3g:76mm@x0 y250", "needs a size across and along"),
        ("3g:76mm@13", "no clock position: use 12 or 1 to 11, or write 13mm"),
        ("3g:76mm@3.5", "place '3.5' is no clock position: write 3:30 for .*, 3.5mm for a distance"),
        ("3g:76mm@10.5", "write 10:30 for a clock position, 10.5mm for a distance"),
        ("3g:76mm@12.999", "write 1:00 for a clock position"),
        ("3g:76mm@-3", "place '-3' is no clock position: use 12 or 1 to 11, or write -3mm for a distance"),
        ("3g:76mm@0", "or write 0mm for a distance"),
        ("3g:76mm@1e1", "no clock position"),
        ("3g:76mm@opening 1 at 3.5", "'3.5' in an opening must be a clock position, for example 3:30"),
        ("3g:76mm@opening 1 at 40mm", "must be a clock position"),
    ],
)
def test_bad_spellings(text: str, words: str) -> None:
    with pytest.raises(StripError, match=words):
        parse_piece(text)


def test_a_turn_is_an_angle_in_any_unit() -> None:
    words = ("30", "30°", "30 deg", "0.5235987755982988rad", "-7.5")
    turns = [parse_piece(f"2g:30x20mm@x20 y250, turned {word}") for word in words]
    assert [one.turn_deg for one in turns if isinstance(one, FacePatch)] == pytest.approx([30] * 4 + [-7.5])


def test_other_words_for_the_same() -> None:
    one = parse_piece("3g:76mm@3, back, mirrored, stand-off 2mm")
    assert spell(parse_piece("3g:76mm@3, on the back, mirror, guard 2mm")) == spell(one)


@pytest.mark.parametrize(
    ("turn_deg", "said"),
    [(9.4e-7, ", turned 0.000001"), (30.0, ", turned 30"), (12.5, ", turned 12.5"), (-4e-7, "")],
)
def test_numbers_are_spelt_without_exponents(turn_deg: float, said: str) -> None:
    piece = FacePatch(mass_g=100.0, x_mm=-0.0, y_mm=200.0, across_mm=2.0, along_mm=2.5, turn_deg=turn_deg)
    assert spell(piece) == f"100g:2x2.5mm@x0 y200{said}"
    assert spell(parse_piece(spell(piece))) == spell(piece)


@settings(max_examples=60, deadline=None)
@given(pieces)
def test_spelling_and_reading_are_inverse(piece: Piece) -> None:
    again = parse_piece(spell(piece))
    assert spell(again) == spell(piece)
    assert lay(PADDLE, again).integrals == pytest.approx(lay(PADDLE, piece).integrals, rel=1e-5, abs=1e-4)


@pytest.mark.parametrize(
    "text",
    [
        "3g:76mm@3:30",
        "3g:76mm@-180mm, of lead, width 6mm, thickness 0.4mm, 2 layers, on the face, back, mirrored",
        "3g:76mm@-120mm from the handle top, stand-off 2mm",
        "2g:10mm@opening 2 at 7:15",
        "9g@butt, depth 20mm",
        "8g@perimeter, both faces",
        "2g:20mm@throat",
        "2g:30x20mm@x20 y250, turned 30",
        "3g:40mm@under the grip at 60mm, radius 14mm",
        "3g:40mm@handle at 60mm, radius 40mm",
        "3g:76mm@3:00, width 100mm, thickness 30mm",
        "3g:40mm@under the grip at 60mm, 4 strips",
    ],
)
def test_these_spell_as_they_were_written(text: str) -> None:
    assert spell(parse_piece(text)) == text


@pytest.mark.parametrize(
    "text",
    [
        "lead:150mm@208.3mm, mirrored",
        "lead:80mm@40mm from the handle top, 2 layers, on the face, both faces, stand-off 2mm",
        "lead-wide:71mm@under the grip at 60mm, 4 strips",
    ],
)
def test_tape_that_was_not_weighed_is_spelt_by_its_name(text: str) -> None:
    materials = all_materials()
    piece = parse_piece(text, materials)
    assert spell_as_cut(piece, materials) == text
    assert replace(parse_piece(spell_as_cut(piece, materials), materials), text="") == replace(piece, text="")
    weighed = replace(piece, mass_sd_g=0.0)
    assert spell_as_cut(weighed, materials) == spell(weighed)  # 3.075g:..., of lead, ...
    assert spell_as_cut(replace(piece, mass_g=piece.mass_g * 1.01), materials).partition(":")[0].endswith("g")
    assert spell_as_cut(piece, {}) == spell(piece)


def test_tape_along_the_whole_perimeter_is_as_long_as_that() -> None:
    lead = all_materials()["lead"]
    piece = parse_piece("lead@perimeter, 2 layers", all_materials(), lambda: 700.0)
    assert piece.mass_g == pytest.approx(2 * 700 * lead.tape_mass(1.0).value)
    assert piece.mass_sd_g == pytest.approx(2 * 700 * lead.tape_mass(1.0).sd)
    assert piece.stuff.width_mm == lead.width_mm
    with pytest.raises(StripError, match="a length of lead is needed here"):
        parse_piece("lead@perimeter", all_materials())


def test_strips_side_by_side_round_the_handle_weigh_as_many_times_as_much() -> None:
    one, four = (
        parse_piece(f"lead:71mm@under the grip at 60mm{more}", all_materials()) for more in ("", ", 4 strips")
    )
    assert four.mass_g == pytest.approx(4 * one.mass_g)
    assert four.mass_sd_g == pytest.approx(4 * one.mass_sd_g)
    with pytest.raises(StripError, match="'strips' means nothing"):
        parse_piece("3g:76mm@3, 4 strips")
    with pytest.raises(StripError, match="strips must be 1 to 20, not 0"):
        parse_piece("3g:76mm@handle at 60mm, 0 strips")


@pytest.mark.parametrize("text", ["3g:300mm@perimeter", "lead:300mm@the whole perimeter", "9g:20mm@butt"])
def test_what_covers_all_of_a_place_takes_no_length(text: str) -> None:
    with pytest.raises(StripError, match="must have no length"):
        parse_piece(text, all_materials(), lambda: 700.0)
