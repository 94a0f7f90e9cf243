"""Is this photo fit to be measured from? The verdict alone, with the numbers that led to it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from digitise.card_pose import MAX_TILT_DEG
from digitise.card_refusals import SMALLEST_PX, blur_limit_px
from digitise.photo import Photo
from digitise.reference import NEAREST_MM, Asked, Reference, find_reference

GOOD_TILT_DEG = 10.0
"""Tilts up to this are what a careful hand keeps; beyond it the unseen side of the rim costs accuracy."""
GOOD_SHARE = 2.0
"""A photo is good, not just usable, where size and sharpness have this much to spare."""


@dataclass(frozen=True)
class Mark:
    """One thing that was looked at: its number, its limit, whether that is good, and what to do if not."""

    what: str
    number: str
    limit: str
    good: bool
    cure: str = ""

    def words(self) -> str:
        """One line for the person."""
        advice = "" if self.good else f": {self.cure}"
        return f"{self.what}: {self.number} ({self.limit}){advice}"


@dataclass(frozen=True, eq=False)
class Verdict:
    """What a photo that can be used was found to be like."""

    reference: Reference
    marks: tuple[Mark, ...]

    @property
    def good(self) -> bool:
        """Whether nothing is worth retaking the photo for."""
        return all(mark.good for mark in self.marks)


def check_photo(photo: Photo, asked: Asked | None = None) -> Verdict:
    """Look at the reference and the camera's pose only. Raises Refused where the photo cannot be used."""
    reference = find_reference(photo, asked, refined=False)
    camera = reference.estimate.camera
    corners = reference.outlines_px[0]
    long_px = float(np.linalg.norm(corners[1] - corners[0]))
    blur_px, most_px = reference.edge_sigma_px, blur_limit_px(long_px / reference.shape.long_mm)
    marks = (
        Mark(
            "size", f"{long_px:.0f} pixels long", f"at least {SMALLEST_PX:.0f}",
            long_px >= GOOD_SHARE * SMALLEST_PX, "come closer or use the camera's full resolution",
        ),
        Mark(
            "sharpness", f"edges smeared over {2 * blur_px:.1f} pixels", f"at most {2 * most_px:.1f}",
            GOOD_SHARE * blur_px <= most_px, "hold the camera still and let it focus",
        ),
        Mark(
            "tilt", f"{camera.tilt_deg:.1f}° from straight down", f"at most {MAX_TILT_DEG:.0f}°",
            camera.tilt_deg <= GOOD_TILT_DEG, "hold the camera level",
        ),
        Mark(
            "height", f"{camera.height_mm:.0f} mm above the table", f"at least {NEAREST_MM:.0f}",
            reference.estimate.focal_known,
            "the photo does not say its focal length, so this may be far off; give the camera's own file",
        ),
    )  # fmt: skip
    return Verdict(reference, marks)
