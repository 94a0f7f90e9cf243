"""How the racquet meets a ball: effective mass over the face, steadiness area, centre of percussion.

Model: during the few ms of an impact square to the face the hand adds nothing, so the racquet
is a free rigid body (Brody, "The physics of tennis III: the ball-racket interaction", American
Journal of Physics 65, 1997; Cross, "The dead spot of a tennis racket", same volume). A ball at (x, y)
then meets the effective mass 1 / (1/M + dy²/I_recoil + dx²/I_twist), with dy and dx the
distances from the centre of mass along and across the handle, and both inertias about axes
through it, which are taken as principal axes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.affinity import scale
from shapely.geometry import Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from model.face import Landmarks, string_bed
from model.figures import KGCM2_GMM2
from model.outline import Outline

Array = NDArray[np.float64]

NEAR_BEST = 0.9  # "within 10 % of the best"
ELLIPSE_POINTS = 720
LEAST_ARM_MM = 5.0  # an axis nearer to the balance point has its centre of percussion metres off the racquet


@dataclass(frozen=True)
class FreeBody:
    """Mass g, centre of mass (x, y) mm, inertias g mm² about axes through it: across and along the handle."""

    mass_g: float
    x_mm: float
    y_mm: float
    recoil_gmm2: float
    twist_gmm2: float


@dataclass(frozen=True, eq=False)
class Steadiness:
    """The best effective mass on the face, where it is, and the area within 10 % of a best.

    ``level_g`` is the effective mass on the area's border.
    """

    best_g: float
    best_at_mm: tuple[float, float]
    level_g: float
    area_cm2: float
    area: BaseGeometry


def free_body(values: Array, x_mm: float) -> FreeBody:
    """From the body's five figures and how far the centre of mass lies off the long axis."""
    weight, balance, recoil, twist, _ = (float(v) for v in values)
    return FreeBody(weight, x_mm, balance, recoil * KGCM2_GMM2, twist * KGCM2_GMM2 - weight * x_mm**2)


def hitting_face(outline: Outline, landmarks: Landmarks, strung: bool) -> Polygon:
    """Where a ball is hit: the string bed, or the outline above the face's lower end, holes counted."""
    if strung:
        return Polygon(outline.openings_mm[string_bed(outline)])
    x0, _, x1, y1 = outline.filled.bounds
    face = outline.filled.intersection(box(x0 - 1, landmarks.face_bottom_mm, x1 + 1, y1 + 1))
    pieces = getattr(face, "geoms", [face])
    return max(pieces, key=lambda piece: piece.area)


def effective_mass_g(body: FreeBody, points_mm: Array) -> Array:
    """Effective mass (...) at points (..., 2), g."""
    dx, dy = points_mm[..., 0] - body.x_mm, points_mm[..., 1] - body.y_mm
    return np.asarray(1 / (1 / body.mass_g + dy**2 / body.recoil_gmm2 + dx**2 / body.twist_gmm2))


def steadiness(body: FreeBody, face: BaseGeometry, level_g: float | None = None) -> Steadiness:
    """Best effective mass on the face, and the area where it is at least ``level_g`` (90 % of the best).

    Contours of equal effective mass are ellipses about the centre of mass, so the area is an
    ellipse cut by the face. With a level of their own, two set-ups can be compared.
    """
    # Measured in units of each axis's root of inertia the ellipses are circles.
    unit_x, unit_y = np.sqrt(body.twist_gmm2), np.sqrt(body.recoil_gmm2)
    shrunk = scale(face, 1 / unit_x, 1 / unit_y, origin=(0, 0))
    near, _ = nearest_points(shrunk, Point(body.x_mm / unit_x, body.y_mm / unit_y))
    at = (float(near.x * unit_x), float(near.y * unit_y))
    best = float(effective_mass_g(body, np.array(at)))
    level = NEAR_BEST * best if level_g is None else level_g
    room = max(1 / level - 1 / body.mass_g, 0.0)
    angle = 2 * np.pi * np.arange(ELLIPSE_POINTS) / ELLIPSE_POINTS
    # A polygon of the ellipse's own area, not inscribed in it.
    grown = np.sqrt(2 * np.pi / ELLIPSE_POINTS / np.sin(2 * np.pi / ELLIPSE_POINTS) * room)
    ellipse = np.column_stack(
        [body.x_mm + grown * unit_x * np.cos(angle), body.y_mm + grown * unit_y * np.sin(angle)]
    )
    area = Polygon(ellipse).intersection(face) if room > 0 else Polygon()
    return Steadiness(best, at, level, float(area.area) / 100, area)


def has_percussion(values: Array, axis_mm: float) -> bool:
    """Whether a swing about an axis has a centre of percussion to speak of: not near the balance point."""
    return abs(float(values[1]) - axis_mm) >= LEAST_ARM_MM


def percussion_mm(values: Array, axis_mm: float) -> float:
    """Distance of the centre of percussion from the butt for a swing about an axis, mm.

    axis + I_swing / (M (balance - axis)): a ball hit there pushes the racquet at the axis
    neither way. Infinite when the racquet balances on the axis.
    """
    weight, balance, recoil = (float(v) for v in values[:3])
    arm = balance - axis_mm
    if arm == 0:
        return float("inf")
    return axis_mm + (recoil * KGCM2_GMM2 + weight * arm**2) / (weight * arm)
