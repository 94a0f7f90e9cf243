"""One camera from several references on one table: every card has its own place, all share the lens.

A card far from the first holds down what a single one leaves loose, above all the tilt, which a small
card's sides hardly tell. The unknowns are the camera and, for each further reference, where it lies and how
it is turned; all are found together, with the covariance of the camera after the places are summed out.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from digitise.camera import PARAMETER_NAMES, Camera, Plane
from digitise.card_shape import CardShape
from digitise.tone import FloatArray

Pulls = Callable[[Camera], FloatArray]
"""What a reference says of a camera in the reference's own frame: misfits in standard deviations."""

_CAMERA = len(PARAMETER_NAMES)
_CAMERA_SCALE = np.array([10.0, 0.01, 0.01, 0.01, 1.0, 1.0, 5.0, 10.0, 10.0, 0.01])  # steps of like effect
_PLACE_SCALE = np.array([1.0, 1.0, 0.01])
_STEP = 1e-4


@dataclass(frozen=True)
class Place:
    """Where a reference lies on the table: its middle (x, y) in mm and its turn, in the first one's frame."""

    x_mm: float = 0.0
    y_mm: float = 0.0
    turn_rad: float = 0.0

    def moved(self, change: FloatArray) -> Place:
        """The place after a change (3,) of x, y and turn."""
        return Place(
            self.x_mm + float(change[0]), self.y_mm + float(change[1]), self.turn_rad + float(change[2])
        )

    def seen_from(self, camera: Camera) -> Camera:
        """``camera`` of the first reference's frame, restated in the frame of the one that lies here."""
        cos, sin = math.cos(self.turn_rad), math.sin(self.turn_rad)
        turned = camera.rotation @ np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
        shifted = camera.rotation @ np.array([self.x_mm, self.y_mm, 0.0]) + camera.translation_mm
        return replace(camera, rotation=turned, translation_mm=shifted)


@dataclass(frozen=True, eq=False)
class Bundle:
    """The joint fit: ``covariance`` (10, 10) of the camera, the further ``places``, and what did not fit.

    ``pulls`` has one array for each reference: its remaining misfits in standard deviations.
    """

    camera: Camera
    covariance: FloatArray
    places: tuple[Place, ...]
    pulls: tuple[FloatArray, ...]

    @property
    def chi_square(self) -> float:
        """Sum of all squared pulls of the references, without what was known before."""
        return float(sum(p @ p for p in self.pulls))


def place_of(camera: Camera, corners_px: FloatArray, shape: CardShape) -> Place:
    """Where a card with these sharp corners (4, 2), 0 to 1 a long side, lies, seen by ``camera``."""
    corners = camera.to_plane(corners_px, Plane(shape.thickness_mm))
    x, y = corners.mean(axis=0)
    along = corners[1] - corners[0] + corners[2] - corners[3]
    return Place(float(x), float(y), math.atan2(along[1], along[0]))


def bundle(start: Camera, references: Sequence[tuple[Pulls, Place]], known: Pulls) -> Bundle:
    """Fit camera and places to all references at once, from a start near by.

    The first reference's place is the world's frame and stays; ``known`` are pulls of what is known of the
    camera beforehand. Raises ValueError if there are no references.
    """
    from scipy.optimize import least_squares  # takes longer to load than one card's pose takes to find

    if not references:
        raise ValueError("a bundle needs at least one reference")
    scale = np.concatenate([_CAMERA_SCALE, *[_PLACE_SCALE] * (len(references) - 1)])

    def at(unknown: FloatArray) -> tuple[Camera, list[Place]]:
        change = unknown * scale
        camera = start.moved(change[:_CAMERA])
        moves = [np.zeros(3), *change[_CAMERA:].reshape(-1, 3)]
        return camera, [place.moved(m) for (_, place), m in zip(references, moves, strict=True)]

    def each(unknown: FloatArray) -> list[FloatArray]:
        camera, places = at(unknown)
        return [f(place.seen_from(camera)) for (f, _), place in zip(references, places, strict=True)]

    def every(unknown: FloatArray) -> FloatArray:
        return np.concatenate([*each(unknown), known(at(unknown)[0])])

    best = np.asarray(least_squares(every, np.zeros(len(scale)), method="lm").x)
    steps = _STEP * np.eye(len(scale))
    jacobian = np.column_stack([(every(best + s) - every(best - s)) / (2 * _STEP) for s in steps])
    covariance = np.linalg.inv(jacobian.T @ jacobian)[:_CAMERA, :_CAMERA]
    camera, places = at(best)
    return Bundle(
        camera=camera,
        covariance=np.asarray(covariance * np.outer(_CAMERA_SCALE, _CAMERA_SCALE)),
        places=tuple(places),
        pulls=tuple(each(best)),
    )
