"""From linear light to a stored photo: lens blur, noise, tone curve, JPEG and its EXIF tags."""

from __future__ import annotations

import io
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image as Pictures

from tests.render.coverage import Image
from tests.render.tone import stored_bytes

ORIENTATION_TAG, EXIF_BLOCK, FOCAL_35_TAG, ZOOM_TAG = 0x0112, 0x8769, 0xA405, 0xA404
WIDTH_TAG, HEIGHT_TAG = 0xA002, 0xA003

# what a viewer does to the stored picture, by tag; to store, the inverse is applied
_INVERSE = {
    2: Pictures.Transpose.FLIP_LEFT_RIGHT,
    3: Pictures.Transpose.ROTATE_180,
    4: Pictures.Transpose.FLIP_TOP_BOTTOM,
    5: Pictures.Transpose.TRANSPOSE,
    6: Pictures.Transpose.ROTATE_90,
    7: Pictures.Transpose.TRANSVERSE,
    8: Pictures.Transpose.ROTATE_270,
}


@dataclass(frozen=True)
class SensorSpec:
    """Noise variance of linear light L is shot · L + read². Blur is a Gaussian's sigma; the
    vignette is the share of light lost in the picture's corners."""

    blur_px: float = 0.8
    read_noise: float = 0.0015
    shot_noise: float = 1.5e-4
    vignette: float = 0.1
    jpeg_quality: int = 90
    exif: bool = True
    orientation: int = 1


def expose(picture: Image, spec: SensorSpec, seed: int) -> NDArray[np.uint8]:
    """Stored 8-bit values (rows, cols, 3) of linear light; ``picture`` is used up."""
    if spec.blur_px > 0:
        picture = np.asarray(cv2.GaussianBlur(picture, (0, 0), spec.blur_px), np.float32)
    if spec.read_noise or spec.shot_noise:
        _add_noise(picture, spec, seed)
    return stored_bytes(picture)


def _add_noise(picture: Image, spec: SensorSpec, seed: int) -> None:
    """In place, block by block with one tile of noise: nobody sees that it repeats."""
    rows, cols = picture.shape[:2]
    tile = _grain(seed, min(rows, 1031), min(cols, 1543))
    for top in range(0, rows, len(tile)):
        for left in range(0, cols, tile.shape[1]):
            part = picture[top : top + tile.shape[0], left : left + tile.shape[1]]
            deviation = np.maximum(part, 0)
            deviation *= np.float32(spec.shot_noise)
            deviation += np.float32(spec.read_noise**2)
            np.sqrt(deviation, out=deviation)
            deviation *= tile[: part.shape[0], : part.shape[1]]
            part += deviation


def _grain(seed: int, rows: int, cols: int) -> Image:
    """Unit noise (rows, cols, 3), a little alike in neighbours as after a colour mosaic."""
    rng = np.random.default_rng(seed)
    tile = rng.standard_normal((rows, cols, 3), dtype=np.float32)
    tile = np.asarray(cv2.GaussianBlur(tile, (0, 0), 0.5, borderType=cv2.BORDER_REFLECT_101), np.float32)
    tile /= tile.std()
    return tile


def encode(pixels: NDArray[np.uint8], spec: SensorSpec, f35_mm: float) -> bytes:
    """A JPEG whose tags and stored turn together give back ``pixels`` upright."""
    picture = Pictures.fromarray(pixels)
    if spec.exif and spec.orientation in _INVERSE:
        picture = picture.transpose(_INVERSE[spec.orientation])
    tags = Pictures.Exif()
    if spec.exif:
        tags[ORIENTATION_TAG] = spec.orientation
        wide, high = picture.size
        # set at once: older Pillows forget what is put into the block afterwards
        tags[EXIF_BLOCK] = {FOCAL_35_TAG: round(f35_mm), WIDTH_TAG: wide, HEIGHT_TAG: high}
    out = io.BytesIO()
    options = {"exif": tags.tobytes()} if spec.exif else {}
    picture.save(out, "JPEG", quality=spec.jpeg_quality, subsampling=2, **options)
    return out.getvalue()
