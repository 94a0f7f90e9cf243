"""A tape-measured length: against what the photo says, and as the only scale where there is no card."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from digitise.band import ring_normals
from digitise.camera import PARAMETER_NAMES, Camera
from digitise.card_pose import CameraEstimate
from digitise.card_shape import ID1
from digitise.contour import Contour, from_butt
from digitise.lens_prior import LEVEL_SD_DEG, LensPrior
from digitise.recast import recast_ring, seen_px
from digitise.reference import Reference
from digitise.refusal import Reason, Refused
from digitise.resting import Body
from digitise.spread import OutlineSpread
from model.readings import Reading

UNKNOWN_HEIGHT_RELATIVE_SD = 0.25
"""How far the camera's height may be from the first guess: nothing but the length tells it."""
FILLED = (0.7, 0.45)
"""Shares of the picture's long side that a racquet may fill: where the search for the height starts."""
BY_LENGTH = "length"
"""What a reference is called that is no card but the racquet's own length."""
_HEIGHT = PARAMETER_NAMES.index("t_z")
_ROUNDS = 3
_CLOSE = 0.005
DISAGREE_SDS = 2.5

SERVES_FOR = (Reason.NO_CARD, Reason.CARD_CUT, Reason.TOO_SMALL)
"""What may be wrong with the reference for a tape-measured length to serve in its place."""


def by_length(
    prior: LensPrior,
    size_px: tuple[int, int],
    length_mm: float,
    rough_length_mm: Callable[[Reference], float],
    why: str,
) -> Reference:
    """A camera held about level, at the height from which the racquet is ``length_mm`` long.

    ``rough_length_mm`` measures the racquet's length as seen by a reference's camera; ``why`` says
    what is wrong with the card. The covariance keeps the height nearly free: the
    length itself is a reading, which the model weighs with its sd.
    """
    for filled in FILLED:
        height_mm = prior.focal_px * length_mm / (filled * max(size_px))
        try:
            for _ in range(_ROUNDS):
                share = length_mm / rough_length_mm(_level(prior, height_mm, why))
                height_mm *= share
                if abs(share - 1) < _CLOSE:
                    break
        except Refused as refusal:
            # at a height too low the racquet seems too small to be one
            if refusal.reason is not Reason.NO_RACQUET or filled == FILLED[-1]:
                raise
            continue
        break
    return _level(prior, height_mm, why)


def _level(prior: LensPrior, height_mm: float, why: str) -> Reference:
    sds = {
        "focal_px": prior.focal_sd_px,
        "turn_x": np.radians(LEVEL_SD_DEG),
        "turn_y": np.radians(LEVEL_SD_DEG),
        "t_z": UNKNOWN_HEIGHT_RELATIVE_SD * height_mm,
        "cx_px": prior.centre_sd_px,
        "cy_px": prior.centre_sd_px,
        "k1": prior.k1_sd,
    }
    camera = Camera(
        focal_px=prior.focal_px,
        cx_px=prior.centre_px[0],
        cy_px=prior.centre_px[1],
        rotation=np.diag([1.0, -1.0, -1.0]),
        translation_mm=np.array([0.0, 0.0, height_mm]),
        k1=prior.k1,
    )
    variances = [sds.get(name, 0.0) ** 2 for name in PARAMETER_NAMES]
    estimate = CameraEstimate(camera, np.diag(variances), 0.0, 0.0, prior.known)
    notes = (
        f"{why}: the scale comes from the tape-measured length alone, the camera is taken to have been level "
        f"to {LEVEL_SD_DEG:.0f}° and as high as the length says, and the sds carry that",
    )
    return Reference(ID1, (), estimate, 0.0, 0.0, notes, BY_LENGTH)


def at_length(
    estimate: CameraEstimate, contour: Contour, body: Body, length_mm: float
) -> tuple[CameraEstimate, Contour]:
    """The same sight from the height at which the outline is ``length_mm`` long."""
    share = length_mm / float(np.ptp(contour.ring_mm[:, 1]))
    camera, axis = estimate.camera, contour.resting.axis
    higher = replace(camera, translation_mm=share * camera.translation_mm)
    resting = replace(contour.resting, axis=replace(axis, origin_mm=share * axis.origin_mm))
    rim_px, normal = seen_px(camera, contour, body), ring_normals(contour.ring_mm)
    ring = recast_ring(higher, resting, body, rim_px, normal)
    return replace(estimate, camera=higher), from_butt(replace(contour, resting=resting, ring_mm=ring))


def height_held(reference: Reference, estimate: CameraEstimate) -> CameraEstimate:
    """``estimate`` without the doubt of a height that only the length tells.

    Its sd of a quarter is far beyond what linear steps can follow, and neither the racquet's two sides nor
    its strings say anything of it.
    """
    if reference.what != BY_LENGTH:
        return estimate
    held = estimate.covariance.copy()
    held[_HEIGHT] = held[:, _HEIGHT] = 0.0
    return replace(estimate, covariance=held)


def height_freed(reference: Reference, estimate: CameraEstimate, told: CameraEstimate) -> CameraEstimate:
    """``told``, which came from the height held, with the doubt of it that ``estimate`` has."""
    if reference.what != BY_LENGTH:
        return told
    freed = told.covariance.copy()
    freed[_HEIGHT, _HEIGHT] += estimate.covariance[_HEIGHT, _HEIGHT]
    return replace(told, covariance=freed)


def disagreements(spread: OutlineSpread, readings: Sequence[Reading]) -> tuple[str, ...]:
    """A sentence for each tape-measured size that lies DISAGREE_SDS joint sds or more from the photo's."""
    notes = []
    sizes = {
        "length": (spread.length_mm, spread.length_sd_mm),
        "width": (spread.width_mm, spread.width_sd_mm),
    }
    for reading in readings:
        if not reading.used or (reading.kind != "length" and reading.kind != "width"):
            continue
        seen, seen_sd = sizes[reading.kind]
        joint = float(np.hypot(seen_sd, reading.sd))
        apart = abs(reading.value - seen) / joint
        if apart >= DISAGREE_SDS:
            notes.append(
                f"the tape-measured {reading.kind} of {reading.value:.1f} mm and the photo's {seen:.1f} mm "
                f"lie {apart:.1f} of their joint standard deviations ({joint:.1f} mm) apart: measure again, "
                "and check that card, thicknesses and outline are right"
            )
    return tuple(notes)
