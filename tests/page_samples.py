"""A sheet with a made-up camera, and curves on it, for the tests of the page's parts."""

from __future__ import annotations

import numpy as np

from digitise.axis import Axis
from digitise.body import body_of
from digitise.camera import PARAMETER_NAMES, Camera
from digitise.card_pose import CameraEstimate
from digitise.landmarks import HandleMarks
from digitise.page.edit import Edit, EditCurve
from digitise.page.sheet import Sheet
from digitise.resting import rest
from digitise.tone import FloatArray
from model.spline import curve_through

DOWN = np.diag([1.0, -1.0, -1.0])
"""Rotation of a camera that looks straight down with the world's y up in the picture."""


def camera(height_mm: float = 700.0, focal_px: float = 3000.0) -> CameraEstimate:
    """Straight above the origin of the table; a pixel is focal / height wide."""
    found = Camera(focal_px, 2000.0, 1500.0, DOWN, np.array([0.0, 0.0, height_mm]))
    return CameraEstimate(found, 1e-8 * np.eye(len(PARAMETER_NAMES)), 0.1, 0.5, True)


def sheet(height_mm: float = 700.0) -> Sheet:
    """A racquet 400 mm long lying off to the right, so that its rim is seen shifted."""
    body = body_of("solid", 400.0, HandleMarks(30.0, 34.0, 130.0, 2.0), 14.0, 30.0)
    axis = Axis(np.array([120.0, -180.0]), np.array([0.0, 1.0]))
    return Sheet(camera(height_mm), rest(axis, body), body)


def oval(half_x: float = 95.0, half_y: float = 200.0, count: int = 24, middle: float = 200.0) -> FloatArray:
    """Points of an ellipse, counter-clockwise."""
    angle = np.arange(count) / count * 2 * np.pi
    return np.column_stack([half_x * np.cos(angle), middle + half_y * np.sin(angle)])


def said(points: FloatArray) -> EditCurve:
    """A smooth curve as the browser says it."""
    return EditCurve(points=points.tolist(), corners=[False] * len(points))


def oval_edit(**changes: object) -> Edit:
    """An oval racquet."""
    return Edit(outer=said(oval()), handle_top_mm=120.0).model_copy(update=changes)


def ring_of(curve: EditCurve) -> FloatArray:
    """Even points of a said curve."""
    found = curve_through(curve.points, curve.corners)
    return np.asarray(found.pieces(np.linspace(0, found.knots[-1], 2000, endpoint=False)))
