"""The camera as a pin-hole with one radial term, and rays cast from pixels to planes near the table.

Frames and the pixel convention are those of the package: world X in mm goes to ``R X + t`` in the
camera (x right, y down, z forward), to ``x = X/Z, y = Y/Z``, then outward by ``1 + k1 r²`` with
``r² = x² + y²``, then to ``focal_px * (x, y) + (cx_px, cy_px)``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
import numpy.typing as npt

from digitise.tone import FloatArray, Image

FULL_FRAME_DIAGONAL_MM = math.hypot(36.0, 24.0)  # 43.27 mm, what "35 mm equivalent" refers to

PARAMETER_NAMES = ("focal_px", "turn_x", "turn_y", "turn_z", "t_x", "t_y", "t_z", "cx_px", "cy_px", "k1")
"""Order of the camera's parameters in every covariance and Jacobian: px, rad (small turns about the
camera's own axes), mm, px, and the bare radial term."""

_NODES = 8  # points by which a line is told: of 60 mm seen from 300 mm by a leaning lens, to 1e-4 px
_STEPS = np.array([0.5, 1e-5, 1e-5, 1e-5, 0.02, 0.02, 0.05, 0.5, 0.5, 1e-4])


@dataclass(frozen=True)
class Plane:
    """The plane z = at_origin_mm + slope_x * x + slope_y * y of the world."""

    at_origin_mm: float
    slope_x: float = 0.0
    slope_y: float = 0.0


TABLE = Plane(0.0)


@dataclass(frozen=True)
class Camera:
    """A calibrated view: ``rotation`` (3, 3) and ``translation_mm`` (3,) take the world to the camera."""

    focal_px: float
    cx_px: float
    cy_px: float
    rotation: FloatArray
    translation_mm: FloatArray
    k1: float = 0.0

    @property
    def centre_mm(self) -> FloatArray:
        """Where the lens is in the world, shape (3,)."""
        return -self.rotation.T @ self.translation_mm

    @property
    def height_mm(self) -> float:
        """Height of the lens above the table."""
        return float(self.centre_mm[2])

    @property
    def nadir_mm(self) -> FloatArray:
        """The point of the table straight below the lens, (x, y)."""
        return np.asarray(self.centre_mm[:2])

    @property
    def tilt_deg(self) -> float:
        """Angle between the line of sight and straight down; 0 is a true top-down photo."""
        return math.degrees(math.acos(min(1.0, max(-1.0, -float(self.rotation[2, 2])))))

    def project(self, world_mm: FloatArray) -> FloatArray:
        """Pixels (n, 2) of world points (n, 3). Points behind the lens come out as NaN."""
        seen = np.asarray(world_mm, float) @ self.rotation.T + self.translation_mm
        depth = np.where(seen[:, 2] > 0, seen[:, 2], np.nan)
        flat = seen[:, :2] / depth[:, None]
        bent = flat * (1.0 + self.k1 * np.sum(flat**2, axis=1, keepdims=True))
        return np.asarray(self.focal_px * bent + np.array([self.cx_px, self.cy_px]))

    def project_plane(self, origin_mm: FloatArray, sides_mm: FloatArray, points: FloatArray) -> FloatArray:
        """Pixels (n, 2) of the world points ``origin_mm + points @ sides_mm``, of points (n, 2) of a plane.

        The same as ``project`` in a tenth of the time: a band along an outline holds a million points.
        """
        # Coordinate by coordinate: a last axis of two is slow work for numpy.
        x, y = np.ascontiguousarray(np.asarray(points, float).T)
        return np.ascontiguousarray(self.project_apart(origin_mm, sides_mm, x, y).T)

    def project_apart(
        self, origin_mm: FloatArray, sides_mm: FloatArray, x: FloatArray, y: FloatArray
    ) -> FloatArray:
        """The same, but x and y apart, (2, ...), of points of which these stand apart, too, each (...)."""
        homography = self._homography(origin_mm, sides_mm)
        seen = np.empty((2, *x.shape))
        self._bent(seen, *(row[0] * x + row[1] * y + row[2] for row in homography))
        return seen

    def project_lines(
        self,
        origin_mm: FloatArray,
        sides_mm: FloatArray,
        starts: FloatArray,
        ways: FloatArray,
        along: FloatArray,
    ) -> npt.NDArray[np.float32]:
        """The same, but x and y apart, (2, n, k), of the points ``starts + along * ways`` for each of
        ``along`` (k,), all along lines of the plane that begin at ``starts`` (n, 2) and run by ``ways``
        (n, 2).

        They are to be short, up to 60 mm where the lens is 300 mm off: nearly straight in the picture, too.
        Then a polynomial through _NODES of a line's points strays from it by less than pixels are stored to.
        Lines that reach behind the lens are NaN.
        """
        homography = self._homography(origin_mm, sides_mm)
        first, step = starts @ homography[:, :2].T + homography[:, 2], ways @ homography[:, :2].T
        places, shares = _nodes(along)
        at_nodes = np.empty((2, len(starts), len(places)))
        self._bent(at_nodes, *(np.multiply.outer(step.T, places) + first.T[:, :, None]))
        return (at_nodes @ shares).astype(np.float32)

    def _homography(self, origin_mm: FloatArray, sides_mm: FloatArray) -> FloatArray:
        """From points (x, y, 1) of a plane to the camera's frame (3, 3)."""
        return np.column_stack([self.rotation @ sides_mm.T, self.rotation @ origin_mm + self.translation_mm])

    def _bent(self, seen: Image, x: FloatArray, y: FloatArray, depth: FloatArray) -> None:
        """Put into ``seen`` (2, ...) the pixels of places in the camera's frame, each (...); x, y and depth
        are used up."""
        depth[depth <= 0] = np.nan
        x /= depth
        y /= depth
        bend = x * x
        np.multiply(y, y, out=depth)
        bend += depth
        bend *= self.k1
        bend += 1.0
        bend *= self.focal_px
        x *= bend
        y *= bend
        x += self.cx_px
        y += self.cy_px
        seen[0], seen[1] = x, y

    def directions(self, points_px: FloatArray) -> FloatArray:
        """Rays of pixels (n, 2) as (x, y, 1) in the camera, shape (n, 3): the radial term undone."""
        bent = (np.asarray(points_px, float) - np.array([self.cx_px, self.cy_px])) / self.focal_px
        return np.column_stack([straightened(bent, self.k1), np.ones(len(bent))])

    def to_plane(self, points_px: FloatArray, plane: Plane = TABLE) -> FloatArray:
        """World (x, y) in mm, shape (n, 2), where the rays of pixels (n, 2) meet the plane.

        Rays that run along the plane or meet it behind the lens come out as NaN.
        """
        rays = self.directions(points_px) @ self.rotation  # rows are R^T d, in the world
        centre = self.centre_mm
        slopes = np.array([plane.slope_x, plane.slope_y])
        drop = plane.at_origin_mm + slopes @ centre[:2] - centre[2]
        along = rays[:, 2] - rays[:, :2] @ slopes
        with np.errstate(divide="ignore", invalid="ignore"):
            reach = drop / along
        reach = np.where((along != 0) & (reach > 0), reach, np.nan)
        return centre[:2] + reach[:, None] * rays[:, :2]

    def moved(self, change: FloatArray) -> Camera:
        """The camera with small changes (10,) to its parameters, in the order of PARAMETER_NAMES."""
        turn = np.asarray(cv2.Rodrigues(np.asarray(change[1:4], float))[0], float)
        return replace(
            self,
            focal_px=self.focal_px + float(change[0]),
            rotation=turn @ self.rotation,
            translation_mm=self.translation_mm + change[4:7],
            cx_px=self.cx_px + float(change[7]),
            cy_px=self.cy_px + float(change[8]),
            k1=self.k1 + float(change[9]),
        )


