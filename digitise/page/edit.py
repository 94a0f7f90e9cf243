"""What the browser may say: the state of the drawing, checked before anything is done with it."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

Coordinate = Annotated[float, Field(allow_inf_nan=False, ge=-1e5, le=1e5)]
Spot = Annotated[list[Coordinate], Field(min_length=2, max_length=2)]


class Said(BaseModel):
    """Base of everything that comes from the browser."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class EditCurve(Said):
    """A closed curve: its points and corner flags."""

    points: Annotated[list[Spot], Field(min_length=3, max_length=2000)]
    corners: Annotated[list[bool], Field(min_length=3, max_length=2000)]


class EditAxis(Said):
    """Where the long axis runs: its x at the sheet's y = 0 and at its ``tip_mm``."""

    at_butt_mm: Coordinate = 0.0
    at_tip_mm: Coordinate = 0.0


class EditStretch(Said):
    """A stretch of the drawn outline, by its ends, counter-clockwise."""

    start: Spot
    end: Spot


class Edit(Said):
    """The whole drawing, in mm of the sheet that belongs to ``card_px`` (None: the file's own).

    ``handle_top_mm`` and ``throat_top_mm`` are measured along the axis from the sheet's y = 0; ``butt_mm``
    is where the butt line was put by hand, None where it keeps to the outline's lowest point.
    """

    outer: EditCurve
    openings: Annotated[list[EditCurve], Field(max_length=500)] = Field(default_factory=list)
    handle_top_mm: Coordinate
    throat_top_mm: Coordinate | None = None
    marks_by_hand: bool = False
    axis: EditAxis = EditAxis()
    butt_mm: Coordinate | None = None
    card_px: Annotated[list[Spot], Field(min_length=4, max_length=4)] | None = None
    redrawn: Annotated[list[EditStretch], Field(max_length=500)] = Field(default_factory=list)
    declared: Annotated[list[EditStretch], Field(max_length=500)] = Field(default_factory=list)
