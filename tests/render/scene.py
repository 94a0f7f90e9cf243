"""A whole scene: everything needed to render one photo, as plain data."""

from __future__ import annotations

from dataclasses import dataclass, field

from tests.render.camera import CameraSpec
from tests.render.cards import CardSpec
from tests.render.extras import ExtraSpec
from tests.render.lights import LightSpec
from tests.render.racquet import RacquetSpec
from tests.render.sensor import SensorSpec
from tests.render.tables import TableSpec


@dataclass(frozen=True)
class Laid:
    """A racquet on the table: the middle of its length at (x, y) mm, its tip turned
    ``turn_deg`` counter-clockwise from the world's +y."""

    spec: RacquetSpec
    x_mm: float = 0.0
    y_mm: float = 0.0
    turn_deg: float = 0.0


@dataclass(frozen=True)
class Scene:
    """``racquets`` and ``cards``: the first of each is the one the truth speaks of."""

    seed: int
    camera: CameraSpec
    racquets: tuple[Laid, ...] = ()
    cards: tuple[CardSpec, ...] = ()
    extras: tuple[ExtraSpec, ...] = ()
    table: TableSpec = field(default_factory=TableSpec)
    light: LightSpec = field(default_factory=LightSpec)
    sensor: SensorSpec = field(default_factory=SensorSpec)
    expect_failure: str | None = None
