"""OpenCV's remap and resize with types: values of a picture at points between its pixels, and smaller."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

_NO_SECOND_MAP: Any = None  # an empty array instead, as the stubs ask for, is read as a map of zeros
_MOST_POINTS = 16_384  # in a row; OpenCV takes twice as many


def remap_linear(
    image: npt.NDArray[np.integer[Any] | np.floating[Any]],
    where: npt.NDArray[np.float32],
    beyond: float | None = None,
) -> npt.NDArray[Any]:
    """Values (rows, cols, ...) of ``image`` at points ``where`` (rows, cols, 2), (column, row), in its type.

    Between pixels they are interpolated linearly; outside the picture they are ``beyond``, or those of
    the nearest pixel where it is None. OpenCV takes at most 32767 rows or columns of points.
    """
    return _remapped(image, where, cv2.INTER_LINEAR, beyond)


def remap_apart(
    image: npt.NDArray[np.integer[Any] | np.floating[Any]],
    cols: npt.NDArray[np.float32],
    rows: npt.NDArray[np.float32],
    interpolation: int = cv2.INTER_LINEAR,
) -> npt.NDArray[Any]:
    """The same of points whose columns and rows stand apart, both of one shape; outside the picture its
    border goes on."""
    return np.asarray(cv2.remap(image, cols, rows, interpolation, borderMode=cv2.BORDER_REPLICATE))


def _remapped(
    image: npt.NDArray[np.integer[Any] | np.floating[Any]],
    where: npt.NDArray[np.float32],
    interpolation: int,
    beyond: float | None,
) -> npt.NDArray[Any]:
    border = cv2.BORDER_REPLICATE if beyond is None else cv2.BORDER_CONSTANT
    outside = (beyond or 0.0,) * 4
    return np.asarray(
        cv2.remap(image, where, _NO_SECOND_MAP, interpolation, borderMode=border, borderValue=outside)
    )


def remap_nearest(
    image: npt.NDArray[np.integer[Any] | np.floating[Any]], where: npt.NDArray[np.float32]
) -> npt.NDArray[Any]:
    """The same of the pixels nearest to the points; outside the picture those of its border."""
    return _remapped(image, where, cv2.INTER_NEAREST, None)


def values_nearest(
    image: npt.NDArray[np.float32], points: npt.NDArray[np.float32]
) -> npt.NDArray[np.float32]:
    """Values (n, channels) of ``image`` at the pixels nearest to ``points`` (n, 2), (column, row).

    Outside the picture they are those of its border.
    """
    rows = -(-len(points) // _MOST_POINTS)
    if rows == 0:
        return np.zeros((0, image.shape[2]), np.float32)
    padded = np.zeros((rows * _MOST_POINTS if rows > 1 else len(points), 2), np.float32)
    padded[: len(points)] = points
    where = padded.reshape(rows, -1, 2)
    values = remap_nearest(image, where)
    return np.asarray(values, np.float32).reshape(-1, image.shape[2])[: len(points)]


def halved(pixels: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    """The picture averaged down to half its width and height."""
    size = (pixels.shape[1] // 2, pixels.shape[0] // 2)
    return np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), np.uint8)


def shrunk(
    pixels: npt.NDArray[np.uint8],
    size_px: tuple[int, int],
    halved_from: float = 2.0,
    half: npt.NDArray[np.uint8] | None = None,
) -> npt.NDArray[np.uint8]:
    """The picture averaged down to ``size_px`` (width, height): by halves, which is fast, then what is left.

    It is halved while it is at least ``halved_from`` times as large. At 2 the result is a little softer than
    averaged in one go, for what is left cuts through whole cells; at 4 that does not show. ``half`` is the
    picture ``halved``, if it is known.
    """
    while min(pixels.shape[1] / size_px[0], pixels.shape[0] / size_px[1]) >= halved_from:
        pixels, half = halved(pixels) if half is None else half, None
    if pixels.shape[1::-1] == size_px:
        return pixels
    return np.asarray(cv2.resize(pixels, size_px, interpolation=cv2.INTER_AREA), np.uint8)
