"""Where the camera was, from the card's four sides: the pose, its covariance and its own misfit.

The card is a rectangle of known size at a known height. The rays of the edge points are cast to its top
face, and their distance from its sides is made small together with what is known beforehand: focal length,
principal point, lens bend, a camera held roughly level, how far real cards stray from the standard, and by
how much the card's wall and foot shadow may have moved a side. The latter are fitted too, so that their
doubt reaches the covariance. Eight numbers of four lines meet six of a pose, so the fit can disagree.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np

from digitise.camera import (
    PARAMETER_NAMES,
    TABLE,
    Camera,
    Plane,
    focal_px_from_equivalent,
    plane_jacobian,
)
from digitise.card_shape import ID1, CardShape
from digitise.card_sides import CardSide, FoundCard
from digitise.refusal import Reason, Refused
from digitise.tone import FloatArray

MAX_TILT_DEG = 25.0

_UNKNOWN_F35_MM = 26.0  # main cameras of phones
_UNKNOWN_F35_SD_MM = 2.5
_F35_RELATIVE_SD = 0.01  # whole millimetres are recorded, and focusing changes the true value
_CENTRE_SD_OF_DIAGONAL = 0.0025
_K1_SD = 0.015
_LEVEL_SD_DEG = 6.0
_WALL_SHARE, _WALL_SHARE_SD = 0.4, 0.4  # of the wall's seen width, how far it moves the edge
_WIDENED_SHARE_SD = 0.4  # of the extra blur on a side, how far a foot shadow may have moved it
_SIDE_SD_PX = 0.05  # tone curve, sharpening
_MOST_STEPS = 40
_NODES = 8  # groups of edge points a side is summed up by
_CAMERA = len(PARAMETER_NAMES)


@dataclass(frozen=True)
class FocalPrior:
    """What is known about the focal length before the fit."""

    focal_px: float
    sd_px: float
    from_photo: bool


@dataclass(frozen=True, eq=False)
class CameraEstimate:
    """The camera, and ``covariance`` (10, 10) of its parameters in the order of PARAMETER_NAMES.

    ``residual_rms_px`` is of the side points about the fitted rectangle; ``pull`` is the root mean square
    of all that was fitted in standard deviations, near 1 or below when card and camera agree.
    ``focal_known`` is False where the photo did not record its focal length.
    """

    camera: Camera
    covariance: FloatArray
    residual_rms_px: float
    pull: float
    focal_known: bool

    @property
    def height_sd_mm(self) -> float:
        """Standard deviation of the camera's height above the table."""
        gradient = np.zeros(_CAMERA)
        for index in range(1, 7):
            step = np.zeros(_CAMERA)
            step[index] = 1e-4
            moved = self.camera.moved(step).height_mm - self.camera.moved(-step).height_mm
            gradient[index] = moved / 2e-4
        return float(np.sqrt(gradient @ self.covariance @ gradient))

    def plane_covariance(self, points_px: FloatArray, plane: Plane = TABLE) -> FloatArray:
        """Covariance (2n, 2n) in mm² of plane points seen at pixels (n, 2), from the camera alone."""
        jacobian = plane_jacobian(self.camera, points_px, plane).reshape(-1, _CAMERA)
        return np.asarray(jacobian @ self.covariance @ jacobian.T)


def focal_prior(f35_mm: float | None, width_px: int, height_px: int) -> FocalPrior:
    """The focal length the photo records, or that of phones' main cameras with a wide sd."""
    if f35_mm is None:
        per_mm = focal_px_from_equivalent(1.0, width_px, height_px)
        return FocalPrior(_UNKNOWN_F35_MM * per_mm, _UNKNOWN_F35_SD_MM * per_mm, False)
    focal = focal_px_from_equivalent(f35_mm, width_px, height_px)
    return FocalPrior(focal, _F35_RELATIVE_SD * focal, True)


@dataclass(frozen=True, eq=False)
class _Nodes:
    """Side points summed up: ``points_px`` (n, 2), the ``side`` (n,) of each, ``sd_px`` (n,)."""

    points_px: FloatArray
    side: FloatArray
    sd_px: FloatArray


def _nodes(sides: tuple[CardSide, ...]) -> _Nodes:
    """A few points a side: means of neighbours, with the sd that gives the line's own back."""
    points, which, sds = [], [], []
    for index, side in enumerate(sides):
        groups = [g for g in np.array_split(side.points_px, _NODES) if len(g)]
        points.append(np.array([g.mean(axis=0) for g in groups]))
        which.append(np.full(len(groups), index))
        sds.append(np.full(len(groups), side.offset_sd_px * math.sqrt(len(groups))))
    return _Nodes(np.concatenate(points), np.concatenate(which), np.concatenate(sds))