def _nodes(along: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Places (m,) of Chebyshev's nodes on the span of ``along`` (k,), and the shares (m, k) by which values
    there make up those of ``along`` (Lagrange's polynomial); all of them where they are no more than that."""
    if len(along) <= _NODES:
        return along, np.eye(len(along))
    low, high = float(along.min()), float(along.max())
    places = (low + high) / 2 + (high - low) / 2 * np.cos(np.pi * (np.arange(_NODES) + 0.5) / _NODES)
    others = [np.delete(places, k)[:, None] for k in range(_NODES)]
    shares = [np.prod((along - rest) / (at - rest), axis=0) for at, rest in zip(places, others, strict=True)]
    return places, np.array(shares)


def straightened(bent: FloatArray, k1: float) -> FloatArray:
    """Undo ``bent = flat * (1 + k1 |flat|²)``; (n, 2) in focal lengths."""
    if k1 == 0:
        return bent
    x, y = bent[:, 0], bent[:, 1]
    return np.asarray(bent * straightening(x * x + y * y, k1)[:, None])


def straightening(square: FloatArray, k1: float | FloatArray) -> FloatArray:
    """What to multiply bent places by, of the ``square`` of their distance from the middle, any shape.

    ``k1`` is one number or an array that goes with ``square``. Found by fixed-point steps.
    """
    scale = np.ones_like(square)
    for _ in range(6):  # |k1| r² stays under 0.05 for phone lenses: each step gains a factor of 20
        before, scale = scale, 1.0 / (1.0 + k1 * scale * scale * square)
        if np.abs(scale - before).max(initial=0.0) < 1e-13:
            break
    return scale


def focal_px_from_equivalent(f35_mm: float, width_px: int, height_px: int) -> float:
    """Focal length in pixels from the 35 mm equivalent, which is defined on the frame's diagonal.

    >>> round(focal_px_from_equivalent(26, 4032, 3024), 1)
    3028.7
    """
    return f35_mm * math.hypot(width_px, height_px) / FULL_FRAME_DIAGONAL_MM


def plane_jacobian(camera: Camera, points_px: FloatArray, plane: Plane = TABLE) -> FloatArray:
    """How plane points move with the camera's parameters: (n, 2, 10), mm per unit of each parameter.

    With a parameter covariance C (10, 10), ``J.reshape(-1, 10) @ C @ J.reshape(-1, 10).T`` is the
    (2n, 2n) covariance of the points in mm that the camera's uncertainty alone causes.
    """
    columns = []
    for index, step in enumerate(_STEPS):
        change = np.zeros(len(_STEPS))
        change[index] = step
        ahead = camera.moved(change).to_plane(points_px, plane)
        behind = camera.moved(-change).to_plane(points_px, plane)
        columns.append((ahead - behind) / (2 * step))
    return np.stack(columns, axis=-1)
