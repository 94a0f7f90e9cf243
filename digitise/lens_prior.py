"""What is known of the lens and of how it was held before the reference is looked at."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from digitise.camera import Camera, focal_px_from_equivalent
from digitise.photo import Photo
from digitise.tone import FloatArray

_UNKNOWN_F35_MM = 26.0  # main cameras of phones
_UNKNOWN_F35_SD_MM = 2.5
_F35_RELATIVE_SD = 0.01  # whole millimetres are recorded, and focusing changes the true value
_CROPPED_RELATIVE_SD = 0.1  # a cropped picture may have been resized too
_CENTRE_SD_OF_DIAGONAL = 0.0025
_K1_SD = 0.01  # phones straighten their pictures; 0.7 % is left at the corner
LEVEL_SD_DEG = 6.0
"""How level a camera is held, about either axis."""


@dataclass(frozen=True, eq=False)
class Vanishing:
    """A direction on the table: ``ray`` (3,), a unit vector in the camera's frame by the prior's lens, and
    the ``sd``, in rad, of how far from square to the table's normal it may be."""

    ray: FloatArray
    sd: float


@dataclass(frozen=True)
class LensPrior:
    """Focal length, principal point and radial term, each with its sd, before the fit.

    ``known`` is False where the focal length is only what phones' main cameras usually have. ``vanishing``
    are directions on the table.
    """

    focal_px: float
    focal_sd_px: float
    centre_px: tuple[float, float]
    centre_sd_px: float
    k1: float
    k1_sd: float
    known: bool
    vanishing: tuple[Vanishing, ...] = ()


def lens_prior(f35_mm: float | None, width_px: int, height_px: int, zoom: float = 1.0) -> LensPrior:
    """The lens of a picture that records its 35 mm-equivalent focal length, or None.

    With a digital ``zoom`` on record that length may include the zoom or not, as makers differ; half-way
    between the two, as a ratio, is taken, with a sd that reaches both.
    """
    f35, f35_sd = _UNKNOWN_F35_MM, _UNKNOWN_F35_SD_MM
    if f35_mm is not None:
        f35 = f35_mm * math.sqrt(zoom)
        f35_sd = f35 * math.hypot(_F35_RELATIVE_SD, math.log(zoom) / 2)
    per_mm = focal_px_from_equivalent(1.0, width_px, height_px)
    return LensPrior(
        focal_px=f35 * per_mm,
        focal_sd_px=f35_sd * per_mm,
        centre_px=((width_px - 1) / 2, (height_px - 1) / 2),
        centre_sd_px=_CENTRE_SD_OF_DIAGONAL * math.hypot(width_px, height_px),
        k1=0.0,
        k1_sd=_K1_SD,
        known=f35_mm is not None and zoom == 1.0,
    )


def prior_of(photo: Photo) -> LensPrior:
    """What the photo's file tells of its lens.

    Cropping leaves the focal length in pixels as it was, unless the picture was resized as well, and moves
    the principal point by up to half of what was cut away.
    """
    if photo.f35_uncropped_mm is None or photo.exif_size_px is None:
        return lens_prior(photo.f35_mm, photo.width_px, photo.height_px, photo.digital_zoom or 1.0)
    plain = lens_prior(None, photo.width_px, photo.height_px)
    width, height = sorted(photo.exif_size_px, reverse=photo.width_px > photo.height_px)
    whole = lens_prior(photo.f35_uncropped_mm, width, height, photo.digital_zoom or 1.0)
    cut_px = max(width - photo.width_px, height - photo.height_px, 0)
    return replace(
        plain,
        focal_px=whole.focal_px,
        focal_sd_px=math.hypot(whole.focal_sd_px, _CROPPED_RELATIVE_SD * whole.focal_px),
        centre_sd_px=math.hypot(plain.centre_sd_px, cut_px / math.sqrt(12)),
    )


def known_pulls(camera: Camera, prior: LensPrior) -> FloatArray:
    """How far a camera strays from what is known beforehand, in standard deviations: (6 + directions,).

    Focal length, principal point, radial term, how level it was held, which is the same in the frame of any
    card on the table, and the directions on the table.
    """
    level_sd = math.sin(math.radians(LEVEL_SD_DEG))
    normal = camera.rotation[:, 2].tolist()
    return np.array(
        [
            (camera.focal_px - prior.focal_px) / prior.focal_sd_px,
            (camera.cx_px - prior.centre_px[0]) / prior.centre_sd_px,
            (camera.cy_px - prior.centre_px[1]) / prior.centre_sd_px,
            (camera.k1 - prior.k1) / prior.k1_sd,
            normal[0] / level_sd,
            normal[1] / level_sd,
            *(_out_of_table(camera, normal, prior, each) / each.sd for each in prior.vanishing),
        ]
    )


def _out_of_table(camera: Camera, normal: list[float], prior: LensPrior, direction: Vanishing) -> float:
    """By how much, as a sine, a direction on the table points out of it if ``camera`` took the photo, in
    whose frame this is the table's ``normal`` (3,)."""
    # number by number: for three of them numpy takes ten times as long
    x, y, z = direction.ray.tolist()
    across = (prior.focal_px * x + (prior.centre_px[0] - camera.cx_px) * z) / camera.focal_px
    down = (prior.focal_px * y + (prior.centre_px[1] - camera.cy_px) * z) / camera.focal_px
    out = across * normal[0] + down * normal[1] + z * normal[2]
    return float(out / math.sqrt(across * across + down * down + z * z))
