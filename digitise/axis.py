"""The racquet's long axis, found as the line about which its edges mirror best.

A mask alone would do if shadows did not cling to one side of it. Sharp edges are mirrored about the
axis in place and in direction; shadows, prints and other things are not.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
import numpy.typing as npt

from digitise.flat import FlatView
from digitise.quantile import quantile_of
from digitise.table_model import Mask
from digitise.tone import FloatArray, Image

ComplexImage = npt.NDArray[np.complex64]

EDGE_HALF_STRENGTH = 3.0
"""Change per cell, in multiples of the table's spread, at which an edge counts half of a strong one."""

FINE_CELLS, SOFT_CELLS, STEP_RATIO, SOFT_SHARE = 0.7, 2.5, 0.9, 0.3
"""Blur, in cells, in which edges are seen, and that under which a step's gradient falls by a share of
1 + STEP_RATIO at least; and what a soft edge counts of a sharp one."""

BORDER_MM = 16.0
"""Depth from the mask's border to which edges count fully when the axis is sought."""

PEAKS, PEAK_TURN_DEG, PEAK_SHIFT_MM = 3, 2.5, 7.0
"""How many axes are tried, and how far apart two must be to count as different: a racquet's shadow mirrors
it, too, about a line of its own."""
ROOM_CELLS = 10
"""Room round what is looked at, for blurring."""
ROUGH_BLUR_CELLS = 2.5
"""Blur of the edges while the axis is sought roughly: every second of them, each way, tells the same."""
FEW, MANY = 900, 2500
"""Edges looked up, of the stronger ones, while the axis is sought roughly and then closely."""


@dataclass(frozen=True)
class Axis:
    """Racquet frame in the world: ``origin_mm`` (2,) on the axis, ``up`` (2,) unit vector butt to tip."""

    origin_mm: FloatArray
    up: FloatArray

    @property
    def right(self) -> FloatArray:
        """Unit vector (2,) to the racquet's right as seen from above."""
        return np.array([self.up[1], -self.up[0]])

    def to_racquet(self, world_mm: FloatArray) -> FloatArray:
        """Points (n, 2) of the world in the racquet's frame, mm."""
        away = np.asarray(world_mm, float) - self.origin_mm
        return np.asarray(away @ np.column_stack([self.right, self.up]))

    def to_world(self, racquet_mm: FloatArray) -> FloatArray:
        """Points (n, 2) of the racquet's frame in the world, mm."""
        return np.asarray(self.origin_mm + np.asarray(racquet_mm, float) @ np.vstack([self.right, self.up]))

    def moved(self, turn_rad: float, right_mm: float, up_mm: float) -> Axis:
        """The frame shifted to its own point (right_mm, up_mm), then turned counter-clockwise."""
        origin_mm = self.to_world(np.array([[right_mm, up_mm]]))[0]
        cos, sin = np.cos(turn_rad), np.sin(turn_rad)
        return Axis(origin_mm, np.array([[cos, -sin], [sin, cos]]) @ self.up)


@dataclass(frozen=True, eq=False)
class _Slopes:
    """Gradients of a picture's channels, blurred a little: ``along_x`` and ``along_y`` (rows run down, the
    world's y up), (rows, cols) of each channel, and their squared sizes."""

    along_x: list[Image]
    along_y: list[Image]
    size2: list[Image]


def _slopes(picture: Image, sigma: float) -> _Slopes:
    along_x: list[Image] = []
    along_y: list[Image] = []
    for plane in cv2.split(cv2.GaussianBlur(picture, (0, 0), sigma)):
        along_x.append(np.asarray(cv2.Sobel(plane, cv2.CV_32F, 1, 0, scale=1 / 8), np.float32))
        along_y.append(np.asarray(cv2.Sobel(plane, cv2.CV_32F, 0, 1, scale=-1 / 8), np.float32))
    return _Slopes(along_x, along_y, [x**2 + y**2 for x, y in zip(along_x, along_y, strict=True)])


def edge_field(unlike: Image, soft_too: bool = False) -> ComplexImage:
    """Edges of a picture (rows, cols, 3) as complex numbers: size 0 to 1, twice the gradient's angle.

    Edges as soft as a shadow's count little unless ``soft_too``.
    Doubling the angle makes dark-to-light equal to light-to-dark; angles are those of the world's frame.
    """
    return edge_fields(unlike)[0 if soft_too else 1]


