"""Records of how the racquet was seen: the camera and how the racquet lay, doubtful and corrected stretches.

World frame: the table is z = 0, z up, origin in the middle of the card, mm. A camera takes a world point X
to ``K (R X + t)``. The racquet's middle plane lies ``height_mm`` above the table at the butt and rises by
``slope`` per mm towards the tip. With these a photo can be straightened into the racquet's own plane.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from model.record_base import Finite, NotNegative, Part, Point, Positive, Ring

Triple = Annotated[list[Finite], Field(min_length=3, max_length=3)]


class CameraRecord(Part):
    """A camera; ``covariance`` of its parameters, in the order of ``covariance_order``, if it is known."""

    focal_px: Positive
    cx_px: Finite
    cy_px: Finite
    rotation: Annotated[list[Triple], Field(min_length=3, max_length=3)]
    translation_mm: Triple
    k1: Finite = 0.0
    covariance: list[list[Finite]] | None = None
    covariance_order: list[str] = Field(default_factory=list)


class BodyRecord(Part):
    """The racquet's section as the camera's view of its rim needs it, mm; see ``digitise.resting.Body``."""

    length_mm: Positive
    handle_top_mm: Finite
    face_thickness_mm: Positive
    handle_thickness_mm: Positive
    butt_thickness_mm: Positive
    handle_width_mm: Positive
    rim_radius_mm: NotNegative
    rim_half_width_mm: Positive | None
    balance_share: Positive
    card_on_face: bool = False
    butt_radius_mm: Positive = 4.0


class PoseRecord(Part):
    """The camera, and the racquet's frame in the world: butt centre, unit vector butt to tip, and height."""

    camera: CameraRecord
    origin_mm: Point
    up: Point
    height_mm: Finite
    slope: Finite
    body: BodyRecord


class DoubtRecord(Part):
    """A stretch of the outline that may be wrong: its ends on the outline, counter-clockwise, and why.

    ``where`` says it in words, by the clock or the distance from the butt; ``sd_mm`` is the outline's there,
    None in files from before it was told.
    """

    start_mm: Point
    end_mm: Point
    length_mm: NotNegative
    side: str
    where: str = ""
    reason: str
    sd_mm: Positive | None = None


class CurveRecord(Part):
    """A closed smooth curve through points, with corners where flagged; see ``model.spline``."""

    points_mm: Ring
    corners: list[bool]


class SmoothRecord(Part):
    """The outline as smooth curves, of which the rings are points: ``outer``, and one for each opening.

    ``edge_sd_mm`` is the sd of a clear edge point about the outer one, from the points' own residuals.
    """

    outer: CurveRecord
    openings: list[CurveRecord]
    edge_sd_mm: Positive


class StretchRecord(Part):
    """A stretch of the outline put right by hand: its ends, counter-clockwise, and its own sd."""

    start_mm: Point
    end_mm: Point
    length_mm: NotNegative
    sd_mm: Positive
    how: Literal["moved", "redrawn", "declared right"] = "moved"
