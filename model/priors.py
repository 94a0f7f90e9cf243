"""The priors file: what is known about each construction before any reading."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib import resources
from typing import Any

from model.errors import ModelError
from model.measured import Measured


class Construction(StrEnum):
    """How a racquet is built."""

    SOLID = "solid"
    PERFORATED = "perforated"
    STRUNG = "strung"


@dataclass(frozen=True)
class PartPrior:
    """One part: which region of the outline it fills, its density and how sure both are.

    ``density`` is g/mm² for areas, g/mm for the rim, g for the butt cap; the other fields are
    explained at the head of ``data/priors.toml``.
    """

    name: str
    shape: str
    density: float
    log_sd: float
    uneven: float
    reach_mm: float
    stack: Measured
    depth_mm: Measured


@dataclass(frozen=True)
class Prior:
    """One construction's prior; thicknesses are what is assumed when none is stated.

    Racquets of one model differ by ``model_share`` of the sds by which those of the construction do.
    A strung racquet whose hoop sits on a rod is a light one, of parts of its own: ``on_rod``.
    """

    construction: Construction
    swing_axis_mm: float
    face_thickness_mm: Measured
    handle_thickness_mm: Measured
    common_log_sd: float
    model_share: float
    parts: tuple[PartPrior, ...]
    on_rod: tuple[PartPrior, ...] = ()


def prior_for(construction: str) -> Prior:
    """The shipped prior of a construction. Raises ModelError for an unknown one."""
    if construction not in list(Construction):
        known = ", ".join(Construction)
        raise ModelError(f"the construction {construction!r} is unknown: it must be one of {known}")
    return _shipped()[construction]


@cache
def _shipped() -> dict[str, Prior]:
    text = resources.files("model").joinpath("data/priors.toml").read_text("utf-8")
    return {name: _prior(name, table) for name, table in tomllib.loads(text).items()}


def _prior(name: str, table: dict[str, Any]) -> Prior:
    return Prior(
        construction=Construction(name),
        swing_axis_mm=table["swing_axis_mm"],
        face_thickness_mm=Measured(*table["face_mm"]),
        handle_thickness_mm=Measured(*table["handle_mm"]),
        common_log_sd=table["common_log_sd"],
        model_share=table["model_share"],
        parts=_parts(table["parts"]),
        on_rod=_parts(table.get("on_rod", {})),
    )


def _parts(rows: dict[str, Any]) -> tuple[PartPrior, ...]:
    return tuple(
        PartPrior(
            name=part,
            shape=row["shape"],
            density=row["density"],
            log_sd=row["log_sd"],
            uneven=row["uneven"],
            reach_mm=row["reach_mm"],
            stack=Measured(*row["stack"]),
            depth_mm=Measured(*row.get("depth_mm", (0.0, 0.0))),
        )
        for part, row in rows.items()
    )
