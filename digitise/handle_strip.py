"""The handle's end as the photo shows it, straightened about its axis, with the odds of borders in it.

Where a grip's or a cap's sides hardly differ from the table, or a wrap's or a shadow's differ more, single
places tell little: along their whole length they do. So odds are told here that can be added up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.ndimage import gaussian_filter, gaussian_filter1d, maximum_filter1d

from digitise.border_odds import border_odds, of_both
from digitise.camera import Camera
from digitise.linear import LinearPhoto
from digitise.resting import Body, Resting, rim_shift_mm
from digitise.tone import FloatArray, Image, log_colour

STEP_MM = 0.5
REACH_MM, BELOW_MM, UP_TO_MM = 50.0, 60.0, 70.0
"""How far to either side of the axis, below the outline's end, and up along the grip, edges are looked at."""
BLUR_MM, ALONG_MM = 0.4, 0.75
"""Blur before edges are looked for, and along them."""
CAP_MM = (3.0, 15.0)
"""How far from the outline's end a butt cap is widest."""
TABLE_MM = 14.0
"""What lies so near the strip's long sides is table."""


@dataclass(frozen=True, eq=False)
class Odds:
    """Log odds (rows, columns) that a border runs along the axis, and across it, at each place."""

    side: FloatArray
    end: FloatArray


def columns_mm() -> FloatArray:
    """Places (columns,) right of the axis."""
    return np.arange(-REACH_MM, REACH_MM + STEP_MM / 2, STEP_MM)


def rows_mm() -> FloatArray:
    """Places (rows,) along the axis from where the outline ends."""
    return np.arange(-BELOW_MM, UP_TO_MM + STEP_MM / 2, STEP_MM)


def seen_strip(linear: LinearPhoto, camera: Camera, resting: Resting, body: Body) -> Image:
    """Linear light (rows, columns, 3) about the axis, placed along it by where the butt's rim is seen."""
    down = np.array([[0.0, -1.0]])
    seen_mm = rim_shift_mm(camera, resting, body, np.zeros((1, 2)), down)[0]
    grid_x, grid_y = np.meshgrid(columns_mm(), rows_mm() - seen_mm)
    points_px = resting.to_pixels(camera, np.column_stack([grid_x.ravel(), grid_y.ravel()]))
    return np.asarray(linear.at(points_px).reshape(*grid_x.shape, 3))


def strip_odds(light: Image) -> Odds:
    """Odds of borders in a strip (rows, columns, 3)."""
    colour = gaussian_filter(log_colour(light).astype(float), (BLUR_MM / STEP_MM, BLUR_MM / STEP_MM, 0))
    table = np.abs(columns_mm()) > REACH_MM - TABLE_MM
    both = []
    for axis in (1, 0):
        along = gaussian_filter1d(colour, ALONG_MM / STEP_MM, axis=1 - axis)
        both.append(maximum_filter1d(border_odds(along, axis, STEP_MM, table), 3, axis=axis))
    return Odds(*both)


def column_of(x_mm: FloatArray) -> npt.NDArray[np.int64]:
    """Columns (n,) nearest to places (n,) right of the axis."""
    return np.clip(np.rint((x_mm + REACH_MM) / STEP_MM).astype(np.int64), 0, round(2 * REACH_MM / STEP_MM))


def pairs(odds: Odds, centre_mm: float) -> FloatArray:
    """Log odds (rows, half widths STEP_MM apart) of borders on both sides of a middle."""
    middle = round((centre_mm + REACH_MM) / STEP_MM)
    reach = min(middle, odds.side.shape[1] - 1 - middle)
    right = odds.side[:, middle : middle + reach + 1]
    left = odds.side[:, middle - reach : middle + 1][:, ::-1]
    return of_both(left, right)


def at_sides(
    odds: Odds, rows: npt.NDArray[np.int64], half_mm: FloatArray, centre_mm: float = 0.0
) -> FloatArray:
    """Log odds (n,) of borders on both sides of a middle, in ``rows`` (n,) and ``half_mm`` (n,) from it."""
    pair = pairs(odds, centre_mm)
    columns = np.clip(np.rint(half_mm / STEP_MM).astype(int), 0, pair.shape[1] - 1)
    return np.asarray(pair[rows, columns])


def cap_half_mm(half_mm: FloatArray) -> float:
    """Half the width of the butt cap of an outline ``half_mm`` (rows,) wide to either side: the most near its
    end."""
    y_mm = rows_mm()
    return float(half_mm[(y_mm > CAP_MM[0]) & (y_mm < CAP_MM[1])].max())


def half_widths(ring_mm: FloatArray) -> FloatArray:
    """Half the width (rows,) of a symmetric ring (n, 2) begun at its butt, 0 below its end."""
    right = ring_mm[: len(ring_mm) // 2]
    return np.asarray(np.interp(rows_mm(), right[:, 1], np.abs(right[:, 0]), left=0.0))
