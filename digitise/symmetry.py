"""Mirror symmetry as a measurement of the camera: a racquet's two sides are alike, so a tilt betrays itself.

Where the camera leaned about the long axis by a little more than the card says, one side of the outline
comes out larger than the other, most where the racquet is wide. What is left between the sides is fitted by
the camera's own uncertain directions, each held by its standard deviation, together with a shift and a turn
of the axis. The card decides what the sides can't tell; the sides decide what the card left open.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from digitise.band import mirrored, ring_normals
from digitise.camera import Camera
from digitise.card_pose import CameraEstimate
from digitise.contour import Contour, from_butt
from digitise.recast import recast_ring, seen_px
from digitise.resting import Body
from digitise.tone import FloatArray

EDGE_SD_MM = 0.2
"""How unlike two mirrored places of a sound racquet come out: its making, its wear and the finding of the
edge; the same over ALIKE_MM of the edge, beyond which another such chance comes."""
ALIKE_MM = 25.0
CHIPPED_MM = 0.6
"""Differences beyond this count little: a chip, a strip of tape, an edge that followed a shadow."""
_PASSES = 12


@dataclass(frozen=True, eq=False)
class Evened:
    """``estimate`` with what the symmetry told, and the ``contour`` seen by it.

    ``apart_mm`` is the root mean square of what still differs between mirrored places: half the distance of
    one side from the other's mirror image.
    """

    estimate: CameraEstimate
    contour: Contour
    apart_mm: float


def evened(estimate: CameraEstimate, contour: Contour, body: Body) -> Evened:
    """The camera and the contour after the two sides have been compared."""
    ring, normal = contour.ring_mm, ring_normals(contour.ring_mm)
    rim_px = seen_px(estimate.camera, contour, body)

    def moved_mm(camera: Camera) -> FloatArray:
        """How far outward the outline lies for another camera."""
        seen = recast_ring(camera, contour.resting, body, rim_px, normal)
        return np.asarray(np.sum((seen - ring) * normal, axis=1))

    camera = estimate.camera
    slopes = np.column_stack(
        [(moved_mm(camera.moved(d)) - moved_mm(camera.moved(-d))) / 2 for d in estimate.directions.T]
    )
    change, covariance, apart_mm = _fitted(contour, normal, slopes)
    tightened = estimate.stepped(change, covariance)
    seen = recast_ring(tightened.camera, contour.resting, body, rim_px, normal)
    return Evened(tightened, _centred(contour, seen), apart_mm)


def odd(values: FloatArray) -> FloatArray:
    """What differs between mirrored places: half the value here less half that at the twin."""
    return np.asarray((values - mirrored(values)) / 2)


def _sound(contour: Contour) -> FloatArray:
    """How far (n,), 0 to 1, an edge was truly found both here and at the mirror place."""
    own = contour.strength * ~contour.borrowed
    return np.asarray(np.minimum(own, mirrored(own)))


def axis_terms(ring: FloatArray, normal: FloatArray) -> FloatArray:
    """How the edge (n,) moves outward with a shift and a turn of the racquet, (n, 2)."""
    return np.column_stack([normal[:, 0], ring[:, 0] * normal[:, 1] - ring[:, 1] * normal[:, 0]])


def _unlike(ring: FloatArray, normal: FloatArray) -> FloatArray:
    """How far outside its twin's mirror image each place lies, halved, (n,), mm."""
    twin = mirrored(ring) * np.array([-1.0, 1.0])
    return np.asarray(np.sum((ring - twin) * normal, axis=1) / 2)


def _fitted(contour: Contour, normal: FloatArray, slopes: FloatArray) -> tuple[FloatArray, FloatArray, float]:
    """Steps along the camera's directions, in sd, their covariance, and the rms of what is left, mm."""
    ring = contour.ring_mm
    unlike = _unlike(ring, normal)
    terms = np.column_stack([odd(slopes), axis_terms(ring, normal)])
    count = slopes.shape[1]
    known = np.concatenate([np.ones(count), np.zeros(2)])  # the camera's steps have sd 1, the axis is free
    # each pair of places is in the ring twice, and neighbours tell the same
    step_mm = float(np.linalg.norm(np.diff(ring, axis=0), axis=1).mean())
    per_place = step_mm / (2 * ALIKE_MM * EDGE_SD_MM**2)
    sound = _sound(contour)
    fit: FloatArray = np.zeros(count + 2)
    normal_matrix = np.diag(known)
    for _ in range(_PASSES):
        left = unlike + terms @ fit
        weight = per_place * sound / (1 + (left / CHIPPED_MM) ** 2) ** 2
        normal_matrix = terms.T @ (weight[:, None] * terms) + np.diag(known)
        pull = -terms.T @ (weight * unlike)
        fit = np.asarray(np.linalg.solve(normal_matrix + 1e-12 * np.eye(count + 2), pull), float)
    left = unlike + terms @ fit
    covariance = np.linalg.inv(normal_matrix + 1e-12 * np.eye(count + 2))[:count, :count]
    rms = float(np.sqrt(np.average(left**2, weights=np.maximum(sound, 1e-6))))
    return fit[:count], np.asarray(covariance, float), rms


def _centred(contour: Contour, ring: FloatArray) -> Contour:
    """The contour with a new ring, its axis laid through the middle of the two sides."""
    normal = ring_normals(ring)
    sound = _sound(contour) + 1e-6
    terms = axis_terms(ring, normal)
    fit = np.linalg.lstsq(terms * sound[:, None], _unlike(ring, normal) * sound, rcond=None)[0]
    shift_mm, turn = float(fit[0]), float(fit[1])
    cos, sin = np.cos(-turn), np.sin(-turn)
    level = (ring - np.array([shift_mm, 0.0])) @ np.array([[cos, sin], [-sin, cos]])
    return from_butt(replace(contour, ring_mm=level, resting=contour.resting.moved(turn, shift_mm, 0.0)))
