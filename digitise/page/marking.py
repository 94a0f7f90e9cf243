"""A racquet marked by hand from the start, for photos in which it, or the card, was not found."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize
from shapely import affinity
from shapely.geometry import Polygon

from digitise.axis import Axis
from digitise.body import body_of
from digitise.card_pose import CameraEstimate
from digitise.landmarks import HandleMarks, half_widths, handle_marks
from digitise.page.opened import with_calm_spans
from digitise.page.rim import rim_from_seen, without_small_loops
from digitise.page.sheet import Sheet, counter_clockwise
from digitise.photo import Photo
from digitise.resting import rest
from digitise.spread import MOST_TOGETHER
from digitise.tone import FloatArray
from digitise.trace import FLAT_HEIGHT_MM
from model.build import Known, Traced, build_racquet, thicknesses
from model.errors import OutlineError, ReadingError
from model.face import Landmarks
from model.outline import Outline, outline_from_rings
from model.racquet_file import (
    CardRecord,
    CorrectionRecord,
    PhotoRecord,
    RacquetFile,
    ScaleRecord,
    Value,
)
from model.smooth import curve_record
from model.spline_fit import fit_curve

HAND_SD_MM = 0.2
GUESSED_LENGTH_MM = 450.0
_TOP_SD_MM = 5.0


@dataclass(frozen=True, eq=False)
class RawPhoto:
    """The photo as it is, for marking the card: one mm a pixel, y up from the picture's lower edge."""

    height_px: int

    def to_px(self, points_mm: FloatArray) -> FloatArray:
        """Pixels (n, 2) of points (n, 2)."""
        return np.asarray(points_mm, float) * [1.0, -1.0] + [0.0, self.height_px - 1.0]

    def from_px(self, points_px: FloatArray) -> FloatArray:
        """Points (n, 2) of pixels (n, 2)."""
        return (np.asarray(points_px, float) - [0.0, self.height_px - 1.0]) * [1.0, -1.0]


def table_sheet(photo: Photo, estimate: CameraEstimate, known: Known, card_on_face: bool) -> Sheet:
    """The plane a racquet's middle has, before it is known where it lies; up is the photo's."""
    face, handle = thicknesses(known)
    body = body_of(
        known.construction,
        GUESSED_LENGTH_MM,
        HandleMarks(30.0, 34.0, 0.3 * GUESSED_LENGTH_MM, _TOP_SD_MM),
        face.value,
        handle.value,
        card_on_face,
    )
    middle_px = np.array([photo.width_px, photo.height_px]) / 2
    two = estimate.camera.to_plane(np.array([middle_px, middle_px - [0.0, 0.1 * photo.height_px]]))
    up = (two[1] - two[0]) / np.hypot(*(two[1] - two[0]))
    level = rest(Axis(two[0], up), body)
    height = level.height_mm if card_on_face else FLAT_HEIGHT_MM
    return Sheet(estimate, type(level)(level.axis, height, 0.0), body)


def marked_racquet(
    photo: Photo, sheet: Sheet, corners_px: FloatArray, seen_mm: FloatArray, known: Known
) -> RacquetFile:
    """The racquet file of a line (n, 2) drawn round the racquet on the table's sheet.

    Raises OutlineError for a line that is no outline, or none of a racquet with these readings.
    """
    polygon = Polygon(seen_mm).buffer(0)
    polygon = max(getattr(polygon, "geoms", [polygon]), key=lambda piece: piece.area)
    if polygon.is_empty or polygon.area < 2000.0:
        raise OutlineError("the line encloses no racquet: click all the way round its edge")
    seen_px = sheet.to_px(np.asarray(polygon.exterior.coords, float)[:-1])
    own = sheet
    for _ in range(2):  # the plane follows from the racquet's length, and the length a little from the plane
        own = _laid(own, own.from_px(seen_px), known)
    rim = rim_from_seen(own, own.from_px(seen_px))
    ring = counter_clockwise(without_small_loops(rim.outline_mm))
    low = float(ring[:, 1].min())
    own = own.moved(0.0, 0.0, low)
    ring = ring - [0.0, low]
    outline = outline_from_rings(ring)
    marks = handle_marks(*half_widths(outline.outer_mm))
    curve = with_calm_spans(fit_curve(counter_clockwise(own.from_px(seen_px)), HAND_SD_MM))
    record = curve_record(curve)
    camera, estimate = own.estimate.camera, own.estimate
    mm_per_px = (camera.height_mm - own.resting.height_mm) / camera.focal_px
    relative = estimate.height_sd_mm / camera.height_mm
    scale = ScaleRecord(
        card=CardRecord(corners_px=corners_px.tolist(), on="face" if own.body.card_on_face else "table"),
        camera_height_mm=Value(value=camera.height_mm, sd=estimate.height_sd_mm),
        mm_per_px=Value(value=mm_per_px, sd=mm_per_px * relative),
        relative_sd=relative,
        focal_px=Value(value=camera.focal_px, sd=float(np.sqrt(estimate.covariance[0, 0]))),
        focal_source="photo" if estimate.focal_known else "assumed",
        tilt_deg=Value(value=camera.tilt_deg, sd=float(np.rad2deg(np.sqrt(estimate.covariance[1, 1])))),
    )
    photo_record = PhotoRecord(
        file_name=photo.file_name, sha256=photo.sha256, width_px=photo.width_px, height_px=photo.height_px
    )
    sds = relative * np.array([outline.length_mm, outline.width_mm])
    measured = Traced(
        length_sd_mm=float(sds[0]),
        width_sd_mm=float(sds[1]),
        size_correlation=MOST_TOGETHER,  # what is open is the scale, and both sizes have it
        photo=photo_record,
        scale=scale,
        notes=tuple(photo.notes),
    )
    file = _weighed(outline, Landmarks(marks.top_mm, _TOP_SD_MM), known, measured)
    correction = CorrectionRecord(outer=record, openings=[], touched=[], card_moved=True)
    return file.model_copy(update={"pose": own.record(), "correction": correction})


