"""Part masses from readings: the most probable ones and how far they and the figures may be off.

Unknown are the logarithms of the part masses (so masses stay positive) and the amplitude of each
mode (see ``parts``), one sd each. Prior and readings are Gaussian, so the most probable point is
a small non-linear least-squares problem, solved by Gauss-Newton; the covariance is the inverse
of its normal matrix there (Laplace's approximation).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.errors import ModelError
from model.figures import Body, body_slopes, body_values
from model.measured import Measured
from model.parts import Parts, Y
from model.readings import Reading, ReadingKind

Array = NDArray[np.float64]

MAX_STEPS = 60
SETTLED = 1e-10  # sds: far below anything a figure shows
LONGEST_STEP = 1.0  # in log mass: a longer step leaves the region where the slopes hold
PULL_WORTH_SAYING = 2.5  # sds; a sound reading pulls this hard once in eighty


@dataclass(frozen=True, eq=False)
class Calibration:
    """Masses (n,) in g with covariance, the body's five figures, and plain words on odd readings."""

    names: tuple[str, ...]
    mass_g: Array
    mass_cov: Array
    body: Body
    notes: tuple[str, ...]

    def part_masses(self) -> dict[str, Measured]:
        """Grams ± sd of each part."""
        sds = np.sqrt(np.diag(self.mass_cov))
        return {n: Measured(float(m), float(s)) for n, m, s in zip(self.names, self.mass_g, sds, strict=True)}


def calibrate(parts: Parts, readings: tuple[Reading, ...]) -> Calibration:
    """The posterior of masses and figures given the readings that are in use.

    Raises ModelError if the estimate does not settle, which readings far from anything
    the construction can be may cause.
    """
    used = [r for r in readings if r.used]
    n = len(parts.names)
    prior_precision = np.eye(n + len(parts.modes))
    prior_precision[:n, :n] = np.linalg.inv(parts.log_mass_cov)
    prior_mean = np.concatenate([parts.log_mass, np.zeros(len(parts.modes))])
    state = prior_mean.copy()
    for _ in range(MAX_STEPS):
        residual, slopes = _misfit(parts, used, state)
        precision = prior_precision + slopes.T @ slopes
        step = np.linalg.solve(precision, slopes.T @ residual - prior_precision @ (state - prior_mean))
        longest = float(np.abs(step).max())
        state = state + step * min(1.0, LONGEST_STEP / max(longest, 1e-300))
        if longest < SETTLED:
            break
    else:
        raise ModelError(
            "the readings can't be reconciled with this outline: check construction, weight and balance"
        )
    _, slopes = _misfit(parts, used, state)
    cov = np.asarray(np.linalg.inv(prior_precision + slopes.T @ slopes), dtype=np.float64)
    return _calibration(parts, used, state, cov)


def _totals(parts: Parts, state: Array) -> tuple[Array, Array]:
    """Mass integrals (6,) of 1, x, y, xx, yy, zz and their derivatives (6, n + k) by the state."""
    n = len(parts.names)
    mass, amplitudes = np.exp(state[:n]), state[n:]
    unit = parts.unit + np.tensordot(amplitudes, parts.modes, axes=1)
    by_mass = np.column_stack([np.ones(n), unit]) * mass[:, None]
    by_mode = np.zeros((len(amplitudes), 6))
    by_mode[:, 1:] = np.einsum("p,kpc->kc", mass, parts.modes)
    return by_mass.sum(axis=0), np.vstack([by_mass, by_mode]).T


def _misfit(parts: Parts, readings: list[Reading], state: Array) -> tuple[Array, Array]:
    """Reading minus model in sds (m,), and the model's slopes in sds (m, n + k)."""
    totals, slopes = _totals(parts, state)
    values, by_totals = body_values(totals), body_slopes(totals)
    row = {ReadingKind.WEIGHT: 0, ReadingKind.BALANCE: 1}
    picked = [row[r.kind] for r in readings]
    sds = np.array([r.measured.sd for r in readings])
    residual = (np.array([r.measured.value for r in readings]) - values[picked]) / sds
    return residual, (by_totals[picked] @ slopes) / sds[:, None]


def _calibration(parts: Parts, used: list[Reading], state: Array, cov: Array) -> Calibration:
    n = len(parts.names)
    mass = np.exp(state[:n])
    totals, slopes = _totals(parts, state)
    jacobian = body_slopes(totals) @ slopes
    body = Body(body_values(totals), jacobian @ cov @ jacobian.T)
    mass_cov = cov[:n, :n] * np.outer(mass, mass)
    return Calibration(parts.names, mass, mass_cov, body, tuple(_notes(parts, used, state)))


def _notes(parts: Parts, used: list[Reading], state: Array) -> list[str]:
    kinds = {r.kind for r in used}
    notes = []
    if ReadingKind.WEIGHT not in kinds:
        notes.append(
            "no weight reading: the weight is a guess from usual densities for this construction; "
            "put the racquet on a scale"
        )
    if ReadingKind.BALANCE not in kinds:
        notes.append("no balance reading: the balance is a guess; find the point where the racquet balances")
    n = len(parts.names)
    prior_sd = np.sqrt(np.diag(parts.log_mass_cov))
    pulls = (state[:n] - parts.log_mass) / prior_sd
    worst = int(np.argmax(np.abs(pulls)))
    if abs(pulls[worst]) > PULL_WORTH_SAYING:
        side = "heavier" if pulls[worst] > 0 else "lighter"
        notes.append(
            f"the readings make the {parts.names[worst].replace('_', ' ')} much {side} than usual for this "
            "construction: check weight, balance and construction"
        )
    return notes


def balance_bounds(parts: Parts) -> tuple[float, float]:
    """Heights (mm) of the lowest and the highest part's own centre: the balance lies between them."""
    return float(parts.unit[:, Y].min()), float(parts.unit[:, Y].max())
