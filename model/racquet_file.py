"""The racquet file: one JSON file per racquet, described by a JSON Schema made from this code.

Racquet frame, mm, g and kg cm²; image points in pixels, the centre of the top-left pixel (0, 0).
"""

from __future__ import annotations

import json
from typing import Annotated, Literal

import numpy as np
from pydantic import AfterValidator, Field, field_validator, model_validator

from model.figures import BODY_ORDER, FIGURE_NAMES
from model.readings import Reading
from model.record_base import (
    ABOVE_ZERO,
    Finite,
    NotNegative,
    Part,
    Point,
    Positive,
    PositiveValue,
    Ring,
    Row5,
    above_zero,
)
from model.record_base import Value as Value
from model.sight_record import CurveRecord, DoubtRecord, PoseRecord, SmoothRecord, StretchRecord

FORMAT = "racquet-model"
VERSION = 2
FINEST = 1e-6  # g, mm, kg cm²: an sd below this is none
ROUNDING = 1e-3  # of a correlation: two sums of thousands of g² mm² that differ by their last digits


class SwingValue(Value):
    """A swing weight: about an axis in the face plane, square to the handle, axis_mm from the butt."""

    axis_mm: Finite


class OutlineRecord(Part):
    """Rings in the racquet frame, closed, the first point not repeated.

    ``size_correlation`` says how far the errors of length and width as traced go together. ``smooth`` is the
    same shape as curves; None where the rings were drawn by hand or written by an older program.
    """

    outer_mm: Ring
    openings_mm: list[Ring]
    length_mm: PositiveValue
    width_mm: PositiveValue
    size_correlation: Annotated[float, Field(gt=-1, lt=1)] = 0.0
    smooth: SmoothRecord | None = None


class LandmarksRecord(Part):
    """Places along the long axis, from the butt's centre; face_centre_mm is where clock positions start.

    ``butt_sd_mm`` is the butt centre's sd across the axis and ``axis_sd_deg`` the axis's own, None where no
    photo tells. ``straight_sides_mm`` are the start and end of straight side edges, if the shape has them.
    What has a default was not told in older files.
    """

    handle_top_mm: Value
    throat_top_mm: Value | None = None
    widest_mm: Finite
    widest_sd_mm: NotNegative | None = None
    face_centre_mm: Point
    face_centre_sd_mm: NotNegative | None = None
    tip_mm: Value | None = None
    butt_sd_mm: NotNegative | None = None
    axis_sd_deg: NotNegative | None = None
    straight_sides_mm: list[Value] = Field(default_factory=list)


class ThicknessRecord(Part):
    """Thickness square to the face; stated by the person or the construction's default."""

    face_mm: PositiveValue
    face_source: Literal["stated", "default"]
    handle_mm: PositiveValue
    handle_source: Literal["stated", "default"]


class FiguresRecord(Part):
    """The six figures, or in what commands print a change of them."""

    weight_g: Value
    balance_mm: Value
    swing_weight_kgcm2: SwingValue
    twist_weight_kgcm2: Value
    recoil_weight_kgcm2: Value
    spin_weight_kgcm2: Value


def _above_zero(figures: FiguresRecord) -> FiguresRecord:
    for name in FIGURE_NAMES:
        try:
            above_zero(getattr(figures, name))
        except ValueError as error:
            raise ValueError(f"{name} {error}") from None
    return figures


RacquetFigures = Annotated[
    FiguresRecord,
    AfterValidator(_above_zero),
    Field(json_schema_extra={"properties": dict.fromkeys(FIGURE_NAMES, ABOVE_ZERO)}),
]


class CovarianceRecord(Part):
    """Joint covariance of five figures, so that they can be restated at any axis and with tape.

    ``order`` is always that of ``model.figures.BODY_ORDER``.
    """

    order: list[str]
    matrix: Annotated[list[Row5], Field(min_length=5, max_length=5)]

    @field_validator("order")
    @classmethod
    def _in_order(cls, order: list[str]) -> list[str]:
        if order != list(BODY_ORDER):
            raise ValueError(f"must be {', '.join(BODY_ORDER)}, in this order")
        return order

    @field_validator("matrix")
    @classmethod
    def _of_something(cls, matrix: list[list[float]]) -> list[list[float]]:
        """Covariances are symmetric and have no negative variance in any direction, but for rounding, which
        is more where a reading is very exact; what it leaves unlike is evened."""
        found = np.array(matrix)
        sds = np.maximum(np.sqrt(np.abs(np.diag(found))), FINEST)
        like_correlations = found / np.outer(sds, sds)
        even = (np.abs(like_correlations - like_correlations.T) <= ROUNDING).all()
        if not even or np.linalg.eigvalsh(like_correlations)[0] < -ROUNDING:
            raise ValueError("must be a covariance: symmetric, and without a negative variance")
        evened: list[list[float]] = ((found + found.T) / 2).tolist()
        return evened


