"""Where the camera was, from the card's four sides: the pose, its covariance and its own misfit.

The card is a rectangle of known size at a known height. The rays of the edge points are cast to its top
face, and their distance from its sides is made small together with what is known beforehand: focal length,
principal point, lens bend, a camera held roughly level, how far real cards stray from the standard, and by
how much the card's wall and foot shadow may have moved a side, whose doubt reaches the covariance. Eight
numbers of four lines meet six of a pose, so the fit can disagree with itself.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from digitise.bundle import Pulls
from digitise.camera import (
    PARAMETER_NAMES,
    TABLE,
    Camera,
    Plane,
    plane_jacobian,
    straightening,
)
from digitise.card_effects import TINT_TOGETHER_SD_MM, Outward, side_effects
from digitise.card_shape import ID1, CardShape
from digitise.card_sides import CardSide, FoundCard
from digitise.card_starts import starts
from digitise.lens_prior import LensPrior, known_pulls
from digitise.refusal import Reason, Refused
from digitise.tone import FloatArray

MAX_TILT_DEG = 25.0

_MOST_STEPS = 40
_NODES = 8  # groups of edge points a side is summed up by
_CAMERA = len(PARAMETER_NAMES)


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
    def directions(self) -> FloatArray:
        """Independent changes of the parameters (10, 10), a column for each, one standard deviation long."""
        values, vectors = np.linalg.eigh(self.covariance)
        return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)))

    def stepped(self, steps: FloatArray, covariance: FloatArray) -> CameraEstimate:
        """The estimate after ``steps`` (10,) along its ``directions``, which have this ``covariance`` now."""
        ways = self.directions
        camera = self.camera.moved(ways @ steps)
        return replace(self, camera=camera, covariance=np.asarray(ways @ covariance @ ways.T))

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

    def corner_covariance(self, shape: CardShape = ID1) -> FloatArray:
        """Covariance (8, 8) in px² of where the card's sharp corners are seen."""
        jacobian = (
            np.stack(
                [
                    (self.corners_px(shape, step) - self.corners_px(shape, -step)).ravel() / 2e-2
                    for step in 1e-2 * np.diag(_SCALE)
                ],
                axis=1,
            )
            / _SCALE
        )
        return np.asarray(jacobian @ self.covariance @ jacobian.T)

    def corners_px(self, shape: CardShape = ID1, change: FloatArray | None = None) -> FloatArray:
        """Where the sharp corners of the card's top face are seen (4, 2), after a change of the camera."""
        camera = self.camera if change is None else self.camera.moved(change)
        return camera.project(np.column_stack([shape.corners_mm, np.full(4, shape.thickness_mm)]))

    def plane_covariance(self, points_px: FloatArray, plane: Plane = TABLE) -> FloatArray:
        """Covariance (2n, 2n) in mm² of plane points seen at pixels (n, 2), from the camera alone."""
        jacobian = plane_jacobian(self.camera, points_px, plane).reshape(-1, _CAMERA)
        return np.asarray(jacobian @ self.covariance @ jacobian.T)


@dataclass(frozen=True, eq=False)
class _Nodes:
    """Side points summed up: ``points_px`` (n, 2), the ``side`` (n,) of each, ``sd_px`` (n,).

    ``along`` (n,) is where on its side a node lies, -1 to 1.
    """

    points_px: FloatArray
    side: npt.NDArray[np.intp]
    sd_px: FloatArray
    along: FloatArray


def _nodes(sides: tuple[CardSide, ...]) -> _Nodes:
    """A few points a side: means of neighbours, with the sd that gives the line's own back."""
    points, which, sds, along = [], [], [], []
    for index, side in enumerate(sides):
        groups = [g for g in np.array_split(side.points_px, _NODES) if len(g)]
        means = np.array([g.mean(axis=0) for g in groups])
        half = (side.end_px - side.start_px) / 2
        points.append(means)
        which.append(np.full(len(groups), index, np.intp))
        sds.append(np.full(len(groups), side.offset_sd_px * math.sqrt(len(groups))))
        along.append((means - side.start_px - half) @ half / (half @ half))
    return _Nodes(np.concatenate(points), np.concatenate(which), np.concatenate(sds), np.concatenate(along))


