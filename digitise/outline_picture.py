"""The straightened photo behind a drawing, its rim laid where the outline is drawn."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from digitise.page.rim import Rim, rim_of
from digitise.page.sheet import Sheet, sheet_of
from digitise.page.tiles import Album, straightened
from digitise.photo import Photo
from digitise.svg_write import Page, page_of
from digitise.tone import FloatArray
from model.racquet_file import RacquetFile
from model.recalibrate import traced_of

PX_MM = 0.25
JPEG_QUALITY = 88
FADES_MM = 30.0
"""Distance from the rim at which the picture is again that of the plane alone."""


@dataclass(frozen=True, eq=False)
class AlongRim:
    """The racquet's plane, with what is seen near the rim moved to the outline."""

    sheet: Sheet
    rim: Rim

    def to_px(self, points_mm: FloatArray) -> FloatArray:
        """Pixels (n, 2) of points (n, 2)."""
        share = np.clip(1 - self.rim.distance_of_outline(points_mm) / FADES_MM, 0, 1)
        smooth = share**2 * (3 - 2 * share)
        return self.sheet.to_px(points_mm + smooth[:, None] * self.rim.shift_of_outline(points_mm))


def picture_jpeg(file: RacquetFile, photo: Photo) -> bytes | None:
    """A JPEG that fills the drawing's page, or None where the file does not say how the photo was seen."""
    if file.pose is None:
        return None
    outline = traced_of(file)[0]
    page = page_of(outline)
    sheet = sheet_of(file.pose)
    surface = AlongRim(sheet, rim_of(sheet, outline.outer_mm))
    patch = straightened(surface, Album(photo.pixels_rgb), (page.left_mm, page.top_mm), PX_MM, _size(page))
    done, data = cv2.imencode(
        ".jpg", cv2.cvtColor(patch, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY]
    )
    return data.tobytes() if done else None


def _size(page: Page) -> tuple[int, int]:
    return round(page.width_mm / PX_MM), round(page.height_mm / PX_MM)
