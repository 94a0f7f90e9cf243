"""Several sights of one racquet must be alike: what that tells of the cameras, and of the racquet's section.

Each outline hangs on its camera and on what is not known of the body: its thicknesses, how rim and butt are
rounded. Where two outlines differ in a way that a camera's own uncertain directions explain, they are laid
together by that camera, each direction held by its standard deviation, as ``symmetry`` does for the two sides
of one outline. One phone has one lens and one racquet one body, so these are the same in all photos.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from digitise.band import ring_normals
from digitise.camera import PARAMETER_NAMES, Camera
from digitise.card_pose import CameraEstimate
from digitise.contour import Contour
from digitise.recast import recast_ring, relaid, seen_px
from digitise.resting import Body
from digitise.symmetry import ALIKE_MM, CHIPPED_MM, EDGE_SD_MM
from digitise.tone import FloatArray

LENS = [PARAMETER_NAMES.index(name) for name in ("focal_px", "k1")]
"""What is the same in all photos by one lens; its middle is not, where the phone was turned."""
_SAME_LENS_SDS, _SAME_SIZE = 4.0, 0.02
_TIE = 100.0  # one lens's parameters are alike to a hundredth of their sd
_STEP = 0.1  # of a standard deviation, for slopes
_PASSES = 12
_LOOSE = 1e-9
_CAMERA, _RIGID = len(PARAMETER_NAMES), 3


@dataclass(frozen=True, eq=False)
class Sight:
    """One photo's outline at the n points of a common ring.

    ``out_mm`` (n,) is how far outside the ring it lies, ``weight`` (n,), 0 to 1, how clear its edge is.
    ``by_camera`` (n, 10) and ``by_body`` (n, k) are how far outward it moves with one sd of each parameter,
    ``size_by_camera`` (10, 2) and ``size_by_body`` (k, 2) how its length and width do, mm.
    """

    estimate: CameraEstimate
    out_mm: FloatArray
    weight: FloatArray
    by_camera: FloatArray
    by_body: FloatArray
    size_by_camera: FloatArray
    size_by_body: FloatArray

    @property
    def sds(self) -> FloatArray:
        """Standard deviations (10,) of the camera's parameters."""
        return parameter_sds(self.estimate)


@dataclass(frozen=True, eq=False)
class Agreed:
    """``out_mm`` (m, n): where the m outlines lie once they are laid together. ``camera_steps`` (m, 10) and
    ``body_steps`` (k,) are the steps that do it, in sds, ``covariance`` theirs, in this order.
    """

    out_mm: FloatArray
    camera_steps: FloatArray
    body_steps: FloatArray
    covariance: FloatArray

    def size_covariance(self, sights: Sequence[Sight], share: FloatArray) -> FloatArray:
        """Covariance (2, 2) of length and width, mm², of the mean by ``share`` (m,) of all outlines."""
        by_camera = [s * sight.size_by_camera for s, sight in zip(share, sights, strict=True)]
        by_body = np.tensordot(share, [sight.size_by_body for sight in sights], axes=1)
        slopes = np.concatenate([*by_camera, by_body])
        return np.asarray(slopes.T @ self.covariance @ slopes)


def parameter_sds(estimate: CameraEstimate) -> FloatArray:
    """Standard deviations (10,) of a camera's parameters."""
    return np.sqrt(np.maximum(np.diag(estimate.covariance), 1e-24))


