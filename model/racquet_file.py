"""The racquet file: one JSON file per racquet, described by a JSON Schema made from this code.

Racquet frame, mm, g and kg cm²; image points in pixels, the centre of the top-left pixel (0, 0).
"""

from __future__ import annotations

import json
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

FORMAT = "racquet-model"
VERSION = 1

Finite = Annotated[float, Field(allow_inf_nan=False)]
NotNegative = Annotated[float, Field(allow_inf_nan=False, ge=0)]
Positive = Annotated[float, Field(allow_inf_nan=False, gt=0)]
Point = Annotated[list[Finite], Field(min_length=2, max_length=2)]
Ring = Annotated[list[Point], Field(min_length=3)]
Row5 = Annotated[list[Finite], Field(min_length=5, max_length=5)]


class Part(BaseModel):
    """Base of everything in the file: unknown keys are wrong, values can't be swapped in place."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class Value(Part):
    """A value and its standard deviation."""

    value: Finite
    sd: NotNegative


class SwingValue(Value):
    """A swing weight: about an axis in the face plane, square to the handle, axis_mm from the butt."""

    axis_mm: Finite


class OutlineRecord(Part):
    """Rings in the racquet frame, closed, the first point not repeated."""

    outer_mm: Ring
    openings_mm: list[Ring]
    length_mm: Value
    width_mm: Value


class LandmarksRecord(Part):
    """Places along the long axis, from the butt; face_centre_mm is where clock positions start."""

    handle_top_mm: Value
    throat_top_mm: Value | None = None
    widest_mm: Finite
    face_centre_mm: Point


class ThicknessRecord(Part):
    """Thickness square to the face; stated by the person or the construction's default."""

    face_mm: Value
    face_source: Literal["stated", "default"]
    handle_mm: Value
    handle_source: Literal["stated", "default"]


class FiguresRecord(Part):
    """The six figures."""

    weight_g: Value
    balance_mm: Value
    swing_weight_kgcm2: SwingValue
    twist_weight_kgcm2: Value
    recoil_weight_kgcm2: Value
    spin_weight_kgcm2: Value


class CovarianceRecord(Part):
    """Joint covariance of five figures, so that they can be restated at any axis and with tape."""

    order: list[str]
    matrix: Annotated[list[Row5], Field(min_length=5, max_length=5)]


class PartRecord(Part):
    """A part's share of the weight."""

    name: str
    mass_g: Value


class ReadingRecord(Part):
    """A reading: weight in g, balance in mm; unused ones are kept but do not count."""

    kind: Literal["weight", "balance"]
    value: Positive
    sd: Positive
    used: bool = True


class PlacementRecord(Part):
    """A strip of tape that was fitted, as it was written."""

    strip: str
    mirror: bool = False


class PhotoRecord(Part):
    """The photo the outline was traced from."""

    file_name: str
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
    """How pixels became millimetres; relative_sd is the sd of any length, as a share of it."""

    card: CardRecord
    camera_height_mm: Value
    mm_per_px: Value
    relative_sd: NotNegative
    focal_px: Value | None = None
    focal_source: str | None = None
    tilt_deg: Value | None = None


class RacquetFile(Part):
    """A whole racquet."""

    format: Literal["racquet-model"] = "racquet-model"
    version: Literal[1] = 1
    construction: Literal["solid", "perforated", "strung"]
    outline: OutlineRecord
    landmarks: LandmarksRecord
    thickness: ThicknessRecord
    figures: FiguresRecord
    figures_covariance: CovarianceRecord
    parts: list[PartRecord]
    readings: list[ReadingRecord]
    placements: list[PlacementRecord] = []
    photo: PhotoRecord | None = None
    scale: ScaleRecord | None = None
    notes: list[str] = []
    flags: list[str] = []


def racquet_schema() -> str:
    """The JSON Schema of the file as JSON text, the same as in ``data/racquet.schema.json``."""
    schema = RacquetFile.model_json_schema()
    schema = {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "Racquet file", **schema}
    return json.dumps(schema, indent=1, ensure_ascii=False) + "\n"
