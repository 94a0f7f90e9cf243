"""The kinds of added weight a person can stick on, each as a small frozen type; lengths mm, masses g.

Where a piece goes is said relative to the racquet (a clock position, a distance along the edge),
so the same piece can be laid on another racquet.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum

from model.errors import StripError, UnitError

MOST_STAND_OFF_MM = 50.0  # a guard or rim is thinner, and a face's rim narrower: more is a slip of the unit
MOST_MM = {"width": 100.0, "thickness": 30.0, "radius": 40.0}
"""What no tape is wider than, no layer or slug thicker, no handle's ring wider from its middle: as with a
stand-off, more is a slip of the unit."""
BUTT_DEPTH_MM = 12.0  # what a weight in the butt cap fills, where nothing else is said


class Fold(StrEnum):
    """How a strip meets the edge: folded over the wall, or flat on the face beside it."""

    OVER_EDGE = "over the edge"
    ON_FACE = "on the face"


class Side(StrEnum):
    """Which face a flat piece is on: the one seen, the other, or half of the mass on each."""

    FRONT = "front"
    BACK = "back"
    BOTH = "both faces"


@dataclass(frozen=True)
class Stuff:
    """What a piece is made of: width of the tape (None: not stated), thickness of one layer, layers."""

    width_mm: float | None = None
    thickness_mm: float = 0.0
    layers: int = 1
    material: str | None = None

    @property
    def pile_mm(self) -> float:
        """Thickness of all layers together."""
        return self.thickness_mm * self.layers


@dataclass(frozen=True)
class Clock:
    """A clock position on the face, 0 to 12 hours, 12 towards the tip."""

    hours: float


@dataclass(frozen=True)
class FromTip:
    """A signed distance along the edge from the tip to the strip's middle, right positive."""

    mm: float


@dataclass(frozen=True)
class FromHandleTop:
    """A distance along the edge from the handle top towards the tip; ``left`` picks the side."""

    mm: float
    left: bool = False


EdgePlace = Clock | FromTip | FromHandleTop


@dataclass(frozen=True, kw_only=True)
class Piece:
    """Base: grams of the whole piece, all layers, with sd; ``text`` is what the person wrote.

    ``mirror`` asks for a twin on the other side, ``is_twin`` marks that twin.
    """

    mass_g: float
    mass_sd_g: float = 0.0
    stuff: Stuff = field(default_factory=Stuff)
    mirror: bool = False
    is_twin: bool = False
    text: str = ""

    def scaled(self, factor: float) -> Piece:
        """The same piece with its mass multiplied."""
        return replace(self, mass_g=self.mass_g * factor, mass_sd_g=self.mass_sd_g * factor)


def check_stand_off(mm: float) -> None:
    """Raise UnitError for a stand-off further from the edge than tape can be."""
    if not abs(mm) <= MOST_STAND_OFF_MM:
        raise UnitError(f"the stand-off must be at most {MOST_STAND_OFF_MM:g} mm, not {mm:g} mm")


def check_size(name: str, mm: float) -> None:
    """Raise UnitError for a width, thickness or radius that is not above zero or out of all proportion."""
    if not mm > 0:
        raise UnitError(f"the {name} must be more than zero, not {mm:g} mm")
    if name in MOST_MM and not mm <= MOST_MM[name]:
        raise UnitError(f"the {name} must be at most {MOST_MM[name]:g} mm, not {mm:g} mm: check its unit")


def check_mass(what: str, mass_g: float, racquet_g: float) -> None:
    """Raise StripError for a piece that outweighs the racquet it is stuck on; ``what`` names it."""
    if not mass_g <= racquet_g:
        raise StripError(
            f"{what} weighs {mass_g:g} g, more than the racquet itself, {racquet_g:.0f} g: check its unit"
        )


@dataclass(frozen=True, kw_only=True)
class EdgeStrip(Piece):
    """A strip along the outer edge.

    ``stand_off_mm``: over the edge, how far the wall it sticks to lies outside the outline (a
    guard put on later); on the face, how far its outer side lies inside the outline.
    """

    length_mm: float
    place: EdgePlace
    fold: Fold = Fold.OVER_EDGE
    side: Side = Side.FRONT
    stand_off_mm: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Perimeter(Piece):
    """Tape along the whole edge, from the handle top on one side round the tip to the other."""

    fold: Fold = Fold.OVER_EDGE
    side: Side = Side.FRONT
    stand_off_mm: float = 0.0


@dataclass(frozen=True, kw_only=True)
class ThroatStrip(Piece):
    """A strip straight across the throat: along a frame's bridge, else at the face's lower end."""

    length_mm: float
    fold: Fold = Fold.OVER_EDGE
    side: Side = Side.FRONT


@dataclass(frozen=True, kw_only=True)
class OpeningStrip(Piece):
    """A strip along the rim of an opening (numbered from 1 as in the file), on its inner wall.

    ``hours`` is a clock position about the opening's own middle.
    """

    opening: int
    hours: float
    length_mm: float
    fold: Fold = Fold.OVER_EDGE
    side: Side = Side.FRONT
    stand_off_mm: float = 0.0


@dataclass(frozen=True, kw_only=True)
class FacePatch(Piece):
    """A rectangle on the face, its middle at (x, y), turned clockwise as seen by ``turn_deg``."""

    x_mm: float
    y_mm: float
    across_mm: float
    along_mm: float
    turn_deg: float = 0.0
    side: Side = Side.FRONT


@dataclass(frozen=True, kw_only=True)
class HandleRing(Piece):
    """Weight wrapped round the handle: a ring of ``length_mm`` along it, its middle at ``y_mm``.

    The ring follows the handle's section, taken as an ellipse of its width and thickness, or a
    circle of ``radius_mm``. ``under_grip`` puts it beneath the grip. It is cut as so many ``strips`` of
    that length, side by side round the handle, which share the mass.
    """

    y_mm: float
    length_mm: float
    radius_mm: float | None = None
    under_grip: bool = False
    strips: int = 1


@dataclass(frozen=True, kw_only=True)
class ButtWeight(Piece):
    """Weight inside the butt cap, filling the handle's section over ``depth_mm`` from the end."""

    depth_mm: float = BUTT_DEPTH_MM