def _distances_px(camera: Camera, nodes: _Nodes, shape: CardShape) -> FloatArray:
    """Signed distance of the nodes outside the card's sides, in px, shape (n,)."""
    world = camera.to_plane(nodes.points_px, Plane(shape.thickness_mm))
    half_short, half_long = shape.short_mm / 2, shape.long_mm / 2
    outside = np.choose(
        nodes.side.astype(int),
        [
            -world[:, 1] - half_short,
            world[:, 0] - half_long,
            world[:, 1] - half_short,
            -world[:, 0] - half_long,
        ],
    )
    depth = (np.column_stack([world, np.full(len(world), shape.thickness_mm)]) @ camera.rotation[2]) + float(
        camera.translation_mm[2]
    )
    return np.asarray(np.nan_to_num(outside * camera.focal_px / depth, nan=1e3))


def _wall_px(camera: Camera, shape: CardShape) -> FloatArray:
    """How wide each side's wall is seen beyond the top face's edge, (4,), in px; 0 where it is hidden."""
    corners = shape.corners_mm
    middles = (corners + np.roll(corners, -1, axis=0)) / 2
    outward = middles / np.linalg.norm(middles, axis=1, keepdims=True)
    top = np.column_stack([middles, np.full(4, shape.thickness_mm)])
    foot = np.column_stack([middles, np.zeros(4)])
    ahead = np.column_stack([middles + outward, np.full(4, shape.thickness_mm)])
    seen = camera.project(top)
    normal = camera.project(ahead) - seen
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    wall = np.sum((camera.project(foot) - seen) * normal, axis=1)
    return np.asarray(np.maximum(wall, 0.0))


def _side_priors(
    camera: Camera, sides: tuple[CardSide, ...], shape: CardShape
) -> tuple[FloatArray, FloatArray]:
    """How far outward of the top face's edge each side is expected to be found, and the sd, (4,) px."""
    wall = np.nan_to_num(_wall_px(camera, shape))
    blur = np.array([side.sigma_px for side in sides])
    widened = np.sqrt(np.maximum(blur**2 - blur.min() ** 2, 0.0))
    sd = np.sqrt(_SIDE_SD_PX**2 + (_WALL_SHARE_SD * wall) ** 2 + (_WIDENED_SHARE_SD * widened) ** 2)
    return _WALL_SHARE * wall, sd


def _starts(corners_px: FloatArray, focal_px: float, middle_px: FloatArray, shape: CardShape) -> list[Camera]:
    """The two poses a planar rectangle allows (infinitesimal plane-based pose), table at z = 0."""
    flat = np.column_stack([shape.corners_mm, np.zeros(4)])
    matrix = np.array([[focal_px, 0, middle_px[0]], [0, focal_px, middle_px[1]], [0, 0, 1]])
    _, turns, shifts, _ = cv2.solvePnPGeneric(flat, corners_px, matrix, None, flags=cv2.SOLVEPNP_IPPE)
    cameras = []
    for turn, shift in zip(turns, shifts, strict=True):
        rotation = np.asarray(cv2.Rodrigues(turn)[0], float)
        translation = np.asarray(shift, float).ravel() - rotation[:, 2] * shape.thickness_mm
        cameras.append(Camera(focal_px, float(middle_px[0]), float(middle_px[1]), rotation, translation))
    return [camera for camera in cameras if camera.height_mm > 0]


_SCALE = np.array([10.0, 0.01, 0.01, 0.01, 1.0, 1.0, 5.0, 10.0, 10.0, 0.01, 0.1, 0.1, 0.1, 0.1, 0.05, 0.05])


@dataclass(frozen=True, eq=False)
class _Problem:
    """The least-squares problem about one start; unknowns are changes divided by _SCALE."""

    start: Camera
    nodes: _Nodes
    shape: CardShape
    prior: FocalPrior
    middle_px: FloatArray
    centre_sd_px: float
    side_mean_px: FloatArray
    side_sd_px: FloatArray

    def camera_at(self, unknown: FloatArray) -> Camera:
        return self.start.moved(unknown[:_CAMERA] * _SCALE[:_CAMERA])

    def shape_at(self, unknown: FloatArray) -> CardShape:
        long_mm, short_mm = (
            self.shape.long_mm + unknown[14] * _SCALE[14],
            self.shape.short_mm + unknown[15] * _SCALE[15],
        )
        s = self.shape
        return CardShape(long_mm, short_mm, s.corner_radius_mm, s.thickness_mm, s.long_sd_mm, s.short_sd_mm)

    def misfit_px(self, unknown: FloatArray) -> FloatArray:
        offsets = unknown[_CAMERA : _CAMERA + 4] * _SCALE[_CAMERA : _CAMERA + 4]
        distance = _distances_px(self.camera_at(unknown), self.nodes, self.shape_at(unknown))
        return np.asarray(distance - offsets[self.nodes.side.astype(int)])

    def pulls(self, unknown: FloatArray) -> FloatArray:
        camera = self.camera_at(unknown)
        offsets = unknown[_CAMERA : _CAMERA + 4] * _SCALE[_CAMERA : _CAMERA + 4]
        level_sd = math.sin(math.radians(_LEVEL_SD_DEG))
        known = [
            (camera.focal_px - self.prior.focal_px) / self.prior.sd_px,
            (camera.cx_px - self.middle_px[0]) / self.centre_sd_px,
            (camera.cy_px - self.middle_px[1]) / self.centre_sd_px,
            camera.k1 / _K1_SD,
            camera.rotation[0, 2] / level_sd,
            camera.rotation[1, 2] / level_sd,
            unknown[14] * _SCALE[14] / self.shape.long_sd_mm,
            unknown[15] * _SCALE[15] / self.shape.short_sd_mm,
        ]
        return np.concatenate(
            [
                self.misfit_px(unknown) / self.nodes.sd_px,
                known,
                (offsets - self.side_mean_px) / self.side_sd_px,
            ]
        )


