"""The printed reference sheet: where each marker and the ruler line stand on the paper, in mm.

Markers of OpenCV's open 5 × 5 ArUco dictionary stand round the border; the paper's size is told by their
numbers. Sheet frame: origin in the middle of the paper, x right, y up, as it is read.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from digitise.tone import FloatArray
from model.errors import ModelError

MARKER_MM = 21.0
MODULES = 7
"""Cells across a marker: five of its pattern and a black one at either side, 3 mm each."""
MARGIN_MM = 12.0
"""From the paper's edge to the markers: printers leave up to 6 mm blank, and markers need white around."""
RULER_MM = 150.0
RULER_Y_MM = 20.0
PRINTED_RELATIVE_SD = 0.004
"""How far printers stray from the asked size when nobody has measured the ruler line."""
RULER_SD_MM = 0.25
RULER_RANGE_MM = (100.0, 200.0)


@dataclass(frozen=True)
class Paper:
    """A paper size, upright; how many markers stand ``across`` its short side and ``down`` its long one."""

    name: str
    width_mm: float
    height_mm: float
    across: int
    down: int
    first_id: int


PAPERS = {
    # ISO 216 and ANSI/ASME Y14.1
    "a4": Paper("a4", 210.0, 297.0, 5, 7, 0),
    "letter": Paper("letter", 215.9, 279.4, 5, 6, 50),
}


@dataclass(frozen=True)
class PrintScale:
    """Printed over intended size, with its relative sd; ``measured`` where the ruler line was."""

    factor: float = 1.0
    relative_sd: float = PRINTED_RELATIVE_SD
    measured: bool = False


UNMEASURED = PrintScale()
"""What is believed of a sheet whose ruler line nobody measured."""


def print_scale(ruler_mm: float | None) -> PrintScale:
    """The printer's scale from the ruler line as measured, mm. Raises ModelError for an impossible length."""
    if ruler_mm is None:
        return UNMEASURED
    low, high = RULER_RANGE_MM
    if not low <= ruler_mm <= high:
        raise ModelError(
            f"a ruler line of {ruler_mm:g} mm is not the sheet's, which is {RULER_MM:g} mm long when printed "
            f"at full size: measure the long line in the middle of the sheet, between {low:g} and {high:g} mm"
        )
    return PrintScale(ruler_mm / RULER_MM, RULER_SD_MM / ruler_mm, True)


def dictionary() -> cv2.aruco.Dictionary:
    """The markers' dictionary."""
    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_100)


def centres_mm(paper: Paper) -> dict[int, FloatArray]:
    """The middle (x, y) of each marker by its number, clockwise from the upper left corner."""
    half = MARKER_MM / 2
    right, top = paper.width_mm / 2 - MARGIN_MM - half, paper.height_mm / 2 - MARGIN_MM - half
    xs, ys = np.linspace(-right, right, paper.across), np.linspace(top, -top, paper.down)
    places = [(x, top) for x in xs[:-1]] + [(right, y) for y in ys[:-1]]
    places += [(x, -top) for x in xs[:0:-1]] + [(-right, y) for y in ys[:0:-1]]
    return {paper.first_id + k: np.array(place) for k, place in enumerate(places)}


def paper_of(marker_id: int) -> Paper | None:
    """The paper a marker belongs to, None for a marker that is not of our sheets."""
    return next((paper for paper in PAPERS.values() if marker_id in centres_mm(paper)), None)


def black_cells(marker_id: int) -> npt.NDArray[np.bool_]:
    """Which cells (MODULES, MODULES) of a marker are black, rows from its top."""
    return np.asarray(cv2.aruco.generateImageMarker(dictionary(), marker_id, MODULES) == 0)
