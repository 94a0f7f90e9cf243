"""CIE Lab of a small picture, in bytes.

OpenCV's own conversion gives the same but for one byte in ten thousand; the tables that it builds before its
first pixel take longer than a card takes to find. Whole numbers stand for fractions, as there.
"""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from digitise.tone import to_linear

_XYZ_OF_RGB = np.array(
    [[0.412453, 0.357580, 0.180423], [0.212671, 0.715160, 0.072169], [0.019334, 0.119193, 0.950227]]
)
"""Linear sRGB to CIE XYZ (ITU-R BT.709 primaries)."""
_WHITE = np.array([0.950456, 1.0, 1.088754])  # D65
_LIGHT_ONE, _SHARE_ONE, _ROOT_ONE = 255 * 8, 4096, 32_768  # what stands for 1
_LIGHT = np.round(_LIGHT_ONE * to_linear(np.arange(256) / 255.0)).astype(np.float32)
_SHARES = np.round(_SHARE_ONE * _XYZ_OF_RGB / _WHITE[:, None]).astype(np.float32)


def _root(share: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """The cube root, and near black the straight line that CIE 15 puts in its place."""
    return np.where(share < 0.008856, 7.787 * share + 16 / 116, np.cbrt(share))


_ROOTS = np.round(_ROOT_ONE * _root(np.arange(_LIGHT_ONE + 16) / _LIGHT_ONE)).astype(np.int32)
_L_SCALE, _L_OFFSET = 296, 16 * 255 * _ROOT_ONE // 100  # 116 · 2.55, rounded


def lab_of(pixels_rgb: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    """CIE Lab (h, w, 3) of sRGB pixels (h, w, 3), both uint8: L times 2.55, a and b plus 128.

    >>> lab_of(np.array([[[255, 255, 255], [0, 0, 0], [255, 0, 0]]], np.uint8)).tolist()
    [[[255, 128, 128], [0, 128, 128], [136, 208, 195]]]
    """
    # products of light and share stay below 2 to the 24, so that float32 holds them exactly
    shares = cv2.transform(cv2.LUT(pixels_rgb, _LIGHT), _SHARES)
    x, y, z = (
        _ROOTS[plane] for plane in cv2.split(((shares + _SHARE_ONE / 2) / _SHARE_ONE).astype(np.uint16))
    )
    half, middle = _ROOT_ONE // 2, 128 * _ROOT_ONE
    planes = (_L_SCALE * y - _L_OFFSET, 500 * (x - y) + middle, 200 * (y - z) + middle)
    return np.asarray(
        cv2.merge([((plane + half) // _ROOT_ONE).astype(np.uint8) for plane in planes]), np.uint8
    )
