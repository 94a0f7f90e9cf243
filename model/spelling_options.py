"""The options a piece may carry after its place, separated by commas."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace

from model.errors import UnitError
from model.pieces import Fold, Side, Stuff, check_size, check_stand_off
from model.units import parse_angle, parse_length


@dataclass(frozen=True)
class Options:
    """What was said; None where nothing was."""

    stuff: Stuff = field(default_factory=Stuff)
    of: str | None = None
    fold: Fold | None = None
    side: Side | None = None
    stand_off_mm: float | None = None
    radius_mm: float | None = None
    depth_mm: float | None = None
    turn_deg: float | None = None
    strips: int | None = None
    mirror: bool = False


def read_options(words: list[str]) -> Options:
    """Options as written. Raises UnitError for one that is unknown or has a wrong value."""
    chosen = Options()
    for word in words:
        chosen = _with_option(chosen, word.lower())
    return chosen


def _with_option(chosen: Options, word: str) -> Options:
    if word in ("on the face", "over the edge"):
        return replace(chosen, fold=Fold(word))
    side = re.fullmatch(r"(?:on )?(?:the )?(front|back|both faces)", word)
    if side:
        return replace(chosen, side=Side(side[1]))
    if word in ("mirrored", "mirror"):
        return replace(chosen, mirror=True)
    if word == "one side":
        return replace(chosen, mirror=False)
    if found := re.fullmatch(r"(\d+) layers?|layers? (\d+)", word):
        layers = int(found[1] or found[2])
        if not 1 <= layers <= 20:
            raise UnitError(f"the number of layers must be 1 to 20, not {layers}")
        return replace(chosen, stuff=replace(chosen.stuff, layers=layers))
    if found := re.fullmatch(r"(\d+) strips?", word):
        strips = int(found[1])
        if not 1 <= strips <= 20:
            raise UnitError(f"the number of strips must be 1 to 20, not {strips}")
        return replace(chosen, strips=strips)
    if found := re.fullmatch(r"of ([a-z][a-z0-9-]*)", word):
        stuff = replace(chosen.stuff, material=found[1])
        return replace(chosen, of=found[1], stuff=stuff)
    if found := re.fullmatch(r"turned (.+)", word):
        return replace(chosen, turn_deg=parse_angle(found[1], "turn").value)
    if found := re.fullmatch(
        r"(width|thickness|stand-off|radius|depth) (.+)", word.replace("guard", "stand-off")
    ):
        return _with_length(chosen, found[1], parse_length(found[2], found[1]).value)
    raise UnitError(
        f"the option {word!r} is unknown: use width 6mm, thickness 0.4mm, 2 layers, of lead, on the face, "
        "over the edge, front, back, both faces, stand-off 1mm, radius 16mm, 4 strips, depth 20mm, turned "
        "30, mirrored or one side"
    )


def _with_length(chosen: Options, name: str, mm: float) -> Options:
    if name == "stand-off":
        check_stand_off(mm)
    else:
        check_size(name, mm)
    if name == "width":
        return replace(chosen, stuff=replace(chosen.stuff, width_mm=mm))
    if name == "thickness":
        return replace(chosen, stuff=replace(chosen.stuff, thickness_mm=mm))
    key = {"stand-off": "stand_off_mm", "radius": "radius_mm", "depth": "depth_mm"}[name]
    return replace(chosen, **{key: mm})  # type: ignore[arg-type]
