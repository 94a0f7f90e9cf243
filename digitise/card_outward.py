"""How far outside the card's true edges its sides were measured, by fitting what lies beside the edges.

The mean profiles of all four sides are fitted at once by ``card_layers``. What the card's wall is made of is
not known beforehand: a white core, the colour of the face all through, or something dim. Each is tried, and
the answers are averaged by how well they fit; where they differ, that is part of the covariance.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from digitise.card_effects import Outward, clipped_px
from digitise.card_layers import OWN, SHARED, YCC_OF_RGB, Setting, seen_profiles
from digitise.card_shape import CardShape
from digitise.card_sides import CardSide, SideProfile
from digitise.tone import FloatArray, to_linear

if TYPE_CHECKING:
    from scipy.optimize import OptimizeResult

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
_TRIAL_STEPS, _KEPT_TRIALS, _LONGER_STEPS, _FINAL_STEPS = 4, 3, 8, 14
_STEP = 1e-5
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
    """One fit: profiles (4, m, 3), their sd, and what is taken for known of face, table and core."""

    profiles: FloatArray
    setting: Setting
    sd: FloatArray
    face: FloatArray
    table: FloatArray
    clipped: FloatArray
    core: FloatArray

    def start(self, shadow_mm: FloatArray) -> FloatArray:
        """Parameters to start from."""
        shared = np.zeros(SHARED)
        shared[0], shared[8] = _BLUR[0], _COLOUR_BLUR[0]
        shared[4] = _SOFT[0] + np.log(self.setting.thick_mm)
        shared[1:3] = shadow_mm
        shared[5:8] = np.log(self.core)
        own = np.zeros((4, OWN))
        own[:, 1:4], own[:, 5:8] = np.log(self.face), np.log(self.table)
        return np.concatenate([shared, own.ravel()])

    def residuals(self, parameters: FloatArray) -> FloatArray:
        seen = (seen_profiles(parameters, self.setting) - self.profiles) / self.sd
        return np.concatenate([seen.ravel(), self.known(parameters)])

    def known(self, parameters: FloatArray) -> FloatArray:
        """Parameters (..., n) against their priors, in standard deviations, (..., k)."""
        shared = parameters[..., :SHARED]
        own = parameters[..., SHARED:].reshape(*parameters.shape[:-1], 4, OWN)
        core = shared[..., 5:8] - np.log(self.core)
        hue = core - core.mean(axis=-1, keepdims=True)
        clipped = self.clipped * (np.exp(own[..., 1:4]) - _BEYOND_CLIP) / _BEYOND_SD
        pulls = [
            (shared[..., :1] - _BLUR[0]) / _BLUR[1],
            shared[..., 1:3] / (_SHADOW_SD * self.setting.thick_mm),
            shared[..., 3:4] / _DIRECT_SD,
            (shared[..., 4:5] - _SOFT[0] - np.log(self.setting.thick_mm)) / _SOFT[1],
            core.mean(axis=-1, keepdims=True) / _CORE_SD,
            hue / _CORE_COLOUR_SD,
            (shared[..., 8:9] - _COLOUR_BLUR[0]) / _COLOUR_BLUR[1],
            shared[..., 9:10] / _SHADE_SD,
            own[..., 0] / _OFFSET_SD,
            own[..., 4] / _FACE_SLOPE_SD,
            own[..., 8] / _TABLE_SLOPE_SD,
            own[..., 9] / _WALL_SD,
            clipped.reshape(*parameters.shape[:-1], -1),
        ]
        return np.concatenate(pulls, axis=-1)

    def jacobian(self, parameters: FloatArray) -> FloatArray:
        """Forward differences; a side's own parameters move its own profile only, so all sides go at once."""
        moved = np.tile(parameters, (1 + SHARED + OWN, 1))
        for index in range(SHARED + OWN):
            moved[1 + index, index if index < SHARED else slice(index, None, OWN)] += _STEP
        seen = seen_profiles(moved, self.setting) / self.sd
        slopes = (seen[1:] - seen[0]) / _STEP
        of_side = seen[0, 0].size
        rows = np.zeros((seen[0].size + len(self.known(parameters)), len(parameters)))
        rows[: seen[0].size, :SHARED] = slopes[:SHARED].reshape(SHARED, -1).T
        for side in range(4):
            here = slice(side * of_side, (side + 1) * of_side)
            own = slice(SHARED + side * OWN, SHARED + (side + 1) * OWN)
            rows[here, own] = slopes[SHARED:, side].reshape(OWN, -1).T
        rows[seen[0].size :] = self._known_slopes(parameters)
        return rows

    def _known_slopes(self, parameters: FloatArray) -> FloatArray:
        steps = parameters + _STEP * np.eye(len(parameters))
        return np.asarray((self.known(steps) - self.known(parameters)) / _STEP).T

    def fitted(self, start: FloatArray, steps: int) -> OptimizeResult:
        from scipy.optimize import least_squares  # takes longer to load than a card takes to find

        return least_squares(
            self.residuals,
            start,
            jac=self.jacobian,
            method="lm",
            max_nfev=steps,
            x_scale="jac",
            ftol=1e-3,
            xtol=1e-5,
        )


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
    """Cost, offsets (4,) and their covariance (4, 4) for each kind of core."""
    rgb = np.clip(profiles @ np.linalg.inv(YCC_OF_RGB).T, 0.0, 1.0)
    inside, outside = setting.across < -0.5 * setting.across[-1], setting.across > 0.55 * setting.across[-1]
    face = np.maximum(to_linear(rgb[:, inside].mean(axis=1)), 0.003)
    table = np.maximum(to_linear(rgb[:, outside].mean(axis=1)), 0.003)
    step = np.abs(profiles[:, inside, 0].mean(axis=1) - profiles[:, outside, 0].mean(axis=1))
    clipped = face > _CLIPPED_LIGHT
    face = np.where(clipped, _BEYOND_CLIP, face)
    white = min(max(float(face.max()), 0.6 * float(table.max()), 0.4), 1.1)
    answers = []
    start: FloatArray | None = None
    for core in (np.full(3, white), np.exp(np.log(face).mean(axis=0)), np.full(3, _DIM * white)):
        task = _Task(
            profiles=profiles,
            setting=setting,
            sd=_NOISE + _MISFIT_OF_STEP * step[:, None, None],
            face=face,
            table=table,
            clipped=clipped.astype(float),
            core=core,
        )
        if start is None:
            start = _best_start(task)
        here = start.copy()
        here[5:8] = np.log(core)
        found = task.fitted(here, _FINAL_STEPS)
        covariance = np.linalg.pinv(found.jac.T @ found.jac)
        own = slice(SHARED, None, OWN)
        answers.append((float(found.cost), found.x[own], covariance[own, own]))
    return answers


