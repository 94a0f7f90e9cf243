"""Pieces written out as text that :func:`model.spelling.parse_piece` reads back."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from model.materials import Form, Material
from model.pieces import (
    BUTT_DEPTH_MM,
    ButtWeight,
    Clock,
    EdgeStrip,
    FacePatch,
    Fold,
    FromHandleTop,
    FromTip,
    HandleRing,
    OpeningStrip,
    Perimeter,
    Piece,
    Side,
    ThroatStrip,
)

SAME_MASS = 1e-6  # of it: what a length to so many digits may miss


def spell(piece: Piece) -> str:
    """A piece as text, with its mass in grams.

    >>> spell(EdgeStrip(mass_g=3.0, length_mm=76.2, place=Clock(3.5), fold=Fold.ON_FACE))
    '3g:76.2mm@3:30, on the face'
    """
    size, where = _spelt_place(piece)
    head = f"{_number(piece.mass_g)}g{f':{size}' if size else ''}@{where}"
    return ", ".join([head, *_spelt_options(piece)])


def spell_as_cut(piece: Piece, materials: Mapping[str, Material]) -> str:
    """:func:`spell`, but by the tape's name what is cut from one of ``materials``, for its sd to be read too.

    ``lead:150mm@3``: mass and sd follow from the length.
    """
    material = materials.get(piece.stuff.material or "")
    length = getattr(piece, "length_mm", None)
    if length is None or material is None or material.form is not Form.TAPE:
        return spell(piece)
    mass = material.tape_mass(length * getattr(piece, "strips", 1), piece.stuff.layers)
    stuff = replace(piece.stuff, material=None, width_mm=None, thickness_mm=0.0)  # the name says as much
    same = (
        (piece.stuff.width_mm, piece.stuff.thickness_mm) == (material.width_mm, material.thickness_mm or 0.0)
        and math.isclose(piece.mass_g, mass.value, rel_tol=SAME_MASS)
        and math.isclose(piece.mass_sd_g, mass.sd, rel_tol=SAME_MASS)
    )
    if not same:
        return spell(piece)
    size, where = _spelt_place(piece)
    return ", ".join([f"{material.name}:{size}@{where}", *_spelt_options(replace(piece, stuff=stuff))])


def _number(value: float) -> str:
    return f"{round(value, 6) + 0.0:.6f}".rstrip("0").rstrip(".")  # no exponents, no negative zero


def _spelt_place(piece: Piece) -> tuple[str, str]:
    match piece:
        case FacePatch():
            size = f"{_number(piece.across_mm)}x{_number(piece.along_mm)}mm"
            return size, f"x{_number(piece.x_mm)} y{_number(piece.y_mm)}"
        case HandleRing():
            where = "under the grip" if piece.under_grip else "handle"
            return f"{_number(piece.length_mm)}mm", f"{where} at {_number(piece.y_mm)}mm"
        case OpeningStrip():
            return f"{_number(piece.length_mm)}mm", f"opening {piece.opening} at {spelt_hours(piece.hours)}"
        case ThroatStrip():
            return f"{_number(piece.length_mm)}mm", "throat"
        case EdgeStrip(place=Clock(hours)):
            return f"{_number(piece.length_mm)}mm", spelt_hours(hours)
        case EdgeStrip(place=FromTip(mm)):
            return f"{_number(piece.length_mm)}mm", f"{_number(mm)}mm"
        case EdgeStrip(place=FromHandleTop(mm, left)):
            return f"{_number(piece.length_mm)}mm", f"{_number(-mm if left else mm)}mm from the handle top"
        case Perimeter():
            return "", "perimeter"
        case _:
            return "", "butt"


def spelt_hours(hours: float) -> str:
    """A clock position to the minute: 3.5 is ``3:30``."""
    minutes = round(hours % 12 * 60) % 720
    return f"{minutes // 60 or 12}:{minutes % 60:02d}"


def _spelt_options(piece: Piece) -> list[str]:
    stuff, words = piece.stuff, []
    if stuff.material:
        words.append(f"of {stuff.material}")
    if stuff.width_mm is not None:
        words.append(f"width {_number(stuff.width_mm)}mm")
    if round(stuff.thickness_mm, 6):
        words.append(f"thickness {_number(stuff.thickness_mm)}mm")
    if stuff.layers > 1:
        words.append(f"{stuff.layers} layers")
    if getattr(piece, "fold", Fold.OVER_EDGE) is Fold.ON_FACE:
        words.append("on the face")
    if getattr(piece, "side", Side.FRONT) is not Side.FRONT:
        words.append(str(getattr(piece, "side").value))  # noqa: B009
    for key, word in (("stand_off_mm", "stand-off"), ("radius_mm", "radius")):
        if round(getattr(piece, key, None) or 0.0, 6):
            words.append(f"{word} {_number(getattr(piece, key))}mm")
    if isinstance(piece, HandleRing) and piece.strips > 1:
        words.append(f"{piece.strips} strips")
    if isinstance(piece, ButtWeight) and piece.depth_mm != BUTT_DEPTH_MM:
        words.append(f"depth {_number(piece.depth_mm)}mm")
    if isinstance(piece, FacePatch) and round(piece.turn_deg, 6):
        words.append(f"turned {_number(piece.turn_deg)}")
    return [*words, "mirrored"] if piece.mirror else words
