"""What straight lines of the table tell of the lens and of how it was held.

A lens with a radial term bends every straight line that misses its middle, by k1 r² of the distance from
there (plumb lines, Brown 1971). The table's own lines, joints of tiles or boards, a mat's grid, the table's
edge, are as straight as they are made; where several agree they tell k1 ten times better than the kind of
lens does.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from digitise.card_segments import Sketch
from digitise.lens_prior import LensPrior
from digitise.line_course import Courses, chord_places, courses
from digitise.straight_lines import long_lines
from digitise.tone import FloatArray
from digitise.vanishing import vanishing_points

STRAIGHTNESS = 3e-4
"""Bow of a line as it was made, of its length: 0.3 mm of a metre."""
_STUDENT = 3.0
"""Degrees of freedom by which lines stray from what they tell together: grain of wood is not straight."""
_ROUNDS = 30
_K1_FLOOR = 0.001  # one radial term does not tell all that a lens does


@dataclass(frozen=True, eq=False)
class _Seen:
    """Lines (n, 4) of the photo, how they run, and the ``bend_px`` (n, BLOCKS) that a k1 of 1 gives them."""

    lines_px: FloatArray
    runs: Courses
    bend_px: FloatArray


def lines_in(sketch: Sketch) -> FloatArray:
    """Long straight lines (n, 4) of a photo, in its pixels, by its ``sketch``."""
    height, width = sketch.picture.lab.shape[:2]
    lines = long_lines(sketch.lines, (width, height))
    return np.column_stack([sketch.picture.to_photo(ends) for ends in (lines[:, :2], lines[:, 2:])])


def by_lines(pixels_rgb: npt.NDArray[np.uint8], lines_px: FloatArray, prior: LensPrior) -> LensPrior:
    """``prior`` with what the long straight lines (n, 4) of a picture (h, w, 3) tell besides."""
    if len(lines_px) == 0:
        return prior
    seen = _seen(pixels_rgb, lines_px, prior)
    k1, k1_sd = _bend(seen, prior)
    straight_px, turn_sd = _straightened(seen, k1), _turn_sd(seen)
    return replace(prior, k1=k1, k1_sd=k1_sd, vanishing=vanishing_points(straight_px, turn_sd, prior))


def _seen(pixels_rgb: npt.NDArray[np.uint8], lines_px: FloatArray, prior: LensPrior) -> _Seen:
    places, normal = chord_places(lines_px)
    away = places - np.array(prior.centre_px)
    bend_px = np.einsum("nbi,ni->nb", away, normal) * np.sum((away / prior.focal_px) ** 2, axis=2)
    along = np.broadcast_to(np.linspace(-1, 1, bend_px.shape[1]), bend_px.shape)
    terms = np.stack([np.ones_like(bend_px), along, bend_px], axis=2)
    return _Seen(lines_px, courses(pixels_rgb, lines_px, terms), bend_px)


def _bend(seen: _Seen, prior: LensPrior) -> tuple[float, float]:
    """k1 and its standard deviation from all lines and what was known."""
    told, variance = seen.runs.fit[:, 2], seen.runs.covariance[:, 2, 2]
    made = STRAIGHTNESS * _length_px(seen.lines_px) / np.maximum(_bow_px(seen.bend_px), 1e-6)
    variance = variance + made**2
    known = 1 / prior.k1_sd**2
    weight = np.zeros_like(told)
    for _ in range(_ROUNDS):
        k1, _ = _mean(told, weight, prior.k1, known)
        likely = _STUDENT / (_STUDENT + (told - k1) ** 2 / variance)
        weight = (_STUDENT + 1) / _STUDENT * likely / variance
    # of lines that bow each its own way some agree with any k1; what less than half of them say is nothing
    agreed = max(2 * float((likely / variance).sum() / (1 / variance).sum()) - 1, 0.0)
    k1, information = _mean(told, agreed * weight, prior.k1, known)
    # of a lens that is longer, or whose middle lies elsewhere, the same lines tell another k1
    of_lens = 2 * math.hypot(prior.focal_sd_px, prior.centre_sd_px) / prior.focal_px
    k1_sd = math.hypot(1 / math.sqrt(information), _K1_FLOOR, of_lens * k1)
    return k1, min(k1_sd, prior.k1_sd)


def _mean(told: FloatArray, weight: FloatArray, known: float, information: float) -> tuple[float, float]:
    """The mean of values (n,) by weight together with what was known, and the information it has."""
    total = float(weight.sum()) + information
    return (float(weight @ told) + information * known) / total, total


def _bow_px(bend_px: FloatArray) -> FloatArray:
    """How far (n,) each line of ``bend_px`` (n, b) strays from its own straight line."""
    along = np.linspace(-1, 1, bend_px.shape[1])
    level = bend_px - bend_px.mean(axis=1, keepdims=True)
    slope = level @ along / (along @ along)
    return np.asarray(np.ptp(level - slope[:, None] * along, axis=1))


def _turn_sd(seen: _Seen) -> FloatArray:
    """How well (n,), in rad, it is known how the lines are turned."""
    return np.asarray(2 * np.sqrt(seen.runs.covariance[:, 1, 1]) / _length_px(seen.lines_px))


def _length_px(lines_px: FloatArray) -> FloatArray:
    return np.asarray(np.linalg.norm(lines_px[:, 2:] - lines_px[:, :2], axis=1))


def _straightened(seen: _Seen, k1: float) -> FloatArray:
    """The lines (n, 4) as a lens without that bend shows them."""
    fit, covariance = seen.runs.fit, seen.runs.covariance
    # what else was fitted, given this k1
    share = covariance[:, :2, 2] / covariance[:, 2:, 2]
    level, turn = (fit[:, :2] + share * (k1 - fit[:, 2:])).T
    places, normal = chord_places(seen.lines_px)
    ends = places[:, 0] + (level - turn)[:, None] * normal, places[:, -1] + (level + turn)[:, None] * normal
    return np.column_stack(ends)
