"""How uncertain length and width are: everything that could have been otherwise, one thing at a time.

The outline was seen at certain pixels. What those pixels mean in millimetres depends on the camera (with
the card's corners and the focal length behind it), on the thicknesses and on how the rim is rounded. Each
is moved by one standard deviation and the outline measured again; the changes add up as squares.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from digitise.band import ring_normals
from digitise.body import BUILDS
from digitise.camera import Camera
from digitise.card_pose import CameraEstimate
from digitise.contour import Contour
from digitise.recast import recast_ring, relaid, seen_px
from digitise.resting import BUTT_RADIUS_SD_MM, Body
from digitise.tone import FloatArray

EDGE_SD_MM = 0.15
"""Spread of the edge found at one end of the racquet: blur, contact shadow, a rim turning dark."""
DOUBTFUL_EDGE_SD_MM = 1.0
"""The same where the edge is faint."""
FLARE_SD_MM = 0.6
"""How much thicker or thinner a butt cap may be than its width says, which is found to 0.35 mm."""

MOST_TOGETHER = 0.99999
"""Correlation at most: beyond it a covariance can no longer be inverted."""


@dataclass(frozen=True, eq=False)
class OutlineSpread:
    """Length and width with their standard deviations, mm, and how far their errors go together.

    ``own_mm2`` (2, 2) is their covariance from what differs between photos, camera and edge; ``shared_mm``
    (k, 2) how one sd of each thing that is the same in all photos of a racquet changes them.
    """

    length_mm: float
    length_sd_mm: float
    width_mm: float
    width_sd_mm: float
    correlation: float
    own_mm2: FloatArray
    shared_mm: FloatArray


def spread_of(length_mm: float, width_mm: float, own_mm2: FloatArray, shared_mm: FloatArray) -> OutlineSpread:
    """The spread with its sds and their correlation, which is kept short of 1."""
    covariance = own_mm2 + shared_mm.T @ shared_mm
    length_sd, width_sd = np.sqrt(np.diag(covariance))
    together = float(np.clip(covariance[0, 1] / (length_sd * width_sd), -MOST_TOGETHER, MOST_TOGETHER))
    return OutlineSpread(length_mm, float(length_sd), width_mm, float(width_sd), together, own_mm2, shared_mm)


def outline_spread(
    estimate: CameraEstimate, contour: Contour, body: Body, others: Iterable[Body]
) -> OutlineSpread:
    """Length and width of ``contour`` and their sd; ``others`` are bodies it may as well have."""
    camera, resting, ring = estimate.camera, contour.resting, contour.ring_mm
    normal, rim_px = ring_normals(ring), seen_px(camera, contour, body)

    def size(other_camera: Camera, other_body: Body) -> FloatArray:
        laid = relaid(resting, body, other_body)
        return np.asarray(np.ptp(recast_ring(other_camera, laid, other_body, rim_px, normal), axis=0)[::-1])

    base = size(camera, body)
    moves = np.array([size(moved, body) - base for moved in _moved_cameras(estimate)]).reshape(-1, 2)
    shared = [size(camera, other) - base for other in others]
    own = moves.T @ moves + np.diag(edge_variance(contour))
    return spread_of(float(base[0]), float(base[1]), own, np.array(shared).reshape(-1, 2))


def _moved_cameras(estimate: CameraEstimate) -> Iterator[Camera]:
    """The camera moved by one standard deviation along each independent direction of its covariance."""
    return (estimate.camera.moved(one_sd) for one_sd in estimate.directions.T if one_sd.any())


def other_bodies(body: Body, thickness_sd_mm: tuple[float, float], construction: str) -> Iterator[Body]:
    """Bodies it may as well have, each other by one sd of one thing.

    ``thickness_sd_mm`` is of face and handle.
    """
    face_sd, handle_sd = thickness_sd_mm
    yield replace(body, butt_radius_mm=body.butt_radius_mm + BUTT_RADIUS_SD_MM)
    yield replace(body, face_thickness_mm=body.face_thickness_mm + face_sd)
    yield replace(
        body,
        handle_thickness_mm=body.handle_thickness_mm + handle_sd,
        butt_thickness_mm=body.butt_thickness_mm + handle_sd,
    )
    yield replace(body, butt_thickness_mm=body.butt_thickness_mm + FLARE_SD_MM)
    if body.rim_half_width_mm is None:
        sd = BUILDS[construction].rim_radius_sd * body.face_thickness_mm / 2
        yield replace(body, rim_radius_mm=max(body.rim_radius_mm - sd, 0.0))
    else:
        yield replace(body, rim_half_width_mm=1.2 * body.rim_half_width_mm)


def edge_variance(contour: Contour) -> FloatArray:
    """Variance of length and width from finding the edge itself, at the ends and at the widest places."""
    ring = contour.ring_mm
    places = (
        (int(np.argmin(ring[:, 1])), int(np.argmax(ring[:, 1]))),
        (int(np.argmin(ring[:, 0])), int(np.argmax(ring[:, 0]))),
    )
    variances = []
    for ends in places:
        strength = contour.strength[list(ends)]
        sd = EDGE_SD_MM + (DOUBTFUL_EDGE_SD_MM - EDGE_SD_MM) * np.clip(1 - strength / 0.6, 0, 1)
        variances.append(float(np.sum(sd**2)))
    return np.array(variances)
