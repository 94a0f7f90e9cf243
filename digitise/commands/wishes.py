"""The options that ``search`` and its kin share: tape, places and how exactly they are used."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from model.search_study import Wish


def finite(value: float | None) -> float | None:
    """A number as typed; nan and inf, which no scale or ruler shows, are refused as wrong usage."""
    if value is not None and not math.isfinite(value):
        raise typer.BadParameter(f"{value} is no number that can be measured.")
    return value


def stand_off(value: float) -> float:
    """A stand-off as typed, or wrong usage."""
    from model.errors import UnitError
    from model.pieces import check_stand_off

    try:
        check_stand_off(finite(value) or 0.0)
    except UnitError as error:
        raise typer.BadParameter(f"{error}.") from None
    return value


File = Annotated[Path, typer.Argument(metavar="FILE", help="A .racquet.json file; it is not changed.")]
Limits = Annotated[
    list[str] | None,
    typer.Option(
        "--limit",
        metavar="WORDS",
        help="'twist at least +10%', 'swing at most +3', 'balance between 235 and 240', 'added at most 10'. "
        "Figures: weight, balance, swing, twist, recoil, spin, added. A sign means a change. Several add up.",
    ),
]
TapeName = Annotated[str, typer.Option("--tape", metavar="NAME", help="A tape from digitise tape.")]
Layers = Annotated[int, typer.Option("--layers", min=1, max=20, help="Layers of tape.")]
OnFace = Annotated[bool, typer.Option("--on-face", help="Flat on the face beside the edge, not over it.")]
StandOff = Annotated[
    float,
    typer.Option(
        "--stand-off",
        metavar="MM",
        callback=stand_off,
        help="Outside the outline (over the edge) or inside; at most 50.",
    ),
]
Zones = Annotated[
    list[str] | None,
    typer.Option(
        "--where",
        metavar="ZONE",
        help="'edge' (default), '2:00 to 4:30' (clockwise; '11:00 to 2:00' is across the tip), '40mm to "
        "200mm' (from the tip). With --sides-free 'left ...' or 'right ...' is one side.",
    ),
]
Mirror = Annotated[
    bool, typer.Option("--mirror/--sides-free", help="The same on both sides, or each side as it comes.")
]
Handle = Annotated[bool, typer.Option("--handle/--no-handle", help="Allow tape under the grip.")]
Butt = Annotated[
    float,
    typer.Option("--butt", metavar="G", min=0, callback=finite, help="Allow up to so many g in the butt."),
]
Strips = Annotated[int, typer.Option("--strips", min=1, help="Most pieces on the edge; a pair is two.")]
SwingAxis = Annotated[
    float | None,
    typer.Option("--swing-axis", metavar="MM", help="Swing axis, mm from the butt; else the file's."),
]
PlaceSd = Annotated[
    float,
    typer.Option(
        "--place-sd", metavar="MM", min=0, callback=finite, help="How exactly pieces are placed, one sd."
    ),
]
MassSd = Annotated[
    float,
    typer.Option(
        "--mass-sd", metavar="G", min=0, callback=finite, help="How exactly pieces are weighed, one sd."
    ),
]
Materials = Annotated[Path | None, typer.Option("--materials", metavar="FILE", help="Your materials file.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON.")]


def given_with(materials: Path | None) -> str:
    """What to add to strips of one's own tape, which other commands know by its materials file only."""
    return "" if materials is None else f" (to other commands give --materials {materials} with it)"


@dataclass(frozen=True)
class TapeUse:
    """Which tape, how it is stuck on, and where it may go."""

    tape: TapeName = "lead"
    layers: Layers = 1
    on_face: OnFace = False
    stand_off: StandOff = 0.0
    where: Zones = None
    mirror: Mirror = True
    handle: Handle = False
    butt: Butt = 0.0


ON_THE_EDGE = TapeUse()
ANYWHERE = TapeUse(layers=2, handle=True, butt=15.0)


def wish_of(use: TapeUse, **more: Any) -> Wish:
    """The shared options as what is asked for; ``more`` are a command's own fields of ``Wish``."""
    from model.pieces import Fold
    from model.search_study import Wish

    return Wish(
        tape=use.tape,
        layers=use.layers,
        fold=Fold.ON_FACE if use.on_face else Fold.OVER_EDGE,
        stand_off_mm=use.stand_off,
        zones=tuple(use.where or ()),
        mirror=use.mirror,
        handle=use.handle,
        butt_g=use.butt,
        **more,
    )