def _best_start(task: _Task) -> FloatArray:
    """From shadows in four directions, the parameters that a few steps bring nearest to the profiles.

    The cost has more than one valley: a bright wall and a table's shade can stand for each other.
    """
    first_mm = _FIRST_SHADOW * task.setting.thick_mm
    shadows = [first_mm * np.array([np.cos(turn), np.sin(turn)]) for turn in _DIRECTIONS]
    trials = [task.fitted(task.start(shadow), _TRIAL_STEPS) for shadow in shadows]
    trials = sorted(trials, key=_cost)[:_KEPT_TRIALS]
    return np.asarray(min((task.fitted(trial.x, _LONGER_STEPS) for trial in trials), key=_cost).x)


def _cost(result: OptimizeResult) -> float:
    return float(result.cost)


def _averaged(answers: list[tuple[float, FloatArray, FloatArray]]) -> tuple[FloatArray, FloatArray]:
    """Mean and covariance over the answers, each weighted by how well it fits."""
    costs = np.array([cost for cost, _, _ in answers])
    weights = _CORE_SHARES * np.exp(-(costs - costs.min()) / _TEMPER)
    weights /= weights.sum()
    offsets = np.array([offset for _, offset, _ in answers])
    mean = weights @ offsets
    apart = offsets - mean
    within = np.einsum("k,kij->ij", weights, np.array([covariance for _, _, covariance in answers]))
    return mean, within + np.einsum("k,ki,kj->ij", weights, apart, apart)
