"""The printed sheet in a photo: its markers' middles to a small part of a pixel, and the camera by them.

A marker's middle is where its diagonals cross, which holds in perspective. Blur and the tone curve make a
black square look smaller or larger by the same amount all round, so its middle stays where it is; all the
same the corners are refined in linear light.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from digitise.bundle import Place, bundle
from digitise.camera import PARAMETER_NAMES, Camera
from digitise.card_pose import CameraEstimate
from digitise.card_shape import CardShape
from digitise.card_starts import starts
from digitise.lens_prior import LensPrior, known_pulls
from digitise.remap import halved
from digitise.sheet import MODULES, Paper, PrintScale, centres_mm, dictionary, paper_of
from digitise.tone import LIGHT_OF_BYTE, FloatArray

LEAST_MARKERS = 5
"""Four points fix a plane's picture; one more shows whether they are right."""
_SEARCH_PX = 1800
_QUICK_WINDOW_PX = 13
_MIDDLE_SD_PX = 0.06  # of a marker's middle, and of how flat paper lies, as pixels
_FLAT_SD_MM = 0.04
_STRAY_SHARE = 0.001  # of the picture's long side: a marker further from where others put it is left out
_PAPER_MM = 0.1
_WINDOW_SHARE = 0.4  # of a cell, for the corner's refinement


@dataclass(frozen=True, eq=False)
class FoundSheet:
    """A sheet in a picture: the markers' numbers (n,), middles ``seen_px`` (n, 2) and ``sheet_mm`` (n, 2).

    ``corners_px`` (4, 2) is the paper's outline, ``squares_px`` (n, 4, 2) those of the markers;
    ``edge_sigma_px`` the blur of the markers' edges.
    """

    paper: Paper
    ids: tuple[int, ...]
    seen_px: FloatArray
    sheet_mm: FloatArray
    corners_px: FloatArray
    squares_px: FloatArray
    edge_sigma_px: float


def find_sheet(
    pixels_rgb: npt.NDArray[np.uint8], half_rgb: npt.NDArray[np.uint8] | None = None
) -> FoundSheet | None:
    """The printed sheet in an upright picture (h, w, 3), or None where fewer than LEAST_MARKERS are seen.

    ``half_rgb`` is the picture ``halved``, if it is known.
    """
    height, width = pixels_rgb.shape[:2]
    factor = max(1.0, max(height, width) / _SEARCH_PX)
    # by halves, which is fast, and what is left by interpolation: markers are large
    small_size = (round(width / factor), round(height / factor))
    smaller = pixels_rgb
    while smaller.shape[1] >= 2 * small_size[0] and smaller.shape[0] >= 2 * small_size[1]:
        smaller, half_rgb = halved(smaller) if half_rgb is None else half_rgb, None
    small = np.asarray(cv2.resize(_grey(smaller), small_size, interpolation=cv2.INTER_LINEAR), np.uint8)
    if not _any_marker(small):
        return None
    corners, ids, _ = cv2.aruco.ArucoDetector(dictionary()).detectMarkers(small)
    if ids is None or len(ids) < LEAST_MARKERS:
        return None
    numbers = [int(number) for number in np.ravel(ids)]
    paper = _paper(numbers)
    if paper is None:
        return None
    squares = (np.concatenate(corners).astype(float) + 0.5) * factor - 0.5
    known = centres_mm(paper)
    kept = [k for k, number in enumerate(numbers) if number in known and numbers.count(number) == 1]
    if len(kept) < LEAST_MARKERS:
        return None
    light = LIGHT_OF_BYTE[_grey(pixels_rgb)]
    squares = np.stack([_refined(light, squares[k]) for k in kept])
    seen, sheet = _middles(squares), np.array([known[numbers[k]] for k in kept])
    to_px, inside = cv2.findHomography(sheet, seen, cv2.RANSAC, _STRAY_SHARE * max(height, width))
    good = np.flatnonzero(np.ravel(inside)) if inside is not None else np.zeros(0, int)
    if len(good) < LEAST_MARKERS:
        return None
    half = np.array([paper.width_mm, paper.height_mm]) / 2
    outline = half * np.array([[1, -1], [1, 1], [-1, 1], [-1, -1]])
    return FoundSheet(
        paper=paper,
        ids=tuple(numbers[kept[k]] for k in good),
        seen_px=seen[good],
        sheet_mm=sheet[good],
        corners_px=_mapped(np.asarray(to_px, float), outline),
        squares_px=squares[good],
        edge_sigma_px=_edge_sigma(light, squares[good]),
    )