def slopes(
    estimate: CameraEstimate, contour: Contour, body: Body, others: Sequence[Body]
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """How the outline moves, (10, n, 2) and (k, n, 2), and its size, (10, 2) and (k, 2), with one sd of
    each of the camera's parameters, and with the body become each of the k ``others``."""
    rim_px, normal = seen_px(estimate.camera, contour, body), ring_normals(contour.ring_mm)

    def ring(camera: Camera, section: Body) -> FloatArray:
        laid = relaid(contour.resting, body, section)
        return recast_ring(camera, laid, section, rim_px, normal)

    base = ring(estimate.camera, body)
    rings = [
        [ring(estimate.camera.moved(step), body) for step in (ahead, -ahead)]
        for ahead in _STEP * np.diag(parameter_sds(estimate))
    ]
    moved = [(ahead - behind) / (2 * _STEP) for ahead, behind in rings]
    grown = [(_size(ahead) - _size(behind)) / (2 * _STEP) for ahead, behind in rings]
    changed = [ring(estimate.camera, other) for other in others]
    return (
        np.array(moved),
        np.array([other - base for other in changed]).reshape(-1, *base.shape),
        np.array(grown),
        np.array([_size(other) - _size(base) for other in changed]).reshape(-1, 2),
    )


def _size(ring: FloatArray) -> FloatArray:
    return np.asarray(np.ptp(ring, axis=0)[::-1])


def agreed(sights: Sequence[Sight], ring_mm: FloatArray, best: int) -> Agreed:
    """The sights laid together in the frame of number ``best``; ``ring_mm`` (n, 2) is the common ring."""
    count, bodies = len(sights), sights[0].by_body.shape[1]
    terms = _terms(sights, ring_mm, best)
    known, pull = _known(sights, best, terms.shape[2])
    out = np.array([sight.out_mm for sight in sights])
    # neighbours along the outline tell the same
    step_mm = float(np.linalg.norm(np.diff(ring_mm, axis=0), axis=1).mean())
    clear = step_mm / (ALIKE_MM * EDGE_SD_MM**2) * np.array([sight.weight for sight in sights])
    fit: FloatArray = np.zeros(terms.shape[2])
    for _ in range(_PASSES):
        laid = out + terms @ fit
        left = laid - _mean(clear, laid)
        weight = clear / (1 + (left / CHIPPED_MM) ** 2) ** 2
        apart, differing = out - _mean(weight, out), terms - _mean(weight[..., None], terms)
        normal_matrix = known + np.einsum("ij,ijp,ijq->pq", weight, differing, differing)
        fit = np.linalg.solve(normal_matrix, pull - np.einsum("ij,ijp,ij->p", weight, differing, apart))
    told = count * _CAMERA + bodies
    return Agreed(
        out_mm=out + terms @ fit,
        camera_steps=fit[: count * _CAMERA].reshape(count, _CAMERA),
        body_steps=fit[count * _CAMERA : told],
        covariance=np.linalg.inv(normal_matrix)[:told, :told],
    )


def _mean(weight: FloatArray, values: FloatArray) -> FloatArray:
    return np.asarray((weight * values).sum(axis=0) / np.maximum(weight.sum(axis=0), _LOOSE))


def _terms(sights: Sequence[Sight], ring_mm: FloatArray, best: int) -> FloatArray:
    """How far outward each outline moves with each unknown, (m, n, p): all cameras, the body, and for every
    photo but the best one a shift and a turn."""
    normal = ring_normals(ring_mm)
    rigid = np.column_stack([normal, ring_mm[:, 0] * normal[:, 1] - ring_mm[:, 1] * normal[:, 0]])
    count, bodies = len(sights), sights[0].by_body.shape[1]
    told = count * _CAMERA + bodies
    terms = np.zeros((count, len(ring_mm), told + _RIGID * count))
    for k, sight in enumerate(sights):
        terms[k, :, k * _CAMERA : (k + 1) * _CAMERA] = sight.by_camera
        terms[k, :, count * _CAMERA : told] = sight.by_body
        if k != best:
            terms[k, :, told + _RIGID * k : told + _RIGID * (k + 1)] = rigid
    return terms


def _known(sights: Sequence[Sight], best: int, unknowns: int) -> tuple[FloatArray, FloatArray]:
    """Information (p, p) on all unknowns beforehand, and its pull (p,) where estimates of one lens differ.

    What each photo knows of the lens is mostly what was known before it was taken, so it is counted once.
    """
    count, bodies = len(sights), sights[0].by_body.shape[1]
    known = _LOOSE * np.eye(unknowns)
    pull = np.zeros(unknowns)
    body = slice(count * _CAMERA, count * _CAMERA + bodies)
    known[body, body] += np.eye(bodies)
    alike = [k for k, sight in enumerate(sights) if _same_lens(sight.estimate, sights[best].estimate)]
    for k, sight in enumerate(sights):
        relative = sight.estimate.covariance / np.outer(sight.sds, sight.sds)
        own = np.linalg.inv(relative + _LOOSE * np.eye(_CAMERA))
        if k in alike:
            lens = np.linalg.inv(relative[np.ix_(LENS, LENS)])
            own[np.ix_(LENS, LENS)] -= (len(alike) - 1) / len(alike) * lens
        here = slice(k * _CAMERA, (k + 1) * _CAMERA)
        known[here, here] += own
    for k in alike:
        if k == best:
            continue
        apart = _lens(sights[k].estimate) - _lens(sights[best].estimate)
        for place, index in enumerate(LENS):
            tie = np.zeros(unknowns)
            largest = max(sights[k].sds[index], sights[best].sds[index])
            tie[k * _CAMERA + index] = _TIE * sights[k].sds[index] / largest
            tie[best * _CAMERA + index] = -_TIE * sights[best].sds[index] / largest
            known += np.outer(tie, tie)
            pull -= tie * _TIE * apart[place] / largest
    return known, pull


def _lens(estimate: CameraEstimate) -> FloatArray:
    return np.array([estimate.camera.focal_px, estimate.camera.k1])


def _same_lens(one: CameraEstimate, other: CameraEstimate) -> bool:
    """Whether two photos have one size, either way up, and focal lengths that may be the same."""
    half = [np.sort([e.camera.cx_px, e.camera.cy_px]) for e in (one, other)]
    sds = [parameter_sds(e)[LENS[0]] for e in (one, other)]
    alike = bool(np.all(np.abs(half[0] - half[1]) <= _SAME_SIZE * half[1]))
    apart = abs(one.camera.focal_px - other.camera.focal_px)
    return alike and one.focal_known == other.focal_known and apart < _SAME_LENS_SDS * float(np.hypot(*sds))


def agreed_camera(sight: Sight, steps: FloatArray, covariance: FloatArray) -> CameraEstimate:
    """A sight's estimate after ``steps`` (10,) in sds, whose ``covariance`` (10, 10) is given."""
    return replace(
        sight.estimate,
        camera=sight.estimate.camera.moved(steps * sight.sds),
        covariance=covariance * np.outer(sight.sds, sight.sds),
    )


def agreed_body(body: Body, others: Sequence[Body], steps: FloatArray) -> Body:
    """``body`` changed by ``steps`` (k,) towards each of the ``others``."""
    changed: dict[str, Any] = {}
    for name in (f.name for f in fields(body)):
        own = getattr(body, name)
        if isinstance(own, float):
            apart = [getattr(other, name) - own for other in others]
            changed[name] = own + float(np.dot(steps, apart)) if others else own
    return replace(body, **changed)
