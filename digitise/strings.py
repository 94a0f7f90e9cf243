"""A frame's strings as a measurement of the camera: those that run the same way are parallel.

Where the camera leaned by a little more than the card says, strings that run along the racquet close up
towards one end, and those across it towards one side. By how much is fitted by the camera's own uncertain
directions, each held by its standard deviation. How strings bow tells nothing of the lens: played ones do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from scipy.ndimage import median_filter
from scipy.signal import find_peaks
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from digitise.camera import Camera
from digitise.card_pose import CameraEstimate
from digitise.contour import Contour
from digitise.line_course import BLOCKS, Courses, chord_places, courses
from digitise.linear import LinearPhoto
from digitise.recast import with_camera
from digitise.resting import Body, Resting
from digitise.tone import FloatArray

ACROSS, ALONG = 0, 1
"""Coordinates along which strings run."""
TUBE_MM, LOWER_SHARE = 22.0, 0.75
"""How far inside the outline the bed surely begins, and how far below the widest place, as a share of the
way from there to the tip."""
STRIP_MM, ROW_MM, STEP_MM, DARK = 25.0, 1.0, 0.4, 0.01
"""Strings are found by the median over so much to either side of the bed's middle, in such steps along and
across it, of the logarithm of the light, to which this little is added."""
LEVEL_MM, APART_MM, CLEAR = 14.0, 5.0, 5.0
"""Length over which brightness is levelled, the least distance of two strings, and by how many times more
than usual they stand out."""
MOST_STRINGS, LEAST_STRINGS, LEAST_LENGTH_MM = 10, 6, 80.0
"""As many strings of a family are followed, the least that tell anything, and the least length of one."""
LEAST_MADE_MM = 0.03
"""How far a string's ends may be from parallel at the very least; how differently they lie tells more."""
FAN_MM, FAN_AT_MM, BED_HALF_MM = 0.05, 100.0, 125.0
"""How far the strings so far from the middle may be turned, all together, over so much to either side of
theirs, as a bed was strung and as its hoop gave way."""
BLURS_PX = (1.5, 0.8)
"""Strings are thin, and shade beside them is not: they are never looked at through the widest blur."""
_STUDENT, _ROUNDS = 3.0, 20
_FAR_MM, _LOOSE = 1000.0, 1e-9


@dataclass(frozen=True, eq=False)
class _Family:
    """Strings that run ALONG or ACROSS, by ``axis``: lines (n, 4) of the photo, half their lengths (n,) and
    how they run."""

    lines_px: FloatArray
    axis: int
    half_mm: FloatArray
    runs: Courses


def by_strings(
    pixels_rgb: npt.NDArray[np.uint8],
    linear: LinearPhoto,
    estimate: CameraEstimate,
    contour: Contour,
    body: Body,
) -> tuple[CameraEstimate, Contour]:
    """The camera after the strings inside ``contour`` have been looked at in its picture (h, w, 3), and the
    contour seen by it: both as they are where too few are seen."""
    camera, resting, bed = estimate.camera, contour.resting, _bed(contour.ring_mm)
    families = []
    for axis in (ALONG, ACROSS):
        ends_mm = _strings(linear, camera, resting, bed, axis)
        if len(ends_mm) >= LEAST_STRINGS:
            families.append(_family(pixels_rgb, camera, resting, ends_mm, axis))
    if not families:
        return estimate, contour
    directions = estimate.directions
    told = [_told(camera, resting, family, directions) for family in families]
    tightened = estimate.stepped(*_fitted(told, directions.shape[1]))
    return tightened, with_camera(camera, contour, body, tightened.camera)


def _bed(ring_mm: FloatArray) -> BaseGeometry:
    """Where there is surely nothing but strings."""
    tip = float(ring_mm[:, 1].max())
    widest = float(ring_mm[np.argmax(np.abs(ring_mm[:, 0])), 1])
    low = widest - LOWER_SHARE * (tip - widest)
    inside = Polygon(ring_mm).buffer(0).buffer(-TUBE_MM)
    return inside.intersection(box(-_FAR_MM, low, _FAR_MM, _FAR_MM))


def _strings(
    linear: LinearPhoto, camera: Camera, resting: Resting, bed: BaseGeometry, axis: int
) -> FloatArray:
    """Both ends (n, 2, 2) within the bed of up to MOST_STRINGS strings that run along ``axis``."""
    if bed.is_empty:
        return np.empty((0, 2, 2))
    across, seen = _across(linear, camera, resting, bed, axis)
    out = np.abs(seen - median_filter(seen, round(LEVEL_MM / STEP_MM) | 1, mode="nearest"))
    peaks, _ = find_peaks(out, height=CLEAR * np.median(out), distance=round(APART_MM / STEP_MM))
    chords = [chord for place in across[peaks] if (chord := _chord(bed, float(place), axis)) is not None]
    some = np.unique(np.linspace(0, max(len(chords) - 1, 0), MOST_STRINGS).round().astype(int))
    return np.asarray(np.array(chords, float).reshape(-1, 2, 2)[some[: len(chords)]])


