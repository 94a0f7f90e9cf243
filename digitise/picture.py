"""The photo with what was found drawn over it, so that a person can see whether it is right."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt
from PIL import Image

from digitise.doubt import REST
from digitise.holes import upper_side
from digitise.landmarks import half_widths
from digitise.photo import Photo
from digitise.recast import seen_px
from digitise.ring_runs import run_rows
from digitise.tone import FloatArray
from digitise.trace import Traced
from model.side_edges import straight_sides, widest
from model.storage import write_bytes

LONG_SIDE_PX = 2400
# Okabe and Ito's palette, told apart without colour vision; each line also has its own style.
OUTLINE, OPENING, CARD, AXIS, DOUBT = (
    (230, 159, 0),
    (0, 158, 115),
    (86, 180, 233),
    (255, 255, 255),
    (204, 121, 167),
)
HALO = (0, 0, 0)
_SHIFT = 4


def draw_traced(photo: Photo, traced: Traced) -> npt.NDArray[np.uint8]:
    """RGB picture, LONG_SIDE_PX at most, of the photo with outline, openings, card, axis and landmarks."""
    share = min(1.0, LONG_SIDE_PX / max(photo.width_px, photo.height_px))
    picture = _shrunk(photo.pixels_rgb, share)
    pen = _Pen(picture, share)
    outline_px = seen_px(traced.estimate.camera, traced.contour, traced.body)
    camera, resting = traced.estimate.camera, traced.contour.resting
    # A deep hole is seen by its upper rim, a tube's inner side about its middle.
    rim = resting if traced.body.is_tube else upper_side(resting, traced.body)
    for ring in traced.openings_mm:
        pen.line(rim.to_pixels(camera, ring), OPENING, 1, closed=True)
    pen.line(outline_px, OUTLINE, 2, closed=True)
    for doubt in traced.doubts:
        rows = run_rows(doubt.first, doubt.last, len(outline_px))
        pen.dashes(outline_px[rows], DOUBT, faint=doubt.reason == REST)
    for corners_px in traced.reference.outlines_px:
        pen.line(corners_px, CARD, 2, closed=True)
        pen.words(corners_px.mean(axis=0), traced.reference.what, CARD)
    _draw_landmarks(pen, traced)
    return picture


def save_png(picture: npt.NDArray[np.uint8], path: Path) -> None:
    """Write an RGB picture as PNG, whole or not at all."""
    stream = BytesIO()
    Image.fromarray(picture).save(stream, format="PNG", compress_level=1)
    write_bytes(path, stream.getvalue())


def _draw_landmarks(pen: _Pen, traced: Traced) -> None:
    camera, resting = traced.estimate.camera, traced.contour.resting
    tip = float(traced.contour.ring_mm[:, 1].max())
    top, half = traced.marks.top_mm, traced.marks.width_mm / 2
    axis = np.array([[0.0, -15.0], [0.0, tip + 15.0]])
    cross = np.array([[-half - 12, top], [half + 12, top]])
    butt = np.array([[-half - 12, 0.0], [half + 12, 0.0]])
    for line in (axis, cross, butt):
        pen.dashes(resting.to_pixels(camera, line), AXIS, steps=60)
    labels = {"butt": (half + 16, 0.0), "handle top": (half + 16, top), "tip": (8.0, tip + 16)}
    y_mm, half_mm = half_widths(traced.contour.ring_mm)
    wide = widest(y_mm, half_mm).value
    straight = straight_sides(y_mm, half_mm)
    ticks = {"widest": wide}
    if straight is not None:
        ticks |= {"straight from": straight.start_mm.value, "straight to": straight.end_mm.value}
    for name, y in ticks.items():
        edge = float(np.interp(y, y_mm, half_mm))
        for side in (-1.0, 1.0):
            tick = np.array([[side * (edge - 8), y], [side * (edge + 8), y]])
            pen.dashes(resting.to_pixels(camera, tick), AXIS, steps=8)
        labels[name] = (edge + 12, y)
    for words, place in labels.items():
        pen.words(resting.to_pixels(camera, np.array([place]))[0], words, AXIS)


class _Pen:
    """Draws lines in the photo's pixels on its shrunk copy, each over a dark halo."""

    def __init__(self, picture: npt.NDArray[np.uint8], share: float) -> None:
        self.picture = picture
        self.share = share
        self.width = max(1, round(max(picture.shape) / 1200))

    def line(self, points_px: FloatArray, colour: tuple[int, int, int], width: int, closed: bool) -> None:
        where = [self._fixed(points_px)]
        for tint, extra in ((HALO, 2), (colour, 0)):
            cv2.polylines(
                self.picture, where, closed, tint, (width + extra) * self.width, cv2.LINE_AA, _SHIFT
            )

    def dashes(
        self, points_px: FloatArray, colour: tuple[int, int, int], steps: int = 0, faint: bool = False
    ) -> None:
        """A dashed line: every other stretch of 6 points; a straight one is first cut into ``steps``, and it
        is thin as a ``faint`` one is."""
        if steps:
            t = np.linspace(0, 1, steps)[:, None]
            points_px = points_px[0] + t * (points_px[-1] - points_px[0])
        length = 2 if steps else 6
        for start in range(0, len(points_px), 2 * length):
            self.line(points_px[start : start + length], colour, 1 if steps or faint else 3, closed=False)

    def words(self, place_px: FloatArray, text: str, colour: tuple[int, int, int]) -> None:
        x, y = np.round((np.asarray(place_px) + 0.5) * self.share).astype(int)
        size = 0.45 * self.width
        # not by a thicker pen, which OpenCV 5's own typeface takes for another weight and draws no wider
        around = [(dx * self.width, dy * self.width) for dx in (-1, 0, 1) for dy in (-1, 0, 1) if dx or dy]
        for dx, dy, tint in (*((*shift, HALO) for shift in around), (0, 0, colour)):
            place = (int(x) + dx, int(y) + dy)
            cv2.putText(
                self.picture, text, place, cv2.FONT_HERSHEY_SIMPLEX, size, tint, self.width, cv2.LINE_AA
            )

    def _fixed(self, points_px: FloatArray) -> npt.NDArray[np.int32]:
        return np.asarray(np.round(((points_px + 0.5) * self.share - 0.5) * 2**_SHIFT), np.int32)


def _shrunk(pixels_rgb: npt.NDArray[np.uint8], share: float) -> npt.NDArray[np.uint8]:
    if share == 1.0:
        return pixels_rgb.copy()
    height_px, width_px = pixels_rgb.shape[:2]
    size = (round(width_px * share), round(height_px * share))
    return np.asarray(cv2.resize(pixels_rgb, size, interpolation=cv2.INTER_AREA), np.uint8)