class PartRecord(Part):
    """A part's share of the weight."""

    name: str
    mass_g: PositiveValue


class PlacementRecord(Part):
    """A piece of weight that was fitted: as ``digitise place --strip`` reads it, its mass in grams.

    ``mass_sd_g`` is what is not known of a mass worked out from a tape's weight per length.
    """

    strip: str
    mirror: bool = False
    mass_sd_g: NotNegative = 0.0


class PhotoRecord(Part):
    """The photo that was traced; ``path`` is where it was, seen from the racquet file's folder."""

    file_name: str
    path: str | None = None
    sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    width_px: Annotated[int, Field(gt=0)]
    height_px: Annotated[int, Field(gt=0)]


class CardRecord(Part):
    """The reference card: the four sharp corners in the upright photo."""

    corners_px: Annotated[list[Point], Field(min_length=4, max_length=4)]
    width_mm: Positive = 85.60
    height_mm: Positive = 53.98
    on: Literal["table", "face"] = "table"


class ScaleRecord(Part):
    """How pixels became millimetres; relative_sd is the sd of any length, as a share of it.

    ``cards`` is how many references the camera was found from, of which ``card`` is the first.
    """

    card: CardRecord
    cards: Annotated[int, Field(ge=1)] = 1
    camera_height_mm: Value
    mm_per_px: Value
    relative_sd: NotNegative
    focal_px: Value | None = None
    focal_source: str | None = None
    tilt_deg: Value | None = None


class LikeRecord(Part):
    """What another racquet of the same model says about this one's insides; see ``model.like``."""

    file_name: str
    labels: list[str]
    information: list[list[Finite]]
    push: list[Finite]

    @model_validator(mode="after")
    def _square(self) -> LikeRecord:
        rows = [len(row) for row in self.information]
        if not len(self.labels) == len(self.push) == len(rows) or any(n != len(rows) for n in rows):
            raise ValueError("labels, information and push must have one entry for each label")
        return self


class TracedSize(Part):
    """Length and width as the photo gave them, where a tape measure has corrected the outline."""

    length_mm: PositiveValue
    width_mm: PositiveValue


class AutomaticRecord(Part):
    """What trace found, before any hand: in the frame it had then, with the pose and scale behind it."""

    outline: OutlineRecord
    landmarks: LandmarksRecord
    figures: RacquetFigures
    scale: ScaleRecord | None = None
    pose: PoseRecord | None = None


class CorrectionRecord(Part):
    """What was put right by hand; ``outline`` and ``landmarks`` of the file are the corrected ones.

    ``outer`` and ``openings`` are the curves through the points that were dragged: where the rim is seen,
    in the plane of the file's pose and in its frame. ``automatic`` is None for a racquet marked from
    scratch. ``touched`` are the stretches of the outline that a hand has moved or declared right.
    """

    outer: CurveRecord
    openings: list[CurveRecord]
    touched: list[StretchRecord]
    axis_moved: bool = False
    card_moved: bool = False
    butt_by_hand: bool = False
    automatic: AutomaticRecord | None = None


class RacquetFile(Part):
    """A whole racquet."""

    format: Literal["racquet-model"] = "racquet-model"
    version: Literal[2] = 2
    construction: Literal["solid", "perforated", "strung"]
    outline: OutlineRecord
    landmarks: LandmarksRecord
    thickness: ThicknessRecord
    figures: RacquetFigures
    figures_covariance: CovarianceRecord
    parts: list[PartRecord]
    readings: list[Reading]
    placements: list[PlacementRecord] = Field(default_factory=list)
    photo: PhotoRecord | None = None
    scale: ScaleRecord | None = None
    traced_size: TracedSize | None = None
    like: list[LikeRecord] = Field(default_factory=list)
    pose: PoseRecord | None = None
    doubts: list[DoubtRecord] = Field(default_factory=list)
    correction: CorrectionRecord | None = None
    notes: list[str] = Field(default_factory=list)
    flags: list[str] = Field(default_factory=list)


def racquet_schema() -> str:
    """The JSON Schema of the file as JSON text, the same as in ``data/racquet.schema.json``."""
    schema = RacquetFile.model_json_schema()
    schema = {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "Racquet file", **schema}
    return json.dumps(schema, indent=1, ensure_ascii=False) + "\n"