def edge_fields(unlike: Image) -> tuple[ComplexImage, ComplexImage]:
    """``edge_field`` with soft edges, and without."""
    fine = _slopes(unlike, FINE_CELLS)
    strength2, best_x, best_y = fine.size2[0].copy(), fine.along_x[0].copy(), fine.along_y[0].copy()
    for others in list(zip(fine.size2, fine.along_x, fine.along_y, strict=True))[1:]:
        stronger = (others[0] > strength2).view(np.uint8)
        for best, other in zip((strength2, best_x, best_y), others, strict=True):
            cv2.copyTo(other, stronger, best)
    size = np.sqrt(strength2)
    share = 1 / ((size + EDGE_HALF_STRENGTH) * np.maximum(size, 1e-9))
    field = np.empty(size.shape, np.complex64)
    field.real = share * (best_x + best_y) * (best_x - best_y)
    field.imag = share * (2 * best_x * best_y)
    sharp = field * _sharpness(fine.size2, _slopes(unlike, SOFT_CELLS).size2)
    return field, np.asarray(sharp, np.complex64)


def _sharpness(fine2: list[Image], coarse2: list[Image]) -> Image:
    """How much like a step, not like a slope over SOFT_CELLS and more, the picture changes at each place, by
    its channels' squared gradients as they are, and blurred by SOFT_CELLS.

    A step's gradient falls as the picture is blurred, a slope's does not; a shadow's border is a slope.
    """
    ratio = np.sqrt(np.asarray(sum(fine2)) / np.maximum(np.asarray(sum(coarse2)), 1e-6))
    return np.asarray(SOFT_SHARE + (1 - SOFT_SHARE) * np.clip((ratio - 1) / STEP_RATIO, 0, 1), np.float32)