def _weighed(outline: Outline, landmarks: Landmarks, known: Known, measured: Traced) -> RacquetFile:
    """The racquet file. What does not fit comes likelier of a line that runs elsewhere than the rim."""
    wrong = (
        f"the line marked may be wrong: it makes a racquet {outline.length_mm:.0f} mm long and "
        f"{outline.width_mm:.0f} mm wide"
    )
    try:
        return build_racquet(outline, landmarks, known, measured)
    except ReadingError as error:
        raise OutlineError(f"{wrong}. If it is as large as that: {error}") from None
    except OutlineError:
        raise OutlineError(f"{wrong}, with no handle and no head that could be told apart") from None


def _laid(sheet: Sheet, seen_mm: FloatArray, known: Known) -> Sheet:
    """The sheet of the racquet whose rim is seen there: axis by symmetry, the handle at the thin end."""
    polygon = Polygon(seen_mm)
    turn, right, low, length = _mirror_line(polygon)
    moved = sheet.moved(turn, right[0], right[1]).moved(0.0, 0.0, low)
    local = moved.from_px(sheet.to_px(seen_mm))
    marks = handle_marks(*half_widths(counter_clockwise(local)))
    face, handle = thicknesses(known)
    body = body_of(known.construction, length, marks, face.value, handle.value, sheet.body.card_on_face)
    level = rest(moved.resting.axis, body)
    return Sheet(sheet.estimate, level, body)


def _mirror_line(polygon: Polygon) -> tuple[float, FloatArray, float, float]:
    """Turn (rad) and a point (2,) of the best mirror line, the low end along it, and the length."""
    points = np.asarray(polygon.exterior.coords, float)[:-1]
    centre = np.array([polygon.centroid.x, polygon.centroid.y])
    _, vectors = np.linalg.eigh(np.cov((points - centre).T))
    long = vectors[:, -1]
    start = float(np.arctan2(-long[0], long[1]))

    def uneven(move: FloatArray) -> float:
        level = affinity.rotate(affinity.translate(polygon, *-centre), -move[0], (0, 0), use_radians=True)
        level = affinity.translate(level, -move[1], 0)
        twin = affinity.scale(level, -1, 1, origin=(0, 0))
        return float(level.symmetric_difference(twin).area)

    best = minimize(uneven, [start, 0.0], method="Nelder-Mead", options={"xatol": 1e-4, "fatol": 0.5})
    turn, across = float(best.x[0]), float(best.x[1])
    cos, sin = np.cos(turn), np.sin(turn)
    right, up = np.array([cos, sin]), np.array([-sin, cos])
    origin = centre + across * right
    y = (points - origin) @ up
    x = np.abs((points - origin) @ right)
    span = float(np.ptp(y))
    low_width = np.median(x[y < y.min() + 0.2 * span])
    high_width = np.median(x[y > y.max() - 0.2 * span])
    if high_width < low_width:  # the handle points up: turn the racquet over
        turn, y = turn + np.pi, -y
    return turn, origin, float(y.min()), span
