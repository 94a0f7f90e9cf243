"""How far outside the card's true edges its sides were measured, by fitting what lies beside the edges.

The mean profiles of all four sides are fitted at once by ``card_layers``. What the card's wall is made of is
not known beforehand: a white core, the colour of the face all through, or something dim. Each is tried, and
the answers are averaged by how well they fit; where they differ, that is part of the covariance.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from digitise.card_effects import Outward, clipped_px
from digitise.card_layers import OWN, SHARED, YCC_OF_RGB, Setting, seen_profiles
from digitise.card_shape import CardShape
from digitise.card_sides import CardSide, SideProfile
from digitise.descents import Quadratics, descents
from digitise.tone import FloatArray, to_linear

_NOISE = np.array([0.006, 0.005, 0.005])  # of stored brightness and colours, beyond what averages out
_MISFIT_OF_STEP = np.array([0.010, 0.006, 0.006])  # what the layers do not describe, of the side's step
_TEMPER = 4.0  # neighbouring samples misfit together: costs count as if only every fourth were independent
_WIDENED = 1.5  # the fit's own sd against the truth, for the same reason
_FLOOR_PX = 0.08
_CLIPPED, _CLIPPED_SD = 0.6, 0.3  # of the shift that clipping a white face would make at most
_TURN_SHARE = 0.5  # of an offset's sd, how much it may turn the side
_DIM = 0.25  # light of a dim core against a white one
_CLIPPED_LIGHT, _BEYOND_CLIP, _BEYOND_SD = 0.93, 1.15, 0.2
_DIRECTIONS = np.pi / 4 * np.array([1, 3, 5, 7])
_FIRST_SHADOW = 0.7 / 0.76  # in thicknesses, as all of a shadow's lengths are
_TRIAL_STEPS, _KEPT_TRIALS, _LONGER_STEPS, _FINAL_STEPS = 6, 3, 12, 24
_OFFSETS = slice(SHARED, None, OWN)  # of the four sides, among the parameters of a fit
_SAME_VALLEY = 0.02  # apart in offsets, in the profiles' units, what two fits of one valley are at most
_SETTLED = 1e-3  # of the cost: what a step gains less of is far within the doubt
_CORE_SHARES = np.array([0.25, 0.5, 0.25])
"""How likely a white core, the face's colour all through, and a dim core are beforehand: dark cards are made
either way, and a white core in shade is the dim one."""

# Prior means and sds of SHARED ...
_BLUR = (np.log(0.75), 0.35)
_SHADOW_SD = 0.8 / 0.76
_DIRECT_SD = 1.2
_SOFT = (np.log(0.12 / 0.76), 1.0)
_CORE_SD, _CORE_COLOUR_SD = 0.3, 0.1
_COLOUR_BLUR = (np.log(0.9), 0.25)
_SHADE_SD = 0.3
# ... and of OWN.
_OFFSET_SD, _FACE_SLOPE_SD, _TABLE_SLOPE_SD, _WALL_SD = 1.0, 0.02, 0.03, 0.3


@dataclass(frozen=True, eq=False)
class _Task:
    """Profiles (4, m, 3), their sd, and what is taken for known of face, table and each fit's core (k, 3)."""

    profiles: FloatArray
    setting: Setting
    sd: FloatArray
    face: FloatArray
    table: FloatArray
    clipped: FloatArray
    core: FloatArray

    def start(self, shadow_mm: FloatArray) -> FloatArray:
        """Parameters to start the first fit from."""
        shared = np.zeros(SHARED)
        shared[0], shared[8] = _BLUR[0], _COLOUR_BLUR[0]
        shared[4] = _SOFT[0] + np.log(self.setting.thick_mm)
        shared[1:3] = shadow_mm
        shared[5:8] = np.log(self.core[0])
        own = np.zeros((4, OWN))
        own[:, 1:4], own[:, 5:8] = np.log(self.face), np.log(self.table)
        return np.concatenate([shared, own.ravel()])

    def __call__(self, parameters: FloatArray, which: npt.NDArray[np.intp]) -> Quadratics:
        """The fits' costs (j,) and their slopes; a side's own parameters move its own profile only."""
        count = len(parameters)
        seen = seen_profiles(parameters, self.setting)
        pulls = ((seen.values - self.profiles) / self.sd).reshape(count, 4, -1, 1)
        across = np.moveaxis((seen.slopes / self.sd).reshape(-1, count, 4, pulls.shape[2]), 0, 2)
        each, down = across @ across.swapaxes(-1, -2), (across @ pulls)[..., 0]
        normal = np.zeros((count, SHARED + 4 * OWN, SHARED + 4 * OWN))
        gradient = np.zeros((count, SHARED + 4 * OWN))
        normal[:, :SHARED, :SHARED] = each[:, :, :SHARED, :SHARED].sum(axis=1)
        gradient[:, :SHARED] = down[:, :, :SHARED].sum(axis=1)
        for side in range(4):
            own = slice(SHARED + side * OWN, SHARED + (side + 1) * OWN)
            normal[:, own, own] = each[:, side, SHARED:, SHARED:]
            normal[:, :SHARED, own] = each[:, side, :SHARED, SHARED:]
            normal[:, own, :SHARED] = each[:, side, SHARED:, :SHARED]
            gradient[:, own] = down[:, side, SHARED:]
        known = self._known(parameters) - self._expected_known[which]
        clipped, clipped_slopes = self._beyond_clip(parameters)
        gradient += known @ self._known_slopes + clipped * clipped_slopes
        normal += self._known_slopes.T @ self._known_slopes
        np.einsum("kii->ki", normal)[...] += clipped_slopes**2
        cost = np.sum(pulls**2, axis=(1, 2, 3)) + np.sum(known**2, axis=1) + np.sum(clipped**2, axis=1)
        return Quadratics(cost / 2, gradient, normal)

    @cached_property
    def _expected(self) -> FloatArray:
        """The parameters (k, n) that priors draw to; those that none draws are 0."""
        expected = np.zeros((len(self.core), SHARED + 4 * OWN))
        expected[:, 0], expected[:, 8] = _BLUR[0], _COLOUR_BLUR[0]
        expected[:, 4] = _SOFT[0] + np.log(self.setting.thick_mm)
        expected[:, 5:8] = np.log(self.core)
        return expected

    @cached_property
    def _expected_known(self) -> FloatArray:
        return self._known(self._expected)

    def _known(self, parameters: FloatArray) -> FloatArray:
        """Parameters (..., n) in the sds of their priors, (..., k)."""
        shared = parameters[..., :SHARED]
        own = parameters[..., SHARED:].reshape(*parameters.shape[:-1], 4, OWN)
        core = shared[..., 5:8]
        mean = core.mean(axis=-1, keepdims=True)
        pulls = [
            shared[..., :1] / _BLUR[1],
            shared[..., 1:3] / (_SHADOW_SD * self.setting.thick_mm),
            shared[..., 3:4] / _DIRECT_SD,
            shared[..., 4:5] / _SOFT[1],
            mean / _CORE_SD,
            (core - mean) / _CORE_COLOUR_SD,
            shared[..., 8:9] / _COLOUR_BLUR[1],
            shared[..., 9:10] / _SHADE_SD,
            own[..., 0] / _OFFSET_SD,
            own[..., 4] / _FACE_SLOPE_SD,
            own[..., 8] / _TABLE_SLOPE_SD,
            own[..., 9] / _WALL_SD,
        ]
        return np.concatenate(pulls, axis=-1)

    @cached_property
    def _known_slopes(self) -> FloatArray:
        """``_known`` as a matrix (k, n): it is linear."""
        return self._known(np.eye(SHARED + 4 * OWN)).T

    def _beyond_clip(self, parameters: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Pulls of the faces' light (k, n) where it is clipped, 0 elsewhere, and their slopes."""
        light = np.zeros_like(parameters)
        own = light[:, SHARED:].reshape(-1, 4, OWN)
        faces = np.exp(parameters[:, SHARED:].reshape(-1, 4, OWN)[..., 1:4])
        own[..., 1:4] = self.clipped * (faces - _BEYOND_CLIP) / _BEYOND_SD
        slopes = np.zeros_like(parameters)
        slopes[:, SHARED:].reshape(-1, 4, OWN)[..., 1:4] = self.clipped * faces / _BEYOND_SD
        return light, slopes


def measured_outward(sides: tuple[CardSide, ...], wall_px: FloatArray, shape: CardShape) -> Outward | None:
    """How far outward the sides were measured; None where they carry no profiles to tell it from.

    ``wall_px`` (4,): how far outside its top edge each wall's foot is seen, negative where it is hidden.
    """
    profiles = [side.profile for side in sides]
    if not all(isinstance(profile, SideProfile) for profile in profiles):
        return None
    unit_px = max(profile.unit_px for profile in profiles if profile is not None)
    answers = _answers(
        np.array([profile.values for profile in profiles if profile is not None]),
        Setting(
            across=next(profile.across for profile in profiles if profile is not None),
            wall=wall_px / unit_px,
            per_mm=_px_per_mm(sides, shape) / unit_px,
            thick_mm=shape.thickness_mm,
        ),
    )
    offset, covariance = _averaged(answers)
    clipped = np.array([clipped_px(side) for side in sides])
    # the profiles say where the true edge lies from the measured one
    offset_px = -offset * unit_px + _CLIPPED * clipped
    covariance_px2 = covariance * (_WIDENED * unit_px) ** 2
    covariance_px2 += np.diag((_FLOOR_PX * unit_px) ** 2 + (_CLIPPED_SD * clipped) ** 2)
    return Outward(offset_px, covariance_px2, _TURN_SHARE * np.sqrt(np.diag(covariance_px2)))


def _px_per_mm(sides: tuple[CardSide, ...], shape: CardShape) -> float:
    around = sum(float(np.hypot(*(side.end_px - side.start_px))) for side in sides)
    return around / (2 * (shape.long_mm + shape.short_mm))


def _answers(profiles: FloatArray, setting: Setting) -> list[tuple[float, FloatArray, FloatArray]]:
    """Cost, offsets (4,) and their covariance (4, 4) from each valley, for each kind of core."""
    rgb = np.clip(profiles @ np.linalg.inv(YCC_OF_RGB).T, 0.0, 1.0)
    inside, outside = setting.across < -0.5 * setting.across[-1], setting.across > 0.55 * setting.across[-1]
    face = np.maximum(to_linear(rgb[:, inside].mean(axis=1)), 0.003)
    table = np.maximum(to_linear(rgb[:, outside].mean(axis=1)), 0.003)
    step = np.abs(profiles[:, inside, 0].mean(axis=1) - profiles[:, outside, 0].mean(axis=1))
    clipped = face > _CLIPPED_LIGHT
    face = np.where(clipped, _BEYOND_CLIP, face)
    white = min(max(float(face.max()), 0.6 * float(table.max()), 0.4), 1.1)
    cores = np.array([np.full(3, white), np.exp(np.log(face).mean(axis=0)), np.full(3, _DIM * white)])
    task = _Task(
        profiles=profiles,
        setting=setting,
        sd=_NOISE + _MISFIT_OF_STEP * step[:, None, None],
        face=face,
        table=table,
        clipped=clipped.astype(float),
        core=cores,
    )
    valleys = _valleys(task)
    starts = np.repeat(valleys, len(cores), axis=0)
    starts[:, 5:8] = np.tile(np.log(cores), (len(valleys), 1))
    kinds = np.tile(np.arange(len(cores)), len(valleys))

    def with_own_core(parameters: FloatArray, which: npt.NDArray[np.intp]) -> Quadratics:
        return task(parameters, kinds[which])

    found = descents(with_own_core, starts, _FINAL_STEPS, _SETTLED)
    covariances = np.linalg.pinv(found.there.normal, hermitian=True)
    return [
        (float(cost), offsets, covariance)
        for cost, offsets, covariance in zip(
            found.there.cost, found.parameters[:, _OFFSETS], covariances[:, _OFFSETS, _OFFSETS], strict=True
        )
    ]


def _valleys(task: _Task) -> FloatArray:
    """From shadows in four directions, parameters (m, n) that a few steps bring near to the profiles, one set
    for each valley that they lead to.

    The cost has more than one: a bright wall and a table's shade can stand for each other, and fit as well
    but for a hair. So all count, each by how well it fits.
    """
    first_mm = _FIRST_SHADOW * task.setting.thick_mm
    starts = [task.start(first_mm * np.array([np.cos(turn), np.sin(turn)])) for turn in _DIRECTIONS]

    def with_first_core(parameters: FloatArray, which: npt.NDArray[np.intp]) -> Quadratics:
        return task(parameters, np.zeros_like(which))

    trials = descents(with_first_core, np.array(starts), _TRIAL_STEPS, _SETTLED)
    kept = trials.parameters[trials.best(_KEPT_TRIALS)]
    longer = descents(with_first_core, kept, _LONGER_STEPS, _SETTLED)
    valleys: list[FloatArray] = []
    for parameters in longer.parameters[longer.best(len(kept))]:
        if all(np.abs(parameters[_OFFSETS] - other[_OFFSETS]).max() > _SAME_VALLEY for other in valleys):
            valleys.append(parameters)
    return np.array(valleys)


def _averaged(answers: list[tuple[float, FloatArray, FloatArray]]) -> tuple[FloatArray, FloatArray]:
    """Mean and covariance over the answers, each weighted by how well it fits."""
    costs = np.array([cost for cost, _, _ in answers])
    weights = np.resize(_CORE_SHARES, len(costs)) * np.exp(-(costs - costs.min()) / _TEMPER)
    weights /= weights.sum()
    offsets = np.array([offset for _, offset, _ in answers])
    mean = weights @ offsets
    apart = offsets - mean
    within = np.einsum("k,kij->ij", weights, np.array([covariance for _, _, covariance in answers]))
    return mean, within + np.einsum("k,ki,kj->ij", weights, apart, apart)
