"""The card's corners moved by hand: another camera, so another scale for everything that was drawn."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from digitise.camera import PARAMETER_NAMES
from digitise.card import card_at
from digitise.card_lines import outlines
from digitise.card_pose import MAX_TILT_DEG, CameraEstimate, card_pose, fit_pose
from digitise.card_shape import ID1, CardShape
from digitise.card_sides import CardSide
from digitise.lens_prior import LensPrior
from digitise.page.edit import Edit, EditAxis, EditCurve, EditStretch
from digitise.page.sheet import Sheet
from digitise.photo import Photo
from digitise.reference import Asked, lens_of
from digitise.tone import FloatArray
from model.errors import ModelError
from model.racquet_file import CardRecord

HAND_CORNER_SD_PX, AGREE_PX = 0.5, 0.25
"""How well a corner is put in place under the loupe; nearer to its edges' corner than this it is that one."""
CALIBRATED = 0.25
"""How well a calibrated lens's focal length is known, as a share of how well one that was read off the photo
is, at most: what the card and the table tell besides makes it no more than half."""


def shape_of(card: CardRecord | None) -> CardShape:
    """The reference of a racquet file: a bank card, or what else was measured from."""
    if card is None or (card.width_mm, card.height_mm) == (ID1.long_mm, ID1.short_mm):
        return ID1
    return CardShape(card.width_mm, card.height_mm, 0.0, 0.1, 0.002 * card.width_mm, 0.002 * card.height_mm)


def camera_from(
    photo: Photo, corners_px: FloatArray, shape: CardShape, snap: bool, file: CameraEstimate | None = None
) -> CameraEstimate:
    """The camera that sees the card's sharp corners (4, 2) there; ``file`` is the one the racquet file has.

    With ``snap``, or where the corners are those of the card's own edges, these are measured in the photo as
    ``trace`` does. Raises ModelError where no camera sees such corners, or no edges are there to snap to.
    """
    lens = _lens(photo) if file is None else calibrated(_lens(photo), file)
    corners = in_order(corners_px)
    measured = _on_edges(photo, corners, shape, lens)
    if snap and measured is None:
        raise ModelError(
            "no card's edges are found at these corners: put each of them nearer to its corner of the card, "
            "then snap again"
        )
    if measured is not None and (snap or _apart_px(measured.corners_px(shape), corners) < AGREE_PX):
        return measured
    sides = _by_hand(corners)
    estimate = fit_pose(sides, np.array([side.start_px for side in sides]), lens, shape)
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


def calibrated(lens: LensPrior, file: CameraEstimate) -> LensPrior:
    """What is known of the ``lens``: the file's own, if that is known so well that it was calibrated."""
    sd = dict(zip(PARAMETER_NAMES, np.sqrt(np.diag(file.covariance)), strict=True))
    if not 0 < sd["focal_px"] < CALIBRATED * lens.focal_sd_px:
        return lens
    camera = file.camera
    return replace(
        lens,
        focal_px=camera.focal_px,
        focal_sd_px=float(sd["focal_px"]),
        centre_px=(camera.cx_px, camera.cy_px),
        centre_sd_px=float(np.hypot(sd["cx_px"], sd["cy_px"]) / np.sqrt(2)),
        k1=camera.k1,
        k1_sd=float(sd["k1"]),
        known=True,
        vanishing=(),  # told by the other lens, and hardly more than a calibrated one tells
    )


def _on_edges(
    photo: Photo, corners_px: FloatArray, shape: CardShape, lens: LensPrior
) -> CameraEstimate | None:
    """The camera by the card's edges near its corners; None if there are none."""
    found = card_at(photo.pixels_rgb, lens, corners_px, shape)
    if found is None or found.pose is None or found.pose.camera.tilt_deg > MAX_TILT_DEG:
        return None
    return card_pose(found, lens, shape)


def _apart_px(one_px: FloatArray, other_px: FloatArray) -> float:
    """How far corners (4, 2) of two rings that begin on either long side are apart at most."""
    return float(min(np.abs(np.roll(one_px, turn, axis=0) - other_px).max() for turn in (0, 2)))


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