def _across(
    linear: LinearPhoto, camera: Camera, resting: Resting, bed: BaseGeometry, axis: int
) -> tuple[FloatArray, FloatArray]:
    """Places (n,) across the bed's middle, and its median brightness there (n,) along ``axis``."""
    low, high = np.array(bed.bounds).reshape(2, 2)
    middle = float((low[axis] + high[axis]) / 2)
    across = np.arange(low[1 - axis], high[1 - axis], STEP_MM)
    along = np.arange(middle - STRIP_MM, middle + STRIP_MM, ROW_MM)
    points = np.empty((len(along), len(across), 2))
    points[..., axis], points[..., 1 - axis] = along[:, None], across
    light = linear.at(resting.to_pixels(camera, points.reshape(-1, 2))).mean(axis=1)
    return across, np.median(np.log(light + DARK).reshape(points.shape[:2]), axis=0)


def _chord(bed: BaseGeometry, place_mm: float, axis: int) -> FloatArray | None:
    """Both ends (2, 2) of the longest piece along ``axis`` that lies in the bed, None if it is too short."""
    ends = np.full((2, 2), place_mm)
    ends[:, axis] = -_FAR_MM, _FAR_MM
    inside = shapely.intersection(LineString(ends), bed)
    longest = max(getattr(inside, "geoms", [inside]), key=shapely.length, default=None)
    if longest is None or longest.length < LEAST_LENGTH_MM:
        return None
    return np.asarray(longest.coords, float)[[0, -1]]


def _family(
    pixels_rgb: npt.NDArray[np.uint8], camera: Camera, resting: Resting, ends_mm: FloatArray, axis: int
) -> _Family:
    lines_px = resting.to_pixels(camera, ends_mm.reshape(-1, 2)).reshape(-1, 4)
    terms = np.broadcast_to(_terms(BLOCKS), (len(lines_px), BLOCKS, 3))
    half_mm = np.abs(ends_mm[:, 1, axis] - ends_mm[:, 0, axis]) / 2
    return _Family(lines_px, axis, half_mm, courses(pixels_rgb, lines_px, terms, BLURS_PX))


def _terms(blocks: int) -> FloatArray:
    """Level, turn and bow of a string (blocks, 3) along which -1 to 1 is told; played strings bow."""
    along = np.linspace(-1, 1, blocks)
    return np.column_stack([np.ones_like(along), along, along**2])


@dataclass(frozen=True, eq=False)
class _Told:
    """By how much the ends of n strings stray, ``off_mm`` (n,), with its ``variance`` (n,), its ``slopes``
    (n, k) with the camera's directions and ``own`` (n, 2) with a turn and, in sd, a fan of the bed itself."""

    off_mm: FloatArray
    variance: FloatArray
    slopes: FloatArray
    own: FloatArray


def _told(camera: Camera, resting: Resting, family: _Family, directions: FloatArray) -> _Told:
    places, normal = chord_places(family.lines_px)
    shape, terms = places.shape[:2], _terms(BLOCKS)

    def across_mm(seen_by: Camera, beside_px: float = 0.0) -> FloatArray:
        points = (places + beside_px * normal[:, None]).reshape(-1, 2)
        return resting.from_pixels(seen_by, points)[:, 1 - family.axis].reshape(shape)

    def turned_mm(across: FloatArray) -> FloatArray:
        return np.asarray(np.linalg.lstsq(terms, across.T, rcond=None)[0][1])

    here = across_mm(camera)
    scale = (across_mm(camera, 1.0) - here).mean(axis=1)
    slopes = [
        turned_mm(across_mm(camera.moved(one_sd)) - across_mm(camera.moved(-one_sd))) / 2
        for one_sd in directions.T
    ]
    aside = here.mean(axis=1)
    fan = FAN_MM * (aside - aside.mean()) / FAN_AT_MM * family.half_mm / BED_HALF_MM
    return _Told(
        turned_mm(here) + scale * family.runs.fit[:, 1],
        scale**2 * family.runs.covariance[:, 1, 1],
        np.column_stack(slopes),
        np.column_stack([family.half_mm, fan]),
    )


def _fitted(told: list[_Told], count: int) -> tuple[FloatArray, FloatArray]:
    """Steps (k,) along the camera's directions, in sd, and their covariance."""
    own = np.array([_LOOSE, 1.0])
    size = count + len(own) * len(told)
    known = np.diag(np.concatenate([np.ones(count), np.tile(own, len(told))]))
    fit: FloatArray = np.zeros(size)
    made = np.full(len(told), LEAST_MADE_MM)
    for _ in range(_ROUNDS):
        normal, pull = known.copy(), np.zeros(size)
        for k, each in enumerate(told):
            first = count + len(own) * k
            terms = np.zeros((len(each.off_mm), size))
            terms[:, :count], terms[:, first : first + len(own)] = each.slopes, each.own
            left = each.off_mm + terms @ fit
            variance = each.variance + made[k] ** 2
            weight = (_STUDENT + 1) / (_STUDENT + left**2 / variance)
            made[k] = max(1.4826 * float(np.median(np.abs(left))), LEAST_MADE_MM)
            sure = weight / variance
            normal += (terms * sure[:, None]).T @ terms
            pull -= (terms * sure[:, None]).T @ each.off_mm
        fit = np.asarray(np.linalg.solve(normal, pull), float)
    return fit[:count], np.linalg.inv(normal)[:count, :count]