def find_axes(view: FlatView, edges: ComplexImage, mask: Mask, inner_weight: float) -> list[Axis]:
    """Mirror axes of the thing under ``mask``, best first, PEAKS at most; which end is the butt is left open.

    ``edges`` is ``edge_field`` on the grid of ``view``; ``inner_weight`` (0 to 1) is how much edges far
    inside the mask count: little where a print need not be symmetric, fully where the mask's own
    border may be that of a shadow.
    """
    start = _principal_axis(view, mask)
    near = cv2.dilate(mask.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    weight = _border_weight(mask, view.cell_mm, inner_weight)
    window = _window(near)
    kept: ComplexImage = (edges * (near & view.inside) * weight).astype(np.complex64)[window]
    few, many = (_look(view, kept, near[window], window, count) for count in (FEW, MANY))
    coarse = _blurred(kept, ROUGH_BLUR_CELLS)[::2, ::2]
    axes = _peaks(replace(few, cell_mm=2 * few.cell_mm), coarse, start)
    for blur_cells, turns_deg, shifts_mm in (
        (1.2, np.arange(-1.0, 1.01, 0.25), np.arange(-4, 4.1, 1.0)),
        (0.8, np.arange(-0.3, 0.31, 0.1), np.arange(-1, 1.01, 0.25)),
    ):
        field = _blurred(kept, blur_cells)
        axes = [_best_near(many, field, axis, turns_deg, shifts_mm) for axis in axes]
    return axes


@dataclass(frozen=True, eq=False)
class _Look:
    """Edges whose mirror images are looked up: ``points`` (n,) of the world as complex numbers, ``values``
    (n,), and the world's place ``origin`` of the corner of the field they are looked up in."""

    points: npt.NDArray[np.complex128]
    values: ComplexImage
    origin: complex
    cell_mm: float


def _window(near: Mask) -> tuple[slice, slice]:
    """The rows and columns of a mask, and some room."""
    rows, cols = (np.flatnonzero(near.any(axis=axis)) for axis in (1, 0))
    return (
        slice(max(int(rows[0]) - ROOM_CELLS, 0), int(rows[-1]) + ROOM_CELLS + 1),
        slice(max(int(cols[0]) - ROOM_CELLS, 0), int(cols[-1]) + ROOM_CELLS + 1),
    )


def _look(view: FlatView, kept: ComplexImage, near: Mask, window: tuple[slice, slice], count: int) -> _Look:
    """About ``count`` of the edges that are among the stronger ones of those ``near``, evenly picked, of the
    field in ``window``."""
    strength = np.abs(kept)
    chosen = np.flatnonzero(strength > quantile_of(strength[near], 0.75))
    picked = chosen[:: max(len(chosen) // count, 1)]
    rows, cols = np.unravel_index(picked, kept.shape)
    corner = np.array([[window[1].start, window[0].start]])
    points = view.to_world(np.column_stack([cols, rows]) + corner)
    origin = view.to_world(corner)[0]
    return _Look(points[:, 0] + 1j * points[:, 1], kept[rows, cols], complex(*origin), view.cell_mm)


def _peaks(look: _Look, field: ComplexImage, start: Axis) -> list[Axis]:
    """The best axes about ``start`` that are not next to a better one."""
    turns, shifts = np.arange(-16, 16.1, 1.0), np.arange(-40, 40.1, 3.0)
    scores = _mirror_scores(look, field, start, turns, shifts)
    kept: list[tuple[float, float]] = []
    for index in np.argsort(-scores, axis=None):
        i, j = np.unravel_index(index, scores.shape)
        turn, shift = float(turns[i]), float(shifts[j])
        if all(abs(turn - t) > PEAK_TURN_DEG or abs(shift - s) > PEAK_SHIFT_MM for t, s in kept):
            kept.append((turn, shift))
        if len(kept) == PEAKS:
            break
    return [start.moved(float(np.deg2rad(turn)), shift, 0.0) for turn, shift in kept]


def _best_near(
    look: _Look, field: ComplexImage, start: Axis, turns_deg: FloatArray, shifts_mm: FloatArray
) -> Axis:
    scores = _mirror_scores(look, field, start, turns_deg, shifts_mm)
    i, j = np.unravel_index(int(np.argmax(scores)), scores.shape)
    return start.moved(float(np.deg2rad(turns_deg[i])), float(shifts_mm[j]), 0.0)


def _mirror_scores(
    look: _Look, field: ComplexImage, start: Axis, turns_deg: FloatArray, shifts_mm: FloatArray
) -> FloatArray:
    """Agreement (turns, shifts) of each edge with what stands at its mirror place, its direction mirrored
    too, for ``start`` shifted, then turned, each way."""
    origin, up = complex(*start.origin_mm), complex(*start.up)
    # About a line through o along the unit vector u, the mirror image of z is o + u² conj(z - o).
    doubled = (up * np.exp(1j * np.deg2rad(turns_deg)))[:, None] ** 2
    mirrored = origin + doubled * np.conj(look.points - origin)
    grid = _over(np.conj(mirrored - look.origin), look.cell_mm)  # rows run down
    right = -1j * up
    step = _over(np.conj(right - doubled * np.conj(right)), look.cell_mm)
    # A direction at angle a, mirrored about a line at angle t, stands at 2t - a; doubled: 4t - 2a.
    wanted = _parts(np.conj(look.values * (1 / doubled**2))).reshape(len(grid), -1)
    bordered = np.pad(field, 1)
    scores = np.empty((len(turns_deg), len(shifts_mm)))
    # Turn by turn, so that it all stays in the processor's nearest memory.
    for k in range(len(turns_deg)):
        found = _values_at(bordered, grid[k], step[k, 0] * shifts_mm)
        scores[k] = found.view(np.float32) @ wanted[k]
    return scores


def _over(places: npt.NDArray[np.complex128], size: float) -> npt.NDArray[np.complex128]:
    """Places, any shape, divided by a real number: numpy would take it for a complex one, and its time."""
    return (places.view(float) / size).view(complex)


def _values_at(bordered: ComplexImage, grid: ComplexImage, moved: ComplexImage) -> ComplexImage:
    """Values (s, n) in the cells nearest to places ``grid`` (n,) + ``moved`` (s,), column + i row, of a field
    with a ``bordered`` row or column of zeros at each side; beyond them 0."""
    rows, cols = bordered.shape
    col, row = (
        np.add.outer(step.astype(np.float32), place.astype(np.float32) + 1)
        for step, place in ((moved.real, grid.real), (moved.imag, grid.imag))
    )
    for places, size in ((col, cols), (row, rows)):
        np.rint(places, out=places)
        np.clip(places, 0, size - 1, out=places)
    row *= cols
    row += col  # whole numbers below 2**24 are exact in float32
    return bordered.ravel().take(row.astype(np.intp))


def _parts(values: ComplexImage) -> npt.NDArray[np.float32]:
    """Real and imaginary parts (..., 2)."""
    return np.ascontiguousarray(values, np.complex64).view(np.float32).reshape(*values.shape, 2)


def _border_weight(mask: Mask, cell_mm: float, inner_weight: float) -> Image:
    depth_mm = cell_mm * cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 3)
    return np.asarray(inner_weight + (1 - inner_weight) * np.exp(-((depth_mm / BORDER_MM) ** 2)), np.float32)


def _blurred(field: ComplexImage, sigma: float) -> ComplexImage:
    blurred = np.ascontiguousarray(cv2.GaussianBlur(_parts(field), (0, 0), sigma), np.float32)
    return np.asarray(blurred.view(np.complex64)[..., 0])


def _principal_axis(view: FlatView, mask: Mask) -> Axis:
    moments = cv2.moments(mask.astype(np.uint8), binaryImage=True)
    middle = np.array([[moments["m10"], moments["m01"]]]) / moments["m00"]
    # Rows run down, the world's y up.
    _, vectors = np.linalg.eigh(
        np.array([[moments["mu20"], -moments["mu11"]], [-moments["mu11"], moments["mu02"]]])
    )
    return Axis(view.to_world(middle)[0], vectors[:, 1])
