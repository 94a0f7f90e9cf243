"""A phone camera above a table: where each world point lands on the sensor, and back again.

World: mm, z up, the table is z = 0. Pixels: the centre of the top-left pixel is (0, 0), x right,
y down. A camera maps world X to ``K (R X + t)`` with x right, y down, z forward, after one
radial term: a ray at normalised distance r lands at r (1 + k1 r²).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]

FULL_FRAME_DIAGONAL_MM = 43.267  # of a 36 × 24 mm frame, on which "35 mm equivalent" is defined


@dataclass(frozen=True)
class CameraSpec:
    """How the phone is held. ``roll_deg`` turns the picture; the tilt leans towards its azimuth."""

    width_px: int = 4032
    height_px: int = 3024
    f35_mm: float = 26.0
    height_mm: float = 750.0
    tilt_deg: float = 0.0
    tilt_azimuth_deg: float = 0.0
    roll_deg: float = 0.0
    look_at_mm: tuple[float, float] = (0.0, 0.0)
    k1: float = 0.0
    centre_offset_px: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True)
class Camera:
    """A pinhole with one radial term. ``rotation`` (3, 3) and ``translation_mm`` (3,) as above."""

    width_px: int
    height_px: int
    focal_px: float
    cx_px: float
    cy_px: float
    k1: float
    rotation: Points
    translation_mm: Points

    @property
    def centre_mm(self) -> Points:
        """World position (3,) of the pinhole."""
        centre: Points = -self.rotation.T @ self.translation_mm
        return centre

    @property
    def tilt_deg(self) -> float:
        """Angle between the optical axis and straight down."""
        return float(np.degrees(np.arccos(np.clip(-self.rotation[2, 2], -1.0, 1.0))))

    def project(self, world_mm: Points) -> Points:
        """Pixels (n, 2) of world points (n, 3)."""
        seen = world_mm @ self.rotation.T + self.translation_mm
        flat = seen[:, :2] / seen[:, 2:3]
        r2 = (flat**2).sum(axis=1, keepdims=True)
        flat = flat * (1.0 + self.k1 * r2)
        pixels: Points = flat * self.focal_px + np.array([self.cx_px, self.cy_px])
        return pixels

    def on_plane(self, pixels: Points, z_mm: float = 0.0) -> Points:
        """World x, y (n, 2) where the rays of pixels (n, 2) meet the level z."""
        bent = (pixels - np.array([self.cx_px, self.cy_px])) / self.focal_px
        flat = bent.copy()
        for _ in range(8):  # k1 is small: each round gains more than two digits
            flat = bent / (1.0 + self.k1 * (flat**2).sum(axis=1, keepdims=True))
        rays = np.column_stack([flat, np.ones(len(flat))]) @ self.rotation
        centre = self.centre_mm
        reach = (z_mm - centre[2]) / rays[:, 2]
        places: Points = centre[:2] + rays[:, :2] * reach[:, None]
        return places

    def mm_per_px(self) -> float:
        """Size of a pixel on the table straight ahead of the lens."""
        middle = np.array([[self.cx_px, self.cy_px], [self.cx_px + 1.0, self.cy_px]])
        ends = self.on_plane(middle)
        return float(np.linalg.norm(ends[1] - ends[0]))


def turn_about(axis: Points, angle_deg: float) -> Points:
    """Rotation matrix (3, 3) by Rodrigues' formula about a unit axis (3,)."""
    x, y, z = axis
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    angle = np.radians(angle_deg)
    turned: Points = np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * (cross @ cross)
    return turned


def build_camera(spec: CameraSpec) -> Camera:
    """The camera of a spec: focal length from the 35 mm equivalent on the picture's diagonal."""
    diagonal_px = float(np.hypot(spec.width_px, spec.height_px))
    down = np.diag([1.0, -1.0, -1.0])
    roll = turn_about(np.array([0.0, 0.0, 1.0]), spec.roll_deg)
    azimuth = np.radians(spec.tilt_azimuth_deg)
    tilt = turn_about(np.array([np.cos(azimuth), np.sin(azimuth), 0.0]), spec.tilt_deg)
    rotation = tilt @ roll @ down
    forward = rotation[2]
    distance = spec.height_mm / -forward[2]
    centre = np.array([*spec.look_at_mm, 0.0]) - distance * forward
    return Camera(
        width_px=spec.width_px,
        height_px=spec.height_px,
        focal_px=spec.f35_mm * diagonal_px / FULL_FRAME_DIAGONAL_MM,
        cx_px=(spec.width_px - 1) / 2 + spec.centre_offset_px[0],
        cy_px=(spec.height_px - 1) / 2 + spec.centre_offset_px[1],
        k1=spec.k1,
        rotation=rotation,
        translation_mm=-rotation @ centre,
    )
