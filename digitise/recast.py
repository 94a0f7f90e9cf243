"""The same sight for another camera or another body: where the seen rim then puts the outline.

What was seen stays where it was in the photo. If the racquet turns out thicker, or the camera to stand
elsewhere, the same pixels mean another outline in millimetres.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from digitise.band import ring_normals
from digitise.camera import Camera
from digitise.contour import Contour, from_butt
from digitise.resting import Body, Resting, rest, rim_shift_mm, seen_rim_shift_mm
from digitise.tone import FloatArray


def seen_px(camera: Camera, contour: Contour, body: Body) -> FloatArray:
    """Pixels (n, 2) at which the rim of the outline is seen."""
    ring = contour.ring_mm
    normal = ring_normals(ring)
    shift = rim_shift_mm(camera, contour.resting, body, ring, normal)
    return contour.resting.to_pixels(camera, ring + shift[:, None] * normal)


def recast_ring(
    camera: Camera, resting: Resting, body: Body, rim_px: FloatArray, normal: FloatArray
) -> FloatArray:
    """The middle plane's outline (n, 2), mm, whose rim is seen at ``rim_px`` (n, 2); ``normal`` outward."""
    seen = resting.from_pixels(camera, rim_px)
    shift = seen_rim_shift_mm(camera, resting, body, seen, normal)
    return np.asarray(seen - shift[:, None] * normal)


def relaid(resting: Resting, body: Body, other: Body) -> Resting:
    """The same place on the table for another body: only its middle plane's height and slope change."""
    if other is body:
        return resting
    ours, theirs = rest(resting.axis, body), rest(resting.axis, other)
    return replace(
        resting,
        height_mm=resting.height_mm + theirs.height_mm - ours.height_mm,
        slope=resting.slope + theirs.slope - ours.slope,
    )


def with_body(camera: Camera, contour: Contour, body: Body, other: Body) -> Contour:
    """The contour that ``other`` would have been traced as, had it been known instead of ``body``."""
    laid = relaid(contour.resting, body, other)
    ring = recast_ring(camera, laid, other, seen_px(camera, contour, body), ring_normals(contour.ring_mm))
    return from_butt(replace(contour, resting=laid, ring_mm=ring))


def with_camera(camera: Camera, contour: Contour, body: Body, other: Camera) -> Contour:
    """The contour that would have been traced by ``other``, had that camera been known instead."""
    rim_px, normal = seen_px(camera, contour, body), ring_normals(contour.ring_mm)
    return from_butt(replace(contour, ring_mm=recast_ring(other, contour.resting, body, rim_px, normal)))
