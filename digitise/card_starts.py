"""Where to start looking for the camera's pose: the few that four corners of a flat card allow."""

from __future__ import annotations

import math
from dataclasses import replace

import cv2
import numpy as np

from digitise.camera import Camera
from digitise.card_shape import CardShape
from digitise.tone import FloatArray

_START_APART = 0.1  # of the card's length: a start further off is no pose of this card


def starts(corners_px: FloatArray, focal_px: float, middle_px: FloatArray, shape: CardShape) -> list[Camera]:
    """The two poses a planar rectangle allows (infinitesimal plane-based pose), table at z = 0.

    That method breaks down where the camera looks straight down; a level camera is the start there.
    """
    flat = np.column_stack([shape.corners_mm, np.zeros(4)])
    matrix = np.array([[focal_px, 0, middle_px[0]], [0, focal_px, middle_px[1]], [0, 0, 1]])
    _, turns, shifts, _ = cv2.solvePnPGeneric(flat, corners_px, matrix, None, flags=cv2.SOLVEPNP_IPPE)
    level = _level_start(corners_px, focal_px, middle_px, shape)
    cameras = []
    for turn, shift in zip(turns, shifts, strict=True):
        rotation = np.asarray(cv2.Rodrigues(turn)[0], float)
        translation = np.asarray(shift, float).ravel() - rotation[:, 2] * shape.thickness_mm
        if np.isfinite(rotation).all() and np.isfinite(translation).all():
            camera = replace(level, rotation=rotation, translation_mm=translation)
            if camera.height_mm > 0 and _corners_apart(camera, corners_px, shape) < _START_APART:
                cameras.append(camera)
    return cameras or [level]


def _level_start(corners_px: FloatArray, focal_px: float, middle_px: FloatArray, shape: CardShape) -> Camera:
    """A camera straight above, turned and as high as the card's seen long sides and middle say."""
    along = (corners_px[1] - corners_px[0] + corners_px[2] - corners_px[3]) / 2
    px_per_mm = math.hypot(*along) / shape.long_mm
    x, y = along / math.hypot(*along)
    rotation = np.array([[x, y, 0.0], [y, -x, 0.0], [0.0, 0.0, -1.0]])
    depth = focal_px / px_per_mm
    off = (corners_px.mean(axis=0) - middle_px) / px_per_mm
    translation = np.array([*off, depth]) - rotation[:, 2] * shape.thickness_mm
    return Camera(focal_px, float(middle_px[0]), float(middle_px[1]), rotation, translation)


def _corners_apart(camera: Camera, corners_px: FloatArray, shape: CardShape) -> float:
    """Greatest distance of seen from given corners, over the card's length."""
    seen = camera.project(np.column_stack([shape.corners_mm, np.full(4, shape.thickness_mm)]))
    apart = float(np.linalg.norm(seen - corners_px, axis=1).max())
    return apart / math.hypot(*(corners_px[1] - corners_px[0])) if math.isfinite(apart) else math.inf