def _grey(pixels_rgb: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    return np.asarray(cv2.cvtColor(pixels_rgb, cv2.COLOR_RGB2GRAY), np.uint8)


def _any_marker(grey: npt.NDArray[np.uint8]) -> bool:
    """Whether a quick look, with one window for the threshold, finds any: most photos have none."""
    quick = cv2.aruco.DetectorParameters()
    quick.adaptiveThreshWinSizeMin = quick.adaptiveThreshWinSizeMax = _QUICK_WINDOW_PX
    return cv2.aruco.ArucoDetector(dictionary(), quick).detectMarkers(grey)[1] is not None


def _paper(numbers: list[int]) -> Paper | None:
    """The paper most markers are of."""
    papers = [paper for number in numbers if (paper := paper_of(number)) is not None]
    return Counter(papers).most_common(1)[0][0] if papers else None


def _refined(light: npt.NDArray[np.float32], square_px: FloatArray) -> FloatArray:
    """A marker's corners (4, 2) moved to where edges of light cross."""
    cell = float(np.linalg.norm(square_px - np.roll(square_px, 1, axis=0), axis=1).mean()) / MODULES
    half = max(2, round(_WINDOW_SHARE * cell))
    low = np.maximum(np.floor(square_px.min(axis=0)).astype(int) - 3 * half - 3, 0)
    high = np.ceil(square_px.max(axis=0)).astype(int) + 3 * half + 4
    window = np.ascontiguousarray(light[low[1] : high[1], low[0] : high[0]])
    points = (square_px - low).astype(np.float32).reshape(-1, 1, 2)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 60, 1e-3)
    moved = cv2.cornerSubPix(window, points, (half, half), (-1, -1), stop).reshape(4, 2).astype(float) + low
    near = np.linalg.norm(moved - square_px, axis=1) < 2 * half + 1
    return np.where(near[:, None], moved, square_px)


def _middles(squares_px: FloatArray) -> FloatArray:
    """Where the diagonals of squares (n, 4, 2) cross, (n, 2)."""
    a, b, c, d = np.moveaxis(squares_px, 1, 0)
    first, second = c - a, d - b
    cross = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    gap = b - a
    share = (gap[:, 0] * second[:, 1] - gap[:, 1] * second[:, 0]) / cross
    return np.asarray(a + share[:, None] * first)


def _mapped(homography: FloatArray, points: FloatArray) -> FloatArray:
    return np.asarray(cv2.perspectiveTransform(points.reshape(-1, 1, 2), homography).reshape(-1, 2), float)


def _edge_sigma(light: npt.NDArray[np.float32], squares_px: FloatArray) -> float:
    """Blur of the markers' outer edges, px: step over steepest slope, of which a Gaussian has sqrt(2 pi)."""
    sigmas = []
    for square in squares_px:
        middle = square.mean(axis=0)
        for start, end in zip(square, np.roll(square, -1, axis=0), strict=True):
            edge = (start + end) / 2
            outward = (edge - middle) / math.hypot(*(edge - middle))
            reach = 0.7 * 2 * math.hypot(*(edge - middle)) / MODULES
            places = (edge + np.linspace(-reach, reach, 41)[:, None] * outward).astype(np.float32)
            values = cv2.remap(light, places[:, :1], places[:, 1:], cv2.INTER_LINEAR).ravel()
            slope = float(np.max(np.diff(values))) / (2 * reach / 40)
            if slope > 0:
                sigmas.append(float(np.ptp(values)) / slope / math.sqrt(2 * math.pi))
    return float(np.median(sigmas)) if sigmas else math.inf


def sheet_pose(found: FoundSheet, scale: PrintScale, prior: LensPrior) -> CameraEstimate:
    """The camera from a found sheet, as printed at ``scale``; the world's origin is the sheet's middle.

    The world's x runs along the paper's long side, as with a card.
    """
    flat_mm = scale.factor * np.column_stack([found.sheet_mm[:, 1], -found.sheet_mm[:, 0]])
    world = np.column_stack([flat_mm, np.full(len(flat_mm), _PAPER_MM)])
    sd_px = math.hypot(_MIDDLE_SD_PX, _FLAT_SD_MM * px_per_mm(found) / scale.factor)

    def pulls(camera: Camera) -> FloatArray:
        return np.asarray(((camera.project(world) - found.seen_px) / sd_px).ravel())

    shape = CardShape(
        scale.factor * found.paper.height_mm, scale.factor * found.paper.width_mm, 0.0, _PAPER_MM, 0.0, 0.0
    )
    tries = [
        bundle(start, [(pulls, Place())], lambda camera: known_pulls(camera, prior))
        for start in starts(found.corners_px, prior.focal_px, np.array(prior.centre_px), shape)
    ]
    best = min(tries, key=lambda fit: fit.chi_square + float(np.sum(known_pulls(fit.camera, prior) ** 2)))
    grown = np.zeros(len(PARAMETER_NAMES))
    grown[4:7] = best.camera.translation_mm  # a sheet printed larger puts the camera that much further away
    left = best.pulls[0]
    return CameraEstimate(
        camera=best.camera,
        covariance=best.covariance + scale.relative_sd**2 * np.outer(grown, grown),
        residual_rms_px=sd_px * math.sqrt(float(np.mean(left**2))),
        pull=math.sqrt(float(np.mean(left**2))),
        focal_known=prior.known,
    )


def px_per_mm(found: FoundSheet) -> float:
    """Pixels a millimetre on a sheet printed at full size."""
    sides = np.linalg.norm(found.corners_px - np.roll(found.corners_px, 1, axis=0), axis=1).sum()
    return float(sides) / (2 * (found.paper.width_mm + found.paper.height_mm))