def _solved(problem: _Problem) -> tuple[float, FloatArray, FloatArray] | None:
    """Cost, unknowns and Jacobian at the best fit by damped Gauss-Newton; None where it does not settle."""
    unknown = np.zeros(len(_SCALE))
    pulls = problem.pulls(unknown)
    cost = float(pulls @ pulls) / 2
    damping = 1e-3
    for _ in range(_MOST_STEPS):
        jacobian = _jacobian(problem, unknown, pulls)
        normal = jacobian.T @ jacobian
        while True:
            step = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), -jacobian.T @ pulls)
            ahead = problem.pulls(unknown + step)
            cost_ahead = float(ahead @ ahead) / 2
            if cost_ahead <= cost or damping > 1e6:
                break
            damping *= 10
        settled = cost - cost_ahead < 1e-4 * cost + 1e-9
        if cost_ahead <= cost:
            unknown, pulls, cost = unknown + step, ahead, cost_ahead
        damping = max(damping / 10, 1e-9)
        if settled:
            return cost, unknown, _jacobian(problem, unknown, pulls)
    return None


def _jacobian(problem: _Problem, unknown: FloatArray, pulls: FloatArray) -> FloatArray:
    """Forward differences of the pulls; the unknowns are scaled so that 1e-4 is small for each."""
    columns = []
    for index in range(len(unknown)):
        moved = unknown.copy()
        moved[index] += 1e-4
        columns.append((problem.pulls(moved) - pulls) / 1e-4)
    return np.column_stack(columns)


def fit_pose(
    sides: tuple[CardSide, ...],
    corners_px: FloatArray,
    size_px: tuple[int, int],
    prior: FocalPrior,
    shape: CardShape = ID1,
) -> CameraEstimate | None:
    """The camera from a card's measured sides (0 is a long one), or None where no pose fits at all.

    ``size_px`` is the picture's (width, height). Of the two poses a flat rectangle allows, the one that
    fits better together with a level camera is taken.
    """
    middle = np.array([(size_px[0] - 1) / 2, (size_px[1] - 1) / 2])
    nodes = _nodes(sides)
    best: tuple[float, _Problem, FloatArray, FloatArray] | None = None
    for start in _starts(corners_px, prior.focal_px, middle, shape):
        mean, sd = _side_priors(start, sides, shape)
        problem = _Problem(
            start, nodes, shape, prior, middle, _CENTRE_SD_OF_DIAGONAL * math.hypot(*size_px), mean, sd
        )
        solved = _solved(problem)
        if solved is not None and (best is None or solved[0] < best[0]):
            best = (solved[0], problem, solved[1], solved[2])
    if best is None:
        return None
    cost, problem, unknown, jacobian = best
    everything = np.asarray(np.linalg.inv(jacobian.T @ jacobian) * np.outer(_SCALE, _SCALE), float)
    pulls = problem.pulls(unknown)
    return CameraEstimate(
        camera=problem.camera_at(unknown),
        covariance=everything[:_CAMERA, :_CAMERA],
        residual_rms_px=float(np.sqrt(np.mean(problem.misfit_px(unknown) ** 2))),
        pull=float(np.sqrt(2 * cost / len(pulls))),
        focal_known=prior.from_photo,
    )


def card_pose(
    found: FoundCard, size_px: tuple[int, int], f35_mm: float | None, shape: CardShape = ID1
) -> CameraEstimate:
    """The camera from a found card; ``size_px`` is the picture's (width, height).

    Raises Refused(TOO_OBLIQUE) where the camera leaned more than MAX_TILT_DEG from straight down.
    """
    prior = focal_prior(f35_mm, *size_px)
    estimate = fit_pose(found.sides, found.corners_px, size_px, prior, shape)
    if estimate is None:
        raise Refused(
            Reason.NO_CARD,
            "What looks like the card fits no position of a camera: lay a bank-size card flat on the table "
            "and take the photo again.",
        )
    if estimate.camera.tilt_deg > MAX_TILT_DEG:
        raise Refused(
            Reason.TOO_OBLIQUE,
            f"The photo is too oblique: the camera leaned {estimate.camera.tilt_deg:.0f}° from straight "
            f"down, and at most {MAX_TILT_DEG:.0f}° can be used; hold it level above the racquet and card.",
        )
    return estimate
