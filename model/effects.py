"""Everything pieces do to a racquet, from its file: figures, and how it meets a ball."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from model.build import body_of, landmarks_of, outline_of, relative_size_cov, site_in
from model.errors import ModelError, StripError
from model.impact import (
    FreeBody,
    effective_mass_g,
    free_body,
    has_percussion,
    hitting_face,
    percussion_mm,
    steadiness,
)
from model.laying import Laid
from model.measured import Measured
from model.outline import Outline
from model.pieces import Piece
from model.placement import added, lay_all
from model.racquet_file import RacquetFile
from model.study import Study, Triple, off_axis_mm, study, triple, with_added
from model.tolerance import Tolerance, placement_cov, risen, throat_risen
from model.units import parse_length

Array = NDArray[np.float64]

PERCUSSION = "percussion_mm"


@dataclass(frozen=True)
class ImpactRow:
    """One quantity of an impact before, after and changed, with what it is called and its unit."""

    words: str
    unit: str
    before: Measured
    after: Measured
    change: Measured


@dataclass(frozen=True, eq=False)
class Effects:
    """The pieces as laid, what is odd about them, the six figures' study, and the impact.

    ``impact_rows`` holds effective mass at ``impact_mm``, the best on the face, the area within
    10 % of the best, the area that reaches the level 10 % under the old best, and the centre of
    percussion for the study's swing axis, which is left out where that is at the balance point.
    """

    laid: tuple[Laid, ...]
    notes: tuple[str, ...]
    added: Array
    study: Study
    impact_mm: tuple[float, float]
    impact_rows: dict[str, ImpactRow]
    body_before: FreeBody
    body_after: FreeBody
    outline: Outline
    face: BaseGeometry


def effects_of(
    racquet: RacquetFile,
    pieces: Sequence[Piece],
    *,
    axis_mm: float,
    mirror: bool = False,
    tolerance: Tolerance | None = None,
    impact_mm: tuple[float, float] | None = None,
) -> Effects:
    """Lay pieces on a racquet and study them. Raises StripError or ModelError."""
    tolerance = tolerance or Tolerance()
    site, body = site_in(racquet), body_of(racquet)
    laid, notes = lay_all(site, pieces, mirror)
    integrals = added(laid)
    placed, size_cov = placement_cov(site, laid, tolerance), relative_size_cov(racquet)
    lying = sum((np.outer(m, m) for m in (risen(site, laid), throat_risen(site, laid))), np.zeros((6, 6)))
    outline = outline_of(racquet)
    face = face_of(racquet, outline)
    at = impact_mm or site.centre_mm
    _check_point(at, outline)
    before, after = (
        free_body(body.values, 0.0),
        free_body(with_added(body.values, integrals), off_axis_mm(body.values, integrals)),
    )
    level = steadiness(before, face).level_g
    percussion = all(
        has_percussion(values, axis_mm) for values in (body.values, with_added(body.values, integrals))
    )

    def quantities(values: Array, x_mm: float) -> Array:
        free = free_body(values, x_mm)
        steady = steadiness(free, face)
        return np.array(
            [
                effective_mass_g(free, np.array(at)),
                steady.best_g,
                steady.area_cm2,
                steadiness(free, face, level).area_cm2,
                percussion_mm(values, axis_mm) if percussion else 0.0,
            ]
        )

    rows = _rows(triple(quantities, body, integrals, size_cov, placed, lying), level, axis_mm)
    if not percussion:
        del rows[PERCUSSION]
    return Effects(
        laid=tuple(laid),
        notes=tuple(notes),
        added=integrals,
        study=study(body, integrals, axis_mm, size_cov, placed, lying),
        impact_mm=at,
        impact_rows=rows,
        body_before=before,
        body_after=after,
        outline=outline,
        face=face,
    )


def face_of(racquet: RacquetFile, outline: Outline) -> BaseGeometry:
    """Where the file's racquet is hit."""
    return hitting_face(outline, landmarks_of(racquet), racquet.construction == "strung")


def parse_point(text: str) -> tuple[float, float]:
    """``X,Y`` in mm or with units. Raises StripError or UnitError."""
    words = text.split(",")
    if len(words) != 2:
        raise StripError(f"the point {text!r} must be X,Y in mm from the long axis and the butt, as 20,270")
    x, y = (parse_length(word, "point's coordinate").value for word in words)
    return x, y


def _check_point(at: tuple[float, float], outline: Outline) -> None:
    x0, y0, x1, y1 = outline.filled.bounds
    if not (x0 <= at[0] <= x1 and y0 <= at[1] <= y1):
        raise ModelError(
            f"the point {at[0]:g}, {at[1]:g} mm is beside the racquet: x runs from {round(x0)} to "
            f"{round(x1)} mm, y from {round(y0)} to {round(y1)} mm"
        )


def _rows(t: Triple, level_g: float, axis_mm: float) -> dict[str, ImpactRow]:
    heads = (
        ("effective_mass_g", "effective mass there", "g"),
        ("best_effective_mass_g", "best on the face", "g"),
        ("steady_area_cm2", "area within 10 % of the best", "cm²"),
        ("area_at_old_level_cm2", f"area of at least {level_g:.0f} g", "cm²"),
        (PERCUSSION, f"centre of percussion, axis {axis_mm:g} mm", "mm"),
    )
    return {
        key: ImpactRow(
            words,
            unit,
            Measured(float(t.before[i]), float(t.before_sd[i])),
            Measured(float(t.after[i]), float(t.after_sd[i])),
            Measured(float(t.change[i]), float(t.change_sd[i])),
        )
        for i, (key, words, unit) in enumerate(heads)
    }
