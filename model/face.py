"""Where the face lies on an outline: its lower end, its centre, its rim."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from model.errors import OutlineError
from model.outline import Outline

THROAT_TOP_SD_MM = 1.5  # the string bed's lower end is seen, the hoop's width there is taken from the tip's


@dataclass(frozen=True)
class Landmarks:
    """Places along the long axis, mm from the butt, with their sds.

    ``throat_top_mm`` is where the face begins above an open throat or a shaft (the outside of
    the hoop's lower end); None when the face starts at the handle.
    """

    handle_top_mm: float
    handle_top_sd_mm: float = 3.0
    throat_top_mm: float | None = None
    throat_top_sd_mm: float = THROAT_TOP_SD_MM

    @property
    def face_bottom_mm(self) -> float:
        """The face's lower end: the throat top if there is one, else the handle top."""
        return self.handle_top_mm if self.throat_top_mm is None else self.throat_top_mm


def check_landmarks(outline: Outline, landmarks: Landmarks) -> None:
    """Raise OutlineError unless butt < handle top ≤ throat top < tip, on this outline."""
    low, high = float(outline.outer_mm[:, 1].min()), float(outline.outer_mm[:, 1].max())
    if not low < landmarks.handle_top_mm < high:
        raise OutlineError(
            f"the handle top must lie between the butt ({low:.0f} mm) and the tip ({high:.0f} mm), "
            f"not at {landmarks.handle_top_mm:.0f} mm: correct the landmark"
        )
    if not landmarks.handle_top_mm <= landmarks.face_bottom_mm < high:
        raise OutlineError(
            f"the throat top must lie between the handle top ({landmarks.handle_top_mm:.0f} mm) and the tip "
            f"({high:.0f} mm), not at {landmarks.face_bottom_mm:.0f} mm: correct the landmark"
        )


def face_centre_mm(tip_y_mm: float, landmarks: Landmarks) -> tuple[float, float]:
    """(x, y) of the clock's centre: on the long axis, midway between the face's lower end and the tip.

    The midpoint rather than the centroid, because a person can find it with a ruler.
    """
    return (0.0, (landmarks.face_bottom_mm + tip_y_mm) / 2)


def string_bed(outline: Outline) -> int:
    """Index of the opening that is the string bed: the largest. Raises OutlineError without openings."""
    if not outline.openings_mm:
        raise OutlineError(
            "a strung racquet needs its string bed as an opening of the outline: mark it by hand"
        )
    areas = [abs(_signed_area(ring)) for ring in outline.openings_mm]
    return int(np.argmax(areas))


def with_hoop(outline: Outline, landmarks: Landmarks) -> Landmarks:
    """A strung racquet's landmarks with the throat top filled in when it is missing.

    The hoop is taken to be as wide at its lower end as at the tip.
    """
    if landmarks.throat_top_mm is not None:
        return landmarks
    bed = outline.openings_mm[string_bed(outline)]
    hoop_width = float(outline.outer_mm[:, 1].max() - bed[:, 1].max())
    return replace(landmarks, throat_top_mm=max(float(bed[:, 1].min()) - hoop_width, landmarks.handle_top_mm))


def _signed_area(ring: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> float:
    x, y = ring.T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2)
