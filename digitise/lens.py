"""A lens file: one camera's focal length, principal point and radial term, measured once and used again.

Everything is for the picture as the sensor gives it, before its orientation is applied, so that one file
serves photos taken upright and sideways.
"""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationError

from digitise.lens_prior import LensPrior, lens_prior
from digitise.photo import SAME_ASPECT, Photo, upright_point
from model.errors import ModelError
from model.record_base import NotNegative, Part, Positive, Value
from model.storage import write_text

LENS_FORMAT = "digitise-lens"
SAME_F35 = 0.06
"""Relative difference of recorded focal lengths up to which it is the same lens: they are whole mm."""
FOCUS_RELATIVE_SD = 0.004
"""Focusing nearer or farther than in the calibration changes the true focal length by about this."""


class LensFile(Part):
    """A calibrated lens: pixels of a sensor picture of this size; ``k1`` as in ``digitise.camera``."""

    format: Literal["digitise-lens"] = "digitise-lens"
    version: Literal[1] = 1
    width_px: Annotated[int, Field(gt=0)]
    height_px: Annotated[int, Field(gt=0)]
    focal_px: Value
    centre_x_px: Value
    centre_y_px: Value
    k1: Value
    f35_mm: Positive | None = None
    photos: Annotated[int, Field(gt=0)]
    markers: Annotated[int, Field(gt=0)]
    rms_px: NotNegative


def read_lens(path: Path) -> LensFile:
    """Read and check a lens file. Raises ModelError with one sentence."""
    try:
        raw: Any = json.loads(path.read_text("utf-8"))
        if not isinstance(raw, dict) or raw.get("format") != LENS_FORMAT:
            raise ModelError(f"{path} is not a lens file: give one that digitise lens wrote")
        return LensFile.model_validate_json(json.dumps(raw))
    except FileNotFoundError:
        raise ModelError(f"there is no file {path}: give a lens file that digitise lens wrote") from None
    except OSError as error:
        raise ModelError(f"{path} can't be read: {error.strerror or error}") from None
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(step) for step in first["loc"]) or "the file"
        raise ModelError(f"{path} has a wrong entry at {where}: {first['msg']}") from None
    except ValueError as error:
        if isinstance(error, ModelError):
            raise
        raise ModelError(f"{path} is damaged: delete it and make it again with digitise lens") from None


def check_replaceable(path: Path) -> None:
    """Raise ModelError where ``path`` is a file that is no lens file: it would be lost."""
    if not path.exists() or path.stat().st_size == 0:
        return
    try:
        read_lens(path)
    except ModelError:
        raise ModelError(
            f"{path} is there already and can't be read as a lens file: delete it, or give another --out"
        ) from None


def write_lens(path: Path, lens: LensFile) -> None:
    """Write a lens file, whole or not at all. Raises ModelError where it can't be written."""
    try:
        write_text(path, lens.model_dump_json(indent=1) + "\n")
    except OSError as error:
        raise ModelError(f"{path} can't be written: {error.strerror or error}") from None


def calibrated_prior(photo: Photo, lens: LensFile) -> LensPrior:
    """What ``lens`` says of the camera that took ``photo``.

    Raises ModelError where the photo has other proportions or records another focal length or a zoom.
    """
    width, height = photo.sensor_size_px
    turned = (width > height) != (lens.width_px > lens.height_px)
    as_made = (height, width) if turned else (width, height)
    share = as_made[0] / lens.width_px
    if abs(as_made[1] / (share * lens.height_px) - 1) > SAME_ASPECT:
        raise ModelError(
            f"the lens file is for pictures of {lens.width_px} × {lens.height_px} pixels and this photo has "
            f"{width} × {height}, which are other proportions: use the camera's setting it was made with"
        )
    if photo.digital_zoom is not None:
        raise ModelError(
            f"the photo was taken with a digital zoom of {photo.digital_zoom:.3g}, for which the lens file "
            "says nothing: take it without zoom, or leave out --lens"
        )
    if lens.f35_mm and photo.f35_mm and abs(photo.f35_mm / lens.f35_mm - 1) > SAME_F35:
        raise ModelError(
            f"the lens file is for a lens of {lens.f35_mm:g} mm (35 mm equivalent) and the photo records "
            f"{photo.f35_mm:g} mm: use the same lens of the phone, or leave out --lens"
        )
    prior = lens_prior(photo.f35_mm, photo.width_px, photo.height_px)
    prior = replace(
        prior,
        focal_px=share * lens.focal_px.value,
        focal_sd_px=share * lens.focal_px.sd,
        k1=lens.k1.value,
        k1_sd=lens.k1.sd,
        known=True,
    )
    if turned:  # a reader or program has turned it and left no word which way: the middle has to do
        return prior
    centre = (share * (lens.centre_x_px.value + 0.5) - 0.5, share * (lens.centre_y_px.value + 0.5) - 0.5)
    return replace(
        prior,
        centre_px=upright_point(centre, photo.sensor_size_px, photo.orientation),
        centre_sd_px=share * max(lens.centre_x_px.sd, lens.centre_y_px.sd),
    )