def _distances_px(cameras: Sequence[Camera], nodes: _Nodes, shape: CardShape) -> FloatArray:
    """Signed distance of the nodes outside the card's sides, in px, for each camera, shape (k, n)."""
    focal = np.array([[camera.focal_px] for camera in cameras])
    middle = np.array([[[camera.cx_px, camera.cy_px]] for camera in cameras])
    rotation = np.stack([camera.rotation for camera in cameras])
    moved = np.stack([camera.translation_mm for camera in cameras])[:, :, None]
    bent = (nodes.points_px - middle) / focal[..., None]
    scale = straightening(np.sum(bent**2, axis=2), np.array([[camera.k1] for camera in cameras]))
    rays = np.concatenate([bent * scale[..., None], np.ones((*bent.shape[:2], 1))], axis=2) @ rotation
    centre = -(rotation.swapaxes(1, 2) @ moved).swapaxes(1, 2)
    reach = (shape.thickness_mm - centre[..., 2]) / np.where(rays[..., 2] == 0, np.nan, rays[..., 2])
    world = centre + np.where(reach > 0, reach, np.nan)[..., None] * rays
    # out over sides 0 to 3 is down, right, up, left in the card's frame
    outward = np.array([[0.0, -1.0], [1.0, 0.0], [0.0, 1.0], [-1.0, 0.0]])[nodes.side]
    half_mm = np.array([shape.short_mm, shape.long_mm] * 2)[nodes.side] / 2
    outside = np.sum(world[..., :2] * outward, axis=2) - half_mm
    depth = (world @ rotation[:, 2, :, None])[..., 0] + moved[:, 2]
    return np.asarray(np.nan_to_num(outside * focal / depth, nan=1e3))


def _wall_px(camera: Camera, shape: CardShape) -> FloatArray:
    """How far outside its top edge each side's foot is seen, (4,), in px; negative where it is hidden."""
    corners = shape.corners_mm
    middles = (corners + np.roll(corners, -1, axis=0)) / 2
    outward = middles / np.linalg.norm(middles, axis=1, keepdims=True)
    top = np.column_stack([middles, np.full(4, shape.thickness_mm)])
    foot = np.column_stack([middles, np.zeros(4)])
    ahead = np.column_stack([middles + outward, np.full(4, shape.thickness_mm)])
    seen = camera.project(top)
    normal = camera.project(ahead) - seen
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    return np.asarray(np.sum((camera.project(foot) - seen) * normal, axis=1))


_SCALE = np.array([10.0, 0.01, 0.01, 0.01, 1.0, 1.0, 5.0, 10.0, 10.0, 0.01])  # steps of like effect


@dataclass(frozen=True, eq=False)
class _Problem:
    """The least-squares problem about one start; unknowns are the camera's changes divided by _SCALE.

    ``expected_px`` (n,) is how far outside the top face's edge each node should lie, ``whiten`` (n, n) turns
    what remains into independent standard deviations.
    """

    start: Camera
    nodes: _Nodes
    shape: CardShape
    prior: LensPrior
    expected_px: FloatArray
    whiten: FloatArray

    def camera_at(self, unknown: FloatArray) -> Camera:
        return self.start.moved(unknown * _SCALE)

    def misfit_px(self, unknown: FloatArray) -> FloatArray:
        return np.asarray(
            _distances_px([self.camera_at(unknown)], self.nodes, self.shape)[0] - self.expected_px
        )

    def pulls(self, unknown: FloatArray) -> FloatArray:
        known = known_pulls(self.camera_at(unknown), self.prior)
        return np.concatenate([self.whiten @ self.misfit_px(unknown), known])

    def side_pulls(self, camera: Camera) -> FloatArray:
        """What the sides alone say of a camera in the card's frame, in standard deviations."""
        apart_px = _distances_px([camera], self.nodes, self.shape)[0] - self.expected_px
        return np.asarray(self.whiten @ apart_px)


def _rough_outward(sides: tuple[CardSide, ...], start: Camera, shape: CardShape) -> Outward:
    """What usually moves the sides, before what lies beside them is looked at."""
    wall_px = np.maximum(_wall_px(start, shape), 0.0)
    px_per_mm = _px_per_mm(sides, shape)
    effects = side_effects(sides, wall_px, px_per_mm)
    together_px = TINT_TOGETHER_SD_MM * px_per_mm if any(side.tint_blur_px for side in sides) else 0.0
    return Outward(
        np.array([effect.outward_px for effect in effects]),
        np.diag([effect.sd_px**2 for effect in effects]) + together_px**2,
        np.array([effect.turn_sd_px for effect in effects]),
    )


def _problem(
    start: Camera,
    sides: tuple[CardSide, ...],
    prior: LensPrior,
    shape: CardShape,
    outward: Outward | None = None,
) -> _Problem:
    nodes = _nodes(sides)
    moved = outward or _rough_outward(sides, start, shape)
    covariance = np.diag(nodes.sd_px**2) + moved.covariance_px2[np.ix_(nodes.side, nodes.side)]
    for index, turn_sd_px in enumerate(moved.turn_sd_px):
        turn = (nodes.side == index) * nodes.along
        covariance += turn_sd_px**2 * np.outer(turn, turn)
    # a card longer than the standard's has both its short sides further out
    for ends, sd_mm in (((0, 2), shape.short_sd_mm), ((1, 3), shape.long_sd_mm)):
        out = np.isin(nodes.side, ends) * (sd_mm / 2 * _px_per_mm(sides, shape))
        covariance += np.outer(out, out)
    return _Problem(
        start=start,
        nodes=nodes,
        shape=shape,
        prior=prior,
        expected_px=moved.offset_px[nodes.side],
        whiten=np.linalg.inv(np.linalg.cholesky(covariance)),
    )


