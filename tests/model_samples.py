"""Invented racquets with simple outlines, and random rings, for the tests of ``model``."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st
from numpy.typing import NDArray

from model.build import Known, Traced, build_racquet
from model.face import Landmarks
from model.measured import Measured
from model.outline import Outline, outline_from_rings
from model.racquet_file import RacquetFile
from model.reading_text import balance_reading, weight_reading
from model.tolerance import Tolerance

Array = NDArray[np.float64]

EXACT_SIZE = np.zeros((2, 2))  # the covariance of an outline's size that counts as exact
EXACTLY = Tolerance(0.0, 0.0)  # how pieces are cut and placed that lie where they are said to
HANDLE_TOP = Landmarks(handle_top_mm=130.0, handle_top_sd_mm=2.0)


def rectangle(x0: float, y0: float, x1: float, y1: float) -> Array:
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])


def ellipse(x: float, y: float, half_x: float, half_y: float, n: int = 360) -> Array:
    angle = 2 * np.pi * np.arange(n) / n
    return np.column_stack([x + half_x * np.cos(angle), y + half_y * np.sin(angle)])


def paddle() -> Outline:
    """A handle 34 mm wide and 130 mm long under a face of 190 mm by 280 mm with cut corners."""
    right = [(17, 0), (17, 130), (75, 150), (95, 180), (95, 380), (75, 410)]
    left = [(-x, y) for x, y in reversed(right)]
    return outline_from_rings(np.array(right + left, dtype=float))


def perforated() -> Outline:
    """The paddle with a row of three round holes."""
    holes = [ellipse(x, 270, 5, 5, 48) for x in (-30.0, 0.0, 30.0)]
    return outline_from_rings(paddle().outer_mm, holes)


def strung() -> Outline:
    """A frame with a hoop of 11 mm round an oval bed, an open throat and a straight handle."""
    angle = np.radians(np.linspace(-60, 240, 121))
    hoop = np.column_stack([128 * np.cos(angle), 515 + 170 * np.sin(angle)])
    outer = np.vstack([[(-16.0, 0.0), (16.0, 0.0), (16.0, 250.0)], hoop, [(-16.0, 250.0)]])
    throat = np.array([[0.0, 270.0], [35.0, 335.0], [-35.0, 335.0]])
    return outline_from_rings(outer, [throat, ellipse(0, 515, 117, 159)])


def shuttle_frame() -> Outline:
    """A round hoop on a rod 8 mm wide, with a handle 24 mm wide below 190 mm."""
    angle = np.radians(np.linspace(-87, 267, 121))
    hoop = np.column_stack([110 * np.cos(angle), 550 + 110 * np.sin(angle)])
    handle_right = [(12.0, 0.0), (12.0, 190.0), (4.0, 190.0), (4.0, 420.0)]
    handle_left = [(-x, y) for x, y in reversed(handle_right)]
    return outline_from_rings(np.vstack([handle_right, hoop, handle_left]), [ellipse(0, 550, 101, 101)])


STRUNG_TOPS = Landmarks(handle_top_mm=190.0, handle_top_sd_mm=2.0)


def paddle_file() -> RacquetFile:
    known = Known("solid", 14.0, 29.0, (weight_reading("228"), balance_reading("238")))
    return build_racquet(paddle(), HANDLE_TOP, known, Traced(length_sd_mm=0.8, width_sd_mm=0.4))


def exact(value: float) -> Measured:
    return Measured(value, 0.0)


@st.composite
def star_rings(draw: st.DrawFn) -> Array:
    """Simple rings (n, 2): points at growing angles round a middle, so they never cross themselves."""
    n = draw(st.integers(3, 12))
    radii = draw(st.lists(st.floats(5.0, 100.0), min_size=n, max_size=n))
    turn = draw(st.floats(0.0, 1.0))
    middle = draw(st.tuples(st.floats(-200, 200), st.floats(-200, 200)))
    angle = 2 * np.pi * (np.arange(n) + turn) / n
    ring = np.array(middle) + np.array(radii)[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    return np.asarray(ring)
