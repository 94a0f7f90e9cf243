"""The priors file: what is known about each construction before any reading.

A person who knows better may write a file of the same layout with only the entries that differ, at
``$DIGITISE_PRIORS`` when that is set, else at ``digitise/priors.toml`` in the configuration folder
(``$XDG_CONFIG_HOME``, else ``~/.config``).
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any

from model.errors import ModelError
from model.measured import Measured
from model.own_file import own_path

FILE_VARIABLE = "DIGITISE_PRIORS"


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

    ``air_share`` is how much of the air with a closed face this one carries along.
    Racquets of one model differ by ``model_share`` of the sds by which those of the construction do.
    A strung racquet whose hoop sits on a rod is a light one, of parts of its own: ``on_rod``.
    """

    construction: Construction
    swing_axis_mm: float
    face_thickness_mm: Measured
    handle_thickness_mm: Measured
    common_log_sd: float
    model_share: float
    air_share: float
    parts: tuple[PartPrior, ...]
    on_rod: tuple[PartPrior, ...] = ()


def prior_for(construction: str) -> Prior:
    """A construction's prior: the shipped one with the person's own entries over it.

    Raises ModelError for an unknown construction and for an own file that can't be used.
    """
    if construction not in list(Construction):
        known = ", ".join(Construction)
        raise ModelError(f"the construction {construction!r} is unknown: it must be one of {known}")
    path = own_path(FILE_VARIABLE, "priors.toml")
    try:
        changed_ns = path.stat().st_mtime_ns
    except OSError:
        changed_ns = None
    return _priors(None if changed_ns is None else path, changed_ns)[construction]


@lru_cache(maxsize=4)
def _priors(own: Path | None, _changed_ns: int | None) -> dict[str, Prior]:
    shipped = tomllib.loads(resources.files("model").joinpath("data/priors.toml").read_text("utf-8"))
    if own is not None:
        try:
            shipped = _over(shipped, tomllib.loads(own.read_text("utf-8")), f"the priors file {own}", "")
        except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
            raise ModelError(f"the priors file {own} can't be read: {error}") from None
    return {name: _prior(name, table) for name, table in shipped.items()}


def _over(shipped: Any, own: Any, name: str, where: str) -> Any:
    """Own entries in place of shipped ones of the same name and form; raises ModelError for others."""
    if isinstance(shipped, dict):
        unknown = [key for key in own if key not in shipped] if isinstance(own, dict) else ["?"]
        if unknown:
            names = ", ".join(shipped)
            raise ModelError(f"{name} has {unknown[0]!r} in {where or 'its head'}: use one of {names}")
        return {
            key: _over(value, own[key], name, f"{where}.{key}".lstrip(".")) if key in own else value
            for key, value in shipped.items()
        }
    if isinstance(shipped, list):
        if not isinstance(own, list) or len(own) != len(shipped):
            raise ModelError(f"{name} must have a value and its sd, like [14.0, 2.0], at {where}")
        return [_over(a, b, name, where) for a, b in zip(shipped, own, strict=True)]
    if isinstance(shipped, str):
        if own != shipped:
            raise ModelError(f"{name} can't change {where}: leave it out")
        return shipped
    number = isinstance(own, int | float) and not isinstance(own, bool) and math.isfinite(own)
    if not number or own < 0 or (own == 0 and shipped > 0 and not where.endswith("uneven")):
        raise ModelError(f"{name} must have a number above zero at {where}, not {own!r}")
    if where.endswith("_share") and own > 1:
        raise ModelError(f"{name} must have a share of at most 1 at {where}, not {own!r}")
    return float(own)


def _prior(name: str, table: dict[str, Any]) -> Prior:
    return Prior(
        construction=Construction(name),
        swing_axis_mm=table["swing_axis_mm"],
        face_thickness_mm=Measured(*table["face_mm"]),
        handle_thickness_mm=Measured(*table["handle_mm"]),
        common_log_sd=table["common_log_sd"],
        model_share=table["model_share"],
        air_share=table["air_share"],
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
