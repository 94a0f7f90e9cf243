"""CIE Lab in bytes, against the standard's formula and OpenCV's own conversion."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from digitise.lab import lab_of
from digitise.tone import to_linear

WHITE = np.array([0.950456, 1.0, 1.088754])  # D65
TO_XYZ = np.array(
    [[0.412453, 0.357580, 0.180423], [0.212671, 0.715160, 0.072169], [0.019334, 0.119193, 0.950227]]
)
ROUNDED = 1.0  # a byte, in tables of whole numbers


@pytest.mark.parametrize(
    "rgb", [(255, 255, 255), (0, 0, 0), (255, 0, 0), (0, 0, 255), (12, 40, 200), (90, 90, 90)]
)
def test_a_colour_is_what_cie_15_says(rgb: tuple[int, int, int]) -> None:
    x, y, z = TO_XYZ @ to_linear(np.array(rgb) / 255) / WHITE
    fx, fy, fz = (t ** (1 / 3) if t > 0.008856 else 7.787 * t + 16 / 116 for t in (x, y, z))
    expected = [2.55 * (116 * fy - 16), 128 + 500 * (fx - fy), 128 + 200 * (fy - fz)]
    np.testing.assert_allclose(lab_of(np.array([[rgb]], np.uint8))[0, 0], expected, atol=ROUNDED)


def test_it_is_opencvs_but_for_the_last_bit_here_and_there() -> None:
    picture = np.random.default_rng(1).integers(0, 256, (120, 90, 3), dtype=np.uint8)
    own, theirs = lab_of(picture).astype(int), cv2.cvtColor(picture, cv2.COLOR_RGB2LAB).astype(int)
    apart = np.abs(own - theirs)
    assert apart.max() <= 1
    assert np.mean(apart > 0) < 0.002
