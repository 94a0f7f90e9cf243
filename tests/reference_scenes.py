"""Rendered photos of a racquet beside references of any size, with known truth."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from digitise.photo import Photo, read_photo
from digitise.trace import Thickness
from model.build import Known, thicknesses
from tests.render import Rendered, Scene, random_scene, render, write
from tests.render.cards import CardSpec
from tests.render.placing import beside, card_footprint, footprint, framed
from tests.render.racquet import RacquetSpec


def beside_sheet(
    seed: int, width_mm: float, height_mm: float, megapixels: float = 3, exif: bool = True
) -> Scene:
    """A solid racquet beside a plain sheet of paper of this size and nothing else, wholly in the picture."""
    scene = random_scene(seed, "solid", megapixels=megapixels, extras=0, exif=exif)
    rng = np.random.default_rng(seed)
    racquet = footprint(scene.racquets[0])
    for _ in range(500):
        spot = beside(rng, racquet, min(width_mm, height_mm) / 2, 8.0, 60.0)
        turn = float(rng.uniform(0, 360))
        sheet = CardSpec("sheet", spot.x, spot.y, turn, width_mm, height_mm, 0.0, 0.1)
        if 8.0 < card_footprint(sheet).distance(racquet) < 60.0:
            return framed(replace(scene, cards=(sheet,)))
    raise ValueError("no free place for the sheet")


def photo_of(rendered: Rendered, folder: Path, name: str = "photo") -> Photo:
    """The rendered picture as the program reads it from disk."""
    return read_photo(write(rendered, folder, name))


def photographed(scene: Scene, folder: Path, name: str = "photo") -> tuple[Photo, Rendered]:
    """Render a scene, save it and read it again."""
    rendered = render(scene)
    return photo_of(rendered, folder, name), rendered


def thickness_of(spec: RacquetSpec) -> Thickness:
    """What its owner knows of a solid racquet's thicknesses."""
    face, handle = thicknesses(Known("solid", spec.face_thickness_mm, spec.handle_thickness_mm))
    return Thickness(face.value, face.sd, handle.value, handle.sd)
