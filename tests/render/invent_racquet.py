"""Invented racquets: nobody makes them, but sizes, masses and colours are realistic."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.render.prints import PATTERNS
from tests.render.racquet import Construction, Finish, Insides, RacquetSpec

SHAPES: dict[Construction, tuple[str, ...]] = {
    "solid": ("long", "square", "wide", "teardrop"),
    "perforated": ("round", "teardrop"),
    "strung": ("open", "thin"),
}
FACES = (
    "#2f3a4a",
    "#b3262e",
    "#1f56a8",
    "#e9e7e2",
    "#2f7d4f",
    "#e6c02f",
    "#5b3a8c",
    "#d8743a",
    "#3b3b3f",
    "#7fb7c9",
)
BANDS = ("#202225", "#1d2a44", "#dddcd8", "#7b2d8b", "#d96a1e", "#8d9196")
WRAPS = ("#26272a", "#d9d8d4", "#3a3330", "#7a2f35", "#2c3d5c")
STRINGS = ("#d9d6c8", "#2a2a2c", "#e3d13c", "#8f8f92")


def random_racquet(
    rng: np.random.Generator, construction: Construction, shape: str | None = None
) -> RacquetSpec:
    """A racquet nobody makes, of realistic size and mass, with uneven insides."""
    kind = shape or str(rng.choice(SHAPES[construction]))
    finish = Finish(
        face=str(rng.choice(FACES)), pattern_colour=str(rng.choice(FACES)), band=str(rng.choice(BANDS)),
        wrap=str(rng.choice(WRAPS)), butt=str(rng.choice(BANDS)), pattern=str(rng.choice(PATTERNS)),
        gloss=float(rng.uniform(0.02, 0.4)), strings=str(rng.choice(STRINGS)),
    )  # fmt: skip
    insides = Insides(
        edge_share=float(rng.uniform(0.12, 0.26)), edge_width_mm=float(rng.uniform(7, 12)),
        head_gradient=float(rng.uniform(-0.25, 0.25)), edge_gradient=float(rng.uniform(-0.4, 0.4)),
        handle_gradient=float(rng.uniform(-0.4, 0.4)), butt_share=float(rng.uniform(0.07, 0.15)),
        patch_gain=float(rng.uniform(-0.15, 0.35)), patch_y_share=float(rng.uniform(0.35, 0.6)),
        patch_mm=float(rng.uniform(20, 45)), skin_share=float(rng.uniform(0.3, 0.9)),
        strings_g=float(rng.uniform(14, 18)) if construction == "strung" else 0.0,
    )  # fmt: skip

    def between(low: float, high: float, step: float = 0.5) -> float:
        return float(np.round(rng.uniform(low, high) / step) * step)

    if construction == "solid":
        long, wide = {"long": (417, 189), "square": (402, 199), "wide": (400, 202), "teardrop": (409, 196)}[
            kind
        ]
        length = between(long - 4, long + 3)
        return RacquetSpec(construction, kind, length, between(wide - 2.5, wide + 2.5), between(11.5, 16),
                           between(27.5, 30.5), between(32, 35.5), between(130, 140, 1), between(212, 244, 1),
                           between(0.572 * length, 0.592 * length, 1), band_mm=between(4, 9),
                           edge_radius_mm=between(2.5, 5), finish=finish, insides=insides)  # fmt: skip
    if construction == "perforated":
        length = between(450, 455)
        open_throat = bool(rng.random() < 0.6)
        return RacquetSpec(construction, kind, length, between(254, 260), between(36, 38),
                           between(29, 32.5), between(32, 34.5), between(120, 132, 1),
                           between(345, 375, 1), between(252, 266, 1),
                           band_mm=between(9, 14), edge_radius_mm=between(6, 13), hole_mm=between(9, 13),
                           hole_pitch_mm=between(26, 32), open_throat=open_throat, finish=finish,
                           insides=replace(insides, edge_width_mm=14.0))  # fmt: skip
    if kind == "thin":
        return RacquetSpec(construction, kind, between(670, 676), between(208, 216), between(8.5, 10),
                           between(23, 25), between(24, 26), between(190, 205, 1), between(86, 94, 1),
                           between(290, 305, 1), butt_flare_mm=2.0, tube_mm=between(8, 9.5), shaft_mm=8.0,
                           string_pitch_mm=between(8.5, 10), finish=finish,
                           insides=replace(insides, strings_g=6.0))  # fmt: skip
    return RacquetSpec(construction, kind, between(682, 688), between(250, 264), between(21, 25),
                       between(27.5, 30), between(31, 33.5), between(180, 200, 1), between(295, 325, 1),
                       between(318, 338, 1), tube_mm=between(11, 13), string_pitch_mm=between(10, 13.5),
                       finish=finish, insides=insides)  # fmt: skip
