"""OpenCV's remap with types: values of a picture at points between its pixels."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

_NO_SECOND_MAP: Any = None  # an empty array instead, as the stubs ask for, is read as a map of zeros


def remap_linear(
    image: npt.NDArray[np.integer[Any] | np.floating[Any]],
    where: npt.NDArray[np.float32],
    beyond: float | None = None,
) -> npt.NDArray[Any]:
    """Values (rows, cols, ...) of ``image`` at points ``where`` (rows, cols, 2), (column, row), in its type.

    Between pixels they are interpolated linearly; outside the picture they are ``beyond``, or those of
    the nearest pixel where it is None. OpenCV takes at most 32767 rows or columns of points.
    """
    border = cv2.BORDER_REPLICATE if beyond is None else cv2.BORDER_CONSTANT
    return np.asarray(
        cv2.remap(
            image,
            where,
            _NO_SECOND_MAP,
            cv2.INTER_LINEAR,
            borderMode=border,
            borderValue=(beyond or 0.0,) * 4,
        )
    )
