"""How pieces are written: ``3g:76mm@3:30, on the face, width 6mm`` and the like."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from model.clock_text import clock_hours
from model.errors import MaterialError, StripError, UnitError
from model.materials import Form, Material, material_named
from model.measured import Measured
from model.pieces import (
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
    Stuff,
    ThroatStrip,
)
from model.spelling_options import Options, read_options
from model.units import parse_length, parse_mass

_THE = r"(?:the )?"
_THROAT = re.compile(rf"{_THE}throat")
_PERIMETER = re.compile(rf"{_THE}(?:full |whole )?perimeter")
_BUTT = re.compile(rf"{_THE}butt(?: cap)?")
_HANDLE = re.compile(rf"{_THE}handle at (.+)")
_GRIP = re.compile(rf"under {_THE}grip at (.+)")
_OPENING = re.compile(rf"{_THE}opening (\d+) at (.+)")
_HANDLE_TOP = re.compile(rf"(.+?) from {_THE}handle top")
_PATCH = re.compile(r"x\s*=?\s*(\S+?)\s+y\s*=?\s*(\S+)")
_NAME = re.compile(r"[a-z][a-z0-9-]*", re.IGNORECASE)
_FOLDED = (EdgeStrip, Perimeter, ThroatStrip, OpeningStrip)


def parse_piece(
    text: str,
    materials: dict[str, Material] | None = None,
    perimeter_mm: Callable[[], float] | None = None,
) -> Piece:
    """Read ``AMOUNT:LENGTH@WHERE, option, ...``. Raises StripError with one sentence.

    AMOUNT is a mass (bare: g), or the name of one of ``materials``, for it to follow from length, layers and
    strips; of a whole ``perimeter`` the length is asked of ``perimeter_mm``. LENGTH is along the edge or
    handle (bare: mm), or ``30x20mm`` for a patch: across by along the handle. WHERE is a clock position
    (``12`` is the tip), a distance along the edge from the tip (``180mm``, left ``-180mm``), ``120mm from
    the handle top``, ``throat``, ``perimeter``, ``opening 1 at 3:30``, ``x20 y250`` (a patch), ``handle at
    60mm``, ``under the grip at 60mm`` or ``butt``. Options: ``width 6mm``, ``thickness 0.4mm``, ``2
    layers``, ``of lead``, ``on the face``, ``over the edge``, ``front``, ``back``, ``both faces``,
    ``stand-off 1mm``, ``radius 16mm``, ``4 strips`` (side by side round the handle), ``depth 20mm``,
    ``turned 30``, ``mirrored``.

    >>> parse_piece("3g:76mm@3:30").place
    Clock(hours=3.5)
    """
    amount, at, rest = text.strip().partition("@")
    where, *options = [word.strip() for word in rest.split(",")]
    amount_text, _, size = (part.strip() for part in amount.partition(":"))
    if not (at and amount_text and where):
        raise StripError(
            f"the strip {text!r} must be MASS:LENGTH@WHERE, for example 3g:76mm@3:30 or 3g:76mm@-180mm"
        )
    try:
        chosen = read_options(options)
        kind, fields = _where(where, size, text.strip())
        material = _material(amount_text, chosen, materials or {})
        stuff = _stuff(chosen.stuff, material)
        long_mm = fields.get("length_mm")
        if kind is Perimeter and perimeter_mm is not None and material is not None:
            long_mm = perimeter_mm()
        if long_mm is not None:
            long_mm *= chosen.strips or 1
        mass = _mass(amount_text, material, long_mm, stuff)
    except (UnitError, MaterialError) as error:
        raise StripError(f"in the strip {text!r}, {error}") from None
    if not mass.value > 0:
        raise StripError(f"the strip {text!r} must weigh more than zero, not {mass.value:g} g")
    fields |= _extras(kind, chosen, text.strip())
    made: Piece = kind(
        mass_g=mass.value,
        mass_sd_g=mass.sd,
        stuff=stuff,
        mirror=chosen.mirror,
        text=text.strip(),
        **fields,
    )
    return made


def _where(where: str, size: str, text: str) -> tuple[type[Any], dict[str, Any]]:
    """The kind of piece and its own fields, from the place and the size."""
    if whole := _BUTT.fullmatch(where) or _PERIMETER.fullmatch(where):
        if size:
            raise StripError(
                f"the strip {text!r} must have no length, for {where} is all of it: leave out {size}"
            )
        return (ButtWeight if whole.re is _BUTT else Perimeter), {}
    if not size:
        raise StripError(
            f"the strip {text!r} must be MASS:LENGTH@WHERE, for example 3g:76mm@3:30 or 3g:76mm@-180mm"
        )
    if found := _PATCH.fullmatch(where):
        across, _, along = size.lower().partition("x")
        if not along:
            raise StripError(
                f"the patch {text!r} needs a size across and along the handle, for example 2g:30x20mm@{where}"
            )
        unit = re.sub(r"[0-9.\s]", "", along)
        sides = [_long(f"{across}{'' if re.search('[a-z]', across) else unit}", text), _long(along, text)]
        x, y = (parse_length(word, "place on the face").value for word in found.groups())
        return FacePatch, {"x_mm": x, "y_mm": y, "across_mm": sides[0], "along_mm": sides[1]}
    length = {"length_mm": _long(size, text)}
    if _THROAT.fullmatch(where):
        return ThroatStrip, length
    if found := _GRIP.fullmatch(where) or _HANDLE.fullmatch(where):
        y = parse_length(found[1], "place on the handle").value
        return HandleRing, length | {"y_mm": y, "under_grip": where.startswith("under")}
    if found := _OPENING.fullmatch(where):
        try:
            hours = clock_hours(found[2])
        except UnitError:  # which offers a distance, that an opening's rim has none
            hours = None
        if hours is None:
            raise UnitError(
                f"the place {found[2]!r} in an opening must be a clock position, for example 3:30"
            )
        return OpeningStrip, length | {"opening": int(found[1]), "hours": hours}
    if found := _HANDLE_TOP.fullmatch(where):
        mm = parse_length(found[1], "distance from the handle top").value
        return EdgeStrip, length | {"place": FromHandleTop(abs(mm), mm < 0)}
    hours = clock_hours(where)
    place = FromTip(parse_length(where, "place along the edge").value) if hours is None else Clock(hours)
    return EdgeStrip, length | {"place": place}


def _long(text: str, whole: str) -> float:
    value = parse_length(text, "strip's length").value
    if not value > 0:
        raise StripError(f"the strip {whole!r} must be longer than zero, not {value:g} mm")
    return value


def _material(amount: str, options: Options, materials: dict[str, Material]) -> Material | None:
    named = amount if _NAME.fullmatch(amount) else None
    if named and options.of and named.lower() != options.of:
        raise UnitError(f"the piece is of {named.lower()} and of {options.of} at once: leave one of them out")
    name = options.of or named
    if named and not materials:
        raise UnitError(f"the mass must be in grams, not the material {named.lower()}: weigh the piece")
    if name is None or not materials:
        return None
    return material_named(name.lower(), materials)


def _stuff(stated: Stuff, material: Material | None) -> Stuff:
    if material is None:
        return stated
    return replace(
        stated,
        width_mm=material.width_mm if stated.width_mm is None else stated.width_mm,
        thickness_mm=stated.thickness_mm or material.thickness_mm or 0.0,
        material=material.name,
    )


def _mass(amount: str, material: Material | None, long_mm: float | None, stuff: Stuff) -> Measured:
    if material is None or not _NAME.fullmatch(amount):
        return Measured(parse_mass(amount, "strip's mass").value, 0.0)
    if material.form is Form.PIECE:
        one = material.piece_mass()
        return Measured(one.value * stuff.layers, one.sd * stuff.layers)
    if long_mm is None:
        raise UnitError(f"a length of {material.name} is needed here: give the mass in grams instead")
    return material.tape_mass(long_mm, stuff.layers)


def _extras(kind: type[Any], options: Options, text: str) -> dict[str, Any]:
    """Options that only some kinds take. Raises StripError for one that means nothing here."""
    allowed = {
        "fold": _FOLDED,
        "side": (*_FOLDED, FacePatch),
        "stand_off_mm": (EdgeStrip, Perimeter, OpeningStrip),
        "radius_mm": (HandleRing,),
        "strips": (HandleRing,),
        "depth_mm": (ButtWeight,),
        "turn_deg": (FacePatch,),
    }
    found = {name: getattr(options, name) for name in allowed if getattr(options, name) is not None}
    if kind is FacePatch and found.get("fold") is Fold.ON_FACE:
        del found["fold"]  # a patch is nowhere else
    for name, value in found.items():
        if kind not in allowed[name]:
            words = {"turn_deg": "turned"}.get(name, name.removesuffix("_mm").replace("_", "-"))
            words = str(value.value) if isinstance(value, Fold | Side) else words
            raise StripError(f"the option {words!r} means nothing for {text!r}: leave it out")
    return found
