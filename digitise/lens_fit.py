"""Calibrate a lens from photos of the printed sheet (Zhang's method, as OpenCV has it)."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import cv2
import numpy as np

from digitise.lens import FOCUS_RELATIVE_SD, LensFile
from digitise.photo import Photo, sensor_points
from digitise.sheet_find import find_sheet
from digitise.tone import FloatArray
from model.errors import ModelError
from model.record_base import Value

LEAST_PHOTOS = 5
MOST_FOCAL_RELATIVE_SD = 0.01
"""What a photo's own EXIF data say about as well: a calibration no better is none."""
MOST_RMS_SHARE = 0.0003
"""Misfit over the picture's long side: 1.2 pixels of 4032. More is a sheet that did not lie flat."""
LEAST_TILT_DEG, LEAST_LEANING = 10.0, 3
_START_F35_MM = 26.0


@dataclass(frozen=True, eq=False)
class SheetView:
    """The sheet in one photo: markers' places ``sheet_mm`` and ``seen_px`` on the sensor, both (n, 2)."""

    file_name: str
    size_px: tuple[int, int]
    f35_mm: float | None
    sheet_mm: FloatArray
    seen_px: FloatArray
    sha256: str = ""


def sheet_view(photo: Photo) -> SheetView:
    """The sheet in ``photo``. Raises ModelError where it shows none, or the picture was zoomed or cropped."""
    if photo.digital_zoom is not None or photo.exif_size_px is not None:
        raise ModelError(
            f"{photo.file_name} was zoomed, scaled or cropped: calibrate with photos as the camera saved them"
        )
    found = find_sheet(photo.pixels_rgb, photo.half_rgb)
    if found is None:
        raise ModelError(
            f"{photo.file_name} does not show enough of the printed sheet: take it with all of the sheet "
            "in the picture and in focus, or leave this photo out"
        )
    seen = sensor_points(found.seen_px, photo.sensor_size_px, photo.orientation)
    return SheetView(photo.file_name, photo.sensor_size_px, photo.f35_mm, found.sheet_mm, seen, photo.sha256)


def fit_lens(views: Iterable[SheetView]) -> LensFile:
    """The lens that took all ``views``: one focal length, principal point and radial term.

    Raises ModelError where there are fewer than LEAST_PHOTOS, where they are of different cameras or
    settings, and where they do not tell the focal length well enough.
    """
    views = list(views)
    if len(views) < LEAST_PHOTOS:
        raise ModelError(
            f"{len(views)} photos are too few to calibrate a lens: take at least {LEAST_PHOTOS} of the "
            "sheet, most of them leaning by 20 to 40° to different sides"
        )
    first = views[0]
    for view in views[1:]:
        if view.size_px != first.size_px or view.f35_mm != first.f35_mm:
            raise ModelError(
                f"{view.file_name} was taken with another lens or picture size than {first.file_name}: "
                "calibrate each lens of a phone by itself"
            )
    width, height = first.size_px
    focal = _START_F35_MM * math.hypot(width, height) / 43.27
    start = np.array([[focal, 0, (width - 1) / 2], [0, focal, (height - 1) / 2], [0, 0, 1]])
    flags = (
        cv2.CALIB_USE_INTRINSIC_GUESS | cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_ZERO_TANGENT_DIST
        | cv2.CALIB_FIX_K2 | cv2.CALIB_FIX_K3
    )  # fmt: skip
    world = [np.column_stack([v.sheet_mm, np.zeros(len(v.sheet_mm))]).astype(np.float32) for v in views]
    seen = [v.seen_px.astype(np.float32).reshape(-1, 1, 2) for v in views]
    rms, matrix, bend, turns, _, spread, _, _ = cv2.calibrateCameraExtended(
        world, seen, (width, height), start, np.zeros(5), flags=flags
    )
    sd = np.ravel(spread)  # fx (0: tied to fy by the fixed aspect ratio), fy, cx, cy, k1, ...
    _refuse_level([math.degrees(math.acos(abs(float(cv2.Rodrigues(turn)[0][2, 2])))) for turn in turns])
    focal_sd = math.hypot(float(sd[1]), FOCUS_RELATIVE_SD * float(matrix[0, 0]))
    _refuse_poor(float(rms), focal_sd / float(matrix[0, 0]), max(width, height))
    return LensFile(
        width_px=width,
        height_px=height,
        focal_px=Value(value=float(matrix[0, 0]), sd=focal_sd),
        centre_x_px=Value(value=float(matrix[0, 2]), sd=float(sd[2])),
        centre_y_px=Value(value=float(matrix[1, 2]), sd=float(sd[3])),
        k1=Value(value=float(np.ravel(bend)[0]), sd=float(sd[4])),
        f35_mm=first.f35_mm,
        photos=len(views),
        markers=sum(len(v.sheet_mm) for v in views),
        rms_px=float(rms),
    )


def _refuse_level(tilts_deg: list[float]) -> None:
    """From straight above, a farther camera with a longer lens shows a flat sheet just the same."""
    leaning = sum(tilt >= LEAST_TILT_DEG for tilt in tilts_deg)
    if leaning < LEAST_LEANING:
        raise ModelError(
            f"only {leaning} of the photos lean by {LEAST_TILT_DEG:.0f}° or more, and {LEAST_LEANING} are "
            "needed: level ones do not tell the focal length; lean by 20 to 40° to different sides"
        )


def _refuse_poor(rms_px: float, focal_relative_sd: float, long_px: int) -> None:
    if rms_px > MOST_RMS_SHARE * long_px:
        raise ModelError(
            f"the markers lie {rms_px:.1f} pixels from where one lens would show them, and "
            f"{MOST_RMS_SHARE * long_px:.1f} is the most: lay the sheet on something flat, glued down or "
            "under glass, and keep zoom and lens the same in all photos"
        )
    if focal_relative_sd > MOST_FOCAL_RELATIVE_SD:
        raise ModelError(
            f"the photos tell the focal length only to {100 * focal_relative_sd:.1f} %, and "
            f"{100 * MOST_FOCAL_RELATIVE_SD:g} % is needed: add some that lean by 20 to 40° to different "
            "sides"
        )