def _px_per_mm(sides: tuple[CardSide, ...], shape: CardShape) -> float:
    around = sum(math.hypot(*(side.end_px - side.start_px)) for side in sides)
    return around / (2 * (shape.long_mm + shape.short_mm))


def _solved(problem: _Problem) -> tuple[float, FloatArray, FloatArray] | None:
    """Cost, unknowns and pulls at the best fit by damped Gauss-Newton; None where it does not settle."""
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
            return cost, unknown, pulls
    return None


def _jacobian(problem: _Problem, unknown: FloatArray, pulls: FloatArray) -> FloatArray:
    """Forward differences of the pulls; the unknowns are scaled so that 1e-4 is small for each."""
    cameras = [problem.camera_at(moved) for moved in unknown + 1e-4 * np.eye(len(unknown))]
    apart_px = _distances_px(cameras, problem.nodes, problem.shape) - problem.expected_px
    known = np.array([known_pulls(camera, problem.prior) for camera in cameras])
    moved = np.concatenate([apart_px @ problem.whiten.T, known], axis=1)
    return np.asarray((moved - pulls).T / 1e-4)


def fit_pose(
    sides: tuple[CardSide, ...],
    corners_px: FloatArray,
    prior: LensPrior,
    shape: CardShape = ID1,
) -> CameraEstimate | None:
    """The camera from a card's measured sides (0 is a long one), or None where no pose fits at all.

    Of the two poses a flat rectangle allows, the one that fits better together with a level camera is taken.
    """
    middle = np.array(prior.centre_px)
    best: tuple[float, Camera] | None = None
    for start in starts(corners_px, prior.focal_px, middle, shape):
        problem = _problem(start, sides, prior, shape)
        solved = _solved(problem)
        if solved is not None and (best is None or solved[0] < best[0]):
            best = (solved[0], problem.camera_at(solved[1]))
    if best is None:
        return None
    # which walls are seen follows from the pose, so it is settled from the first answer
    problem = _problem(best[1], sides, prior, shape)
    solved = _solved(problem)
    return None if solved is None else _estimate((solved[0], problem, solved[1], solved[2]))


def _estimate(best: tuple[float, _Problem, FloatArray, FloatArray]) -> CameraEstimate:
    cost, problem, unknown, pulls = best
    jacobian = _jacobian(problem, unknown, pulls)
    return CameraEstimate(
        camera=problem.camera_at(unknown),
        covariance=np.asarray(np.linalg.inv(jacobian.T @ jacobian) * np.outer(_SCALE, _SCALE), float),
        residual_rms_px=float(np.sqrt(np.mean(problem.misfit_px(unknown) ** 2))),
        pull=math.sqrt(2 * cost / len(problem.nodes.side)),
        focal_known=problem.prior.known,
    )


def card_pose(
    found: FoundCard, prior: LensPrior, shape: CardShape = ID1, refined: bool = True
) -> CameraEstimate:
    """The camera from a found card; ``refined`` by a look at what lies beside its edges.

    Raises Refused(TOO_OBLIQUE) where the camera leaned more than MAX_TILT_DEG from straight down.
    """
    estimate = found.pose or fit_pose(found.sides, found.corners_px, prior, shape)
    if estimate is None:
        raise Refused(
            Reason.NO_CARD,
            "What looks like the card fits no position of a camera: lay a bank-size card flat on the table "
            "and take the photo again.",
        )
    refuse_oblique(estimate.camera)
    return _refined(estimate, found.sides, prior, shape) if refined else estimate


def refuse_oblique(camera: Camera) -> None:
    """Raise Refused(TOO_OBLIQUE) where the camera leaned more than MAX_TILT_DEG from straight down."""
    if camera.tilt_deg > MAX_TILT_DEG:
        raise Refused(
            Reason.TOO_OBLIQUE,
            f"The photo is too oblique: the camera leaned {camera.tilt_deg:.0f}° from straight down, and at "
            f"most {MAX_TILT_DEG:.0f}° can be used; hold it level above the racquet and card.",
        )


def card_pulls(found: FoundCard, start: Camera, prior: LensPrior, shape: CardShape = ID1) -> Pulls:
    """What a found card's sides say of a camera in its own frame; ``start`` is one near by, in that frame."""
    from digitise.card_outward import measured_outward

    outward = measured_outward(found.sides, _wall_px(start, shape), shape)
    return _problem(start, found.sides, prior, shape, outward).side_pulls


def _refined(
    estimate: CameraEstimate, sides: tuple[CardSide, ...], prior: LensPrior, shape: CardShape
) -> CameraEstimate:
    """The estimate after a look at what lies beside the card's edges: its walls, its shadow, the table."""
    from digitise.card_outward import measured_outward  # not for a verdict

    outward = measured_outward(sides, _wall_px(estimate.camera, shape), shape)
    if outward is None:
        return estimate
    problem = _problem(estimate.camera, sides, prior, shape, outward)
    solved = _solved(problem)
    return estimate if solved is None else _estimate((solved[0], problem, solved[1], solved[2]))
