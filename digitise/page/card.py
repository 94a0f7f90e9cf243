"""The card's corners moved by hand: another camera, so another scale for everything that was drawn."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from digitise.card_light import light_window
from digitise.card_lines import outlines
from digitise.card_pose import MAX_TILT_DEG, CameraEstimate, fit_pose
from digitise.card_shape import ID1, CardShape
from digitise.card_sides import CardSide, measured_sides
from digitise.lens_prior import LensPrior
from digitise.page.edit import Edit, EditAxis, EditCurve, EditStretch
from digitise.page.sheet import Sheet
from digitise.photo import Photo
from digitise.reference import Asked, lens_of
from digitise.tone import FloatArray
from model.errors import ModelError
from model.racquet_file import CardRecord

HAND_CORNER_SD_PX = 0.5
"""How well a corner is put in place under the loupe."""
SNAP_PX = 8.0


def shape_of(card: CardRecord | None) -> CardShape:
    """The reference of a racquet file: a bank card, or what else was measured from."""
    if card is None or (card.width_mm, card.height_mm) == (ID1.long_mm, ID1.short_mm):
        return ID1
    return CardShape(card.width_mm, card.height_mm, 0.0, 0.1, 0.002 * card.width_mm, 0.002 * card.height_mm)


def camera_from(photo: Photo, corners_px: FloatArray, shape: CardShape, snap: bool) -> CameraEstimate:
    """The camera that sees the card's sharp corners (4, 2) there. Raises ModelError where none does.

    With ``snap`` the card's sides are measured in the photo, starting from the corners.
    """
    corners = in_order(corners_px)
    sides = _measured(photo, corners, shape) if snap else None
    if sides is None:
        sides = _by_hand(corners)
    measured = np.array([side.start_px for side in sides])
    estimate = fit_pose(sides, measured, _lens(photo), shape)
    if estimate is None:
        raise ModelError("these four corners fit no position of a camera: put each on a corner of the card")
    if estimate.camera.tilt_deg > MAX_TILT_DEG:
        raise ModelError(
            f"with these corners the camera would lean {estimate.camera.tilt_deg:.0f}° from straight down, "
            f"and at most {MAX_TILT_DEG:.0f}° can be used: check the corners"
        )
    return estimate


@lru_cache(maxsize=1)
def _lens(photo: Photo) -> LensPrior:
    """What is known of the lens that took the photo on the page: the same however its card is moved."""
    return lens_of(photo, Asked())


def in_order(corners_px: FloatArray) -> FloatArray:
    """Corners counter-clockwise as seen, 0 to 1 a long side. Raises ModelError where they cross."""
    middle = corners_px.mean(axis=0)
    away = corners_px - middle
    ring = corners_px[np.argsort(-np.arctan2(away[:, 1], away[:, 0]))]
    sides = np.linalg.norm(np.roll(ring, -1, axis=0) - ring, axis=1)
    if sides.min() < 8.0:
        raise ModelError("two of the card's corners lie on one spot: put each on a corner of the card")
    return ring if sides[0] + sides[2] >= sides[1] + sides[3] else np.roll(ring, -1, axis=0)


def seen_anew(edit: Edit, old: Sheet, new: Sheet, card_px: FloatArray) -> Edit:
    """The same drawing over the same photo, on the sheet of another camera."""

    def moved(points: list[list[float]]) -> list[list[float]]:
        there = new.from_px(old.to_px(np.array(points, float)))
        return [[round(float(x), 5), round(float(y), 5)] for x, y in there]

    def curve(said: EditCurve) -> EditCurve:
        return EditCurve(points=moved(said.points), corners=said.corners)

    def stretch(said: EditStretch) -> EditStretch:
        start, end = moved([said.start, said.end])
        return EditStretch(start=start, end=end)

    def across(y_mm: float) -> float:
        low, high = edit.axis.at_butt_mm, edit.axis.at_tip_mm
        return low + (high - low) * y_mm / old.body.length_mm

    def along(y_mm: float | None) -> float | None:
        return None if y_mm is None else moved([[across(y_mm), y_mm]])[0][1]

    (x0, y0), (x1, y1) = moved([[across(0.0), 0.0], [across(old.body.length_mm), old.body.length_mm]])
    slope = (x1 - x0) / (y1 - y0)
    return Edit(
        outer=curve(edit.outer),
        openings=[curve(said) for said in edit.openings],
        handle_top_mm=along(edit.handle_top_mm) or 0.0,
        throat_top_mm=along(edit.throat_top_mm),
        marks_by_hand=edit.marks_by_hand,
        axis=EditAxis(at_butt_mm=x0 - slope * y0, at_tip_mm=x0 + slope * (new.body.length_mm - y0)),
        butt_mm=along(edit.butt_mm),
        card_px=[[float(x), float(y)] for x, y in card_px],
        redrawn=[stretch(said) for said in edit.redrawn],
        declared=[stretch(said) for said in edit.declared],
    )


def _measured(photo: Photo, corners_px: FloatArray, shape: CardShape) -> tuple[CardSide, ...] | None:
    window = light_window(photo.pixels_rgb, corners_px, 6 * SNAP_PX)
    return None if window is None else measured_sides(window, corners_px, shape, SNAP_PX / 2)


def _by_hand(corners_px: FloatArray) -> tuple[CardSide, ...]:
    """Sides as if measured, through the corners, as sure as a hand is."""
    share = np.linspace(0.1, 0.9, 33)[:, None]
    return tuple(
        CardSide(
            points_px=line.start + share * (line.end - line.start),
            start_px=line.start,
            end_px=line.end,
            outward=line.outward,
            offset_sd_px=HAND_CORNER_SD_PX / np.sqrt(2),
            turn_sd_px=HAND_CORNER_SD_PX,
            residual_rms_px=HAND_CORNER_SD_PX,
            used_share=1.0,
            sigma_px=1.0,
            step_light=0.5,
            noise_light=0.01,
            highest_light=0.8,
        )
        for line in outlines(corners_px)
    )
