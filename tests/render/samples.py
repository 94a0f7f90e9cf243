"""The photos of sample_images: three invented racquets of an invented club."""

from __future__ import annotations

from collections.abc import Callable

from tests.render.camera import CameraSpec
from tests.render.cards import CardSpec
from tests.render.extras import ExtraSpec
from tests.render.lights import LightSpec
from tests.render.racquet import Finish, Insides, RacquetSpec
from tests.render.scene import Laid, Scene
from tests.render.sensor import SensorSpec
from tests.render.tables import TableSpec


def club_paddle() -> Scene:
    """A long solid paddle on wood by a window, a white card beside the handle."""
    spec = RacquetSpec(
        "solid", "long", 417.0, 190.0, 14.0, 30.0, 34.0, 136.0, 231.0, 238.0, band_mm=6.5, edge_radius_mm=4.0,
        finish=Finish("#23506e", "#e8b04a", "#1f2124", "#2a2b2e", "#1c1d20", "oval", 0.18),
        insides=Insides(0.17, 9.0, -0.08, 0.15, -0.2, 0.11, 0.12, 0.42, 34.0),
    )  # fmt: skip
    camera = CameraSpec(3024, 4032, 26.0, 690.0, 1.8, 70.0, 14.0, (-18.0, 0.0), -0.004, (6.0, -4.0))
    return Scene(
        2101, camera, (Laid(spec, 0.0, 0.0, 8.0),), (CardSpec("white", -112.0, -120.0, 17.0),),
        (ExtraSpec("pencil", 150.0, -150.0, 62.0, "#c9a227"),), TableSpec("wood", 11, 70.0, 0),
        LightSpec("window", 35.0, 5, 0.4, 0.95), SensorSpec(0.75, 0.0012, 1.2e-4, 0.1, 88),
    )  # fmt: skip


def club_perforated() -> Scene:
    """A perforated racquet with an open throat on tiles, a navy card beside it."""
    spec = RacquetSpec(
        "perforated", "teardrop", 455.0, 258.0, 38.0, 31.0, 33.0, 126.0, 362.0, 259.0,
        band_mm=12.0, edge_radius_mm=6.0, hole_mm=11.0, hole_pitch_mm=29.0, open_throat=True,
        finish=Finish("#d9dadb", "#c2452f", "#26282c", "#1f2022", "#26282c", "halves", 0.25),
        insides=Insides(0.27, 14.0, -0.1, 0.1, -0.15, 0.1, 0.1, 0.5, 40.0, 0.0, 0.7),
    )  # fmt: skip
    camera = CameraSpec(4032, 3024, 25.0, 720.0, 2.6, 200.0, 62.0, (-15.0, -10.0), -0.01, (-8.0, 5.0))
    return Scene(
        2102, camera, (Laid(spec, 0.0, 0.0, 12.0),), (CardSpec("navy", -118.0, -145.0, -24.0),),
        (ExtraSpec("coin", 130.0, -190.0, 0.0, "#b58a4a"),), TableSpec("tiles", 7, 31.0, 0),
        LightSpec("window", 140.0, 9, 0.42, 0.95), SensorSpec(0.8, 0.0014, 1.4e-4, 0.12, 88, True, 6),
    )  # fmt: skip


def club_strung() -> Scene:
    """A strung racquet with an open throat on a light table under a lamp, a colourful card beside it."""
    spec = RacquetSpec(
        "strung", "open", 685.0, 258.0, 23.0, 29.0, 32.5, 190.0, 311.0, 327.0,
        tube_mm=12.0, string_pitch_mm=11.5,
        finish=Finish("#23408f", "#e4e4e2", "#23408f", "#232427", "#1b1c1f", "stripes", 0.35, "#37373a"),
        insides=Insides(head_gradient=-0.12, handle_gradient=-0.2, butt_share=0.09, strings_g=16.0),
    )  # fmt: skip
    camera = CameraSpec(3024, 4032, 26.0, 830.0, 1.4, 310.0, -9.0, (20.0, 0.0), -0.006, (4.0, 9.0))
    return Scene(
        2103, camera, (Laid(spec, 0.0, 0.0, -6.0),), (CardSpec("gradient", 108.0, -150.0, 71.0),),
        (), TableSpec("light", 3, 0.0, 1),
        LightSpec("lamp", 120.0, 2, 0.45, 0.95), SensorSpec(0.75, 0.0012, 1.0e-4, 0.1, 88),
    )  # fmt: skip


SAMPLES: dict[str, Callable[[], Scene]] = {
    "club-paddle": club_paddle,
    "club-perforated": club_perforated,
    "club-strung": club_strung,
}
