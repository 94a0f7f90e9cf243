"""What an invented racquet is: its measures, colours and insides. Frame as in ``plans``."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Construction = Literal["solid", "perforated", "strung"]


@dataclass(frozen=True)
class Insides:
    """How mass is spread within the parts: what no model of a racquet would guess exactly.

    Gradients are the relative change of density from the part's lower to its upper end.
    ``patch_gain`` adds that share of the local density round (``patch_y_share`` of the head's
    length) with a bell of ``patch_mm``.
    """

    edge_share: float = 0.16
    edge_width_mm: float = 9.0
    head_gradient: float = 0.0
    edge_gradient: float = 0.0
    handle_gradient: float = 0.0
    butt_share: float = 0.11
    patch_gain: float = 0.0
    patch_y_share: float = 0.45
    patch_mm: float = 35.0
    strings_g: float = 0.0
    skin_share: float = 0.5


@dataclass(frozen=True)
class Finish:
    """Colours as "#rrggbb" of stored values, the print on the face and how it shines."""

    face: str = "#2f3a4a"
    pattern_colour: str = "#e0802f"
    band: str = "#202225"
    wrap: str = "#26272a"
    butt: str = "#1c1d20"
    pattern: str = "stripes"
    gloss: float = 0.15
    strings: str = "#d9d6c8"


@dataclass(frozen=True)
class RacquetSpec:
    """Measures in mm and g. ``handle_top_mm`` is where the wrap ends, from the butt end."""

    construction: Construction
    shape: str
    length_mm: float
    width_mm: float
    face_thickness_mm: float
    handle_thickness_mm: float
    handle_width_mm: float
    handle_top_mm: float
    weight_g: float
    balance_mm: float
    butt_flare_mm: float = 2.9
    butt_radius_mm: float = 3.0
    band_mm: float = 7.0
    edge_radius_mm: float = 4.0
    tube_mm: float = 12.0
    shaft_mm: float = 8.0
    hole_mm: float = 11.0
    hole_pitch_mm: float = 29.0
    open_throat: bool = False
    string_pitch_mm: float = 12.0
    wrap_pitch_mm: float = 21.0
    finish: Finish = field(default_factory=Finish)
    insides: Insides = field(default_factory=Insides)
