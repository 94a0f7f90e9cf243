"""The options by which ``calibrate``, ``after`` and ``correct`` take readings, each written as a text."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from model.readings import Reading

Texts = list[str] | None

Weight = Annotated[
    Texts, typer.Option("--weight", metavar="G", help="On a scale: 231, or '231.4, 231.2' for repeats.")
]
Balance = Annotated[
    Texts, typer.Option("--balance", metavar="MM", help="On a straight edge, from the butt: 238.")
]
ScaleCheck = Annotated[
    Texts, typer.Option("--scale-check", metavar="TEXT", help="A known mass: '200g shows 200.4g'.")
]
TwoSupports = Annotated[
    Texts, typer.Option("--two-supports", metavar="TEXT", help="'block 10mm, scale 380mm, reads 139.2g'.")
]
TwoScales = Annotated[Texts, typer.Option("--two-scales", metavar="TEXT", help="'10mm 91.8g, 380mm 139.2g'.")]
HeadReading = Annotated[
    Texts,
    typer.Option(
        "--head-reading", metavar="TEXT", help="Level, scale under it: '136.4g, butt 5mm, tip 405mm'."
    ),
]
ButtReading = Annotated[
    Texts, typer.Option("--butt-reading", metavar="TEXT", help="The same with the scale under the butt.")
]
Pendulum = Annotated[
    Texts, typer.Option("--pendulum", metavar="TEXT", help="'pivot 30mm, 20 swings, 21.86s'.")
]
Bifilar = Annotated[
    Texts,
    typer.Option(
        "--bifilar",
        metavar="TEXT",
        help="On two threads: 'twist, threads 900mm, spacing 150mm, 20 swings, 31.2s'; or recoil, spin.",
    ),
]
Machine = Annotated[
    Texts, typer.Option("--machine", metavar="TEXT", help="'swing 118.5 at 50mm', 'twist 6.2'; kg·cm².")
]
Published = Annotated[
    Texts, typer.Option("--published", metavar="TEXT", help="The maker's: 'swing 115 at 50mm'.")
]
Component = Annotated[
    Texts,
    typer.Option(
        "--component", metavar="TEXT", help="'butt cap 5.2g', 'overgrip 6g, not counted', '3g:76mm@3'."
    ),
]
Length = Annotated[Texts, typer.Option("--length", metavar="MM", help="Overall length by tape measure.")]
Width = Annotated[Texts, typer.Option("--width", metavar="MM", help="Largest width by tape measure.")]
Files = Annotated[
    list[Path] | None, typer.Option("--readings", metavar="FILE", help="Readings from a .toml or .csv.")
]


@dataclass(frozen=True)
class Measured:
    """What can be measured on a racquet with or without anything stuck on."""

    weight: Weight = None
    balance: Balance = None
    scale_check: ScaleCheck = None
    two_supports: TwoSupports = None
    two_scales: TwoScales = None
    head_reading: HeadReading = None
    butt_reading: ButtReading = None
    pendulum: Pendulum = None
    bifilar: Bifilar = None
    machine: Machine = None

    def typed(self) -> dict[str, Texts]:
        """The texts by kind of reading."""
        return {field.name: getattr(self, field.name) for field in fields(self) if field.name != "readings"}


@dataclass(frozen=True)
class Given(Measured):
    """All that can be known of a racquet, and files of it."""

    published: Published = None
    component: Component = None
    length: Length = None
    width: Width = None
    readings: Files = None


NOTHING_MEASURED, NOTHING_GIVEN = Measured(), Given()


def readings_of(typed: Mapping[str, Texts], files: Sequence[Path] = ()) -> list[Reading]:
    """Readings of files, then those typed, by kind. Raises ReadingError with what can't be read."""
    from model.reading_files import read_readings
    from model.reading_text import parse_reading

    found = [reading for path in files for reading in read_readings(path)]
    return found + [parse_reading(kind, text) for kind, texts in typed.items() for text in texts or []]
