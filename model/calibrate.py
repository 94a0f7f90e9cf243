"""Part masses from readings: the most probable ones and how far they and the figures may be off.

Unknown are the logarithms of the part masses (so masses stay positive), the amplitude of each
mode (see ``parts``: insides, thicknesses, the outline's size), one sd each, and the scale's error.
Prior and readings are Gaussian, so the most probable point is a small non-linear least-squares
problem, solved by Gauss-Newton; the covariance is the inverse of its normal matrix there
(Laplace's approximation).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.errors import ModelError
from model.figures import Body, body_slopes, body_values
from model.measured import Measured
from model.observe import BALANCE, PARTS_FROM, Observation, View, bifilar_air_kgcm2, observations
from model.parts import ACROSS, ALONG, Parts
from model.readings import BifilarReading, PendulumReading, PublishedReading, Reading, ScaleCheckReading

Array = NDArray[np.float64]

MAX_STEPS = 25
MAX_SHORT_STEPS = 300
SETTLED = 1e-7  # sds: far below anything a figure shows
MAX_HALVINGS = 8
SAME_MISFIT = 1e-9  # relative; sums of squares of sds
LONGEST_STEP = 1.0  # in log mass: a longer step leaves the region where the slopes hold
SCALE_ERROR_SD = 0.02  # of a scale that somebody checks; without a check a scale counts as true
AIR_WORTH_SAYING_G = 1.0  # a strung face moves less than this
PULL_WORTH_SAYING = 2.5  # sds; a sound reading pulls this hard once in eighty


@dataclass(frozen=True, eq=False)
class Calibration:
    """Masses (n,) in g with covariance, the body's five figures, and plain words on odd readings.

    ``state`` (n + k + 1,) is the most probable one with its covariance ``cov``; ``body_by_state``
    (5, n + k + 1) are the slopes of the body's figures there, ``seen`` the readings' numbers with
    ``seen_by_state`` (m, n + k + 1) their slopes.
    """

    names: tuple[str, ...]
    mass_g: Array
    mass_cov: Array
    body: Body
    notes: tuple[str, ...]
    parts: Parts
    state: Array
    cov: Array
    body_by_state: Array
    seen: tuple[Observation, ...]
    seen_by_state: Array
    view: View
    view_by_state: Array
    readings: tuple[Reading, ...]

    def part_masses(self) -> dict[str, Measured]:
        """Grams ± sd of each part."""
        sds = np.sqrt(np.diag(self.mass_cov))
        return {n: Measured(float(m), float(s)) for n, m, s in zip(self.names, self.mass_g, sds, strict=True)}

    def size_changes(self) -> tuple[Measured, Measured]:
        """The outline's relative changes of length and width, as the readings have them."""
        by = self.view_by_state[6:8]
        sds = np.sqrt(np.diag(by @ self.cov @ by.T))
        return Measured(self.view.along, float(sds[0])), Measured(self.view.across, float(sds[1]))


def calibrate(parts: Parts, readings: Sequence[Reading], scale_sd: float | None = None) -> Calibration:
    """The posterior of masses and figures given the readings that are in use.

    ``scale_sd`` is the scale's relative sd before any reading; None: unknown if it was checked, else true.

    Raises ModelError if the estimate does not settle, which readings far from anything
    the construction can be may cause.
    """
    readings = tuple(readings)
    n, k = len(parts.names), len(parts.modes)
    whiten = np.eye(n + k + 1)  # turns a state's distance from the prior's middle into sds
    mean, cov = parts.prior()
    whiten[: n + k, : n + k] = np.linalg.inv(np.linalg.cholesky(cov))
    prior_mean = np.append(mean, 0.0)
    checked_sd = SCALE_ERROR_SD if any(_is_check(r) for r in readings) else 0.0
    error_sd = checked_sd if scale_sd is None else scale_sd

    def misfit(state: Array) -> tuple[Array, Array]:
        residual, slopes = _misfit(parts, readings, state, error_sd)
        return np.concatenate([whiten @ (prior_mean - state), residual]), np.vstack([whiten, slopes])

    state = _most_probable(misfit, prior_mean)
    # Orthogonal triangles keep the digits that very fine readings need.
    root = np.linalg.inv(np.linalg.qr(misfit(state)[1], mode="r"))
    return _calibration(parts, readings, state, root @ root.T, error_sd)


def _most_probable(misfit: Callable[[Array], tuple[Array, Array]], start: Array) -> Array:
    """The state of least misfit. Raises ModelError if it never settles.

    Whole Gauss-Newton steps first: they follow the curved valleys of very fine readings. Where readings
    contradict the prior or each other by many sds these may run in circles or creep; then steps are cut
    short where they do not help, until the misfit itself no longer falls.
    """
    state = start
    off, slopes = misfit(state)
    for _ in range(MAX_STEPS):
        step, longest = _step(off, slopes)
        state = state + step
        off, slopes = misfit(state)
        if longest < SETTLED:
            return state
    state = start
    off, slopes = misfit(state)
    for _ in range(MAX_SHORT_STEPS):
        step, _ = _step(off, slopes)
        then_off, then_slopes = misfit(state + step)
        for _ in range(MAX_HALVINGS):
            if then_off @ then_off <= off @ off:
                break
            step = step / 2
            then_off, then_slopes = misfit(state + step)
        gain = off @ off - then_off @ then_off
        if gain < SAME_MISFIT * (1 + off @ off):
            return state if gain < 0 else state + step
        state, off, slopes = state + step, then_off, then_slopes
    raise ModelError(
        "the readings can't be reconciled with this outline: check construction, weight and balance"
    )


def _step(off: Array, slopes: Array) -> tuple[Array, float]:
    """The Gauss-Newton step, no longer than the slopes are good for, and its longest side before that."""
    step = np.linalg.lstsq(slopes, off, rcond=None)[0]
    longest = float(np.abs(step).max())
    return np.asarray(step * min(1.0, LONGEST_STEP / max(longest, 1e-300))), longest


def _is_check(reading: Reading) -> bool:
    return reading.used and isinstance(reading, ScaleCheckReading)


def _totals(parts: Parts, state: Array, counted: Array) -> tuple[Array, Array]:
    """Mass integrals (6,) of 1, x, y, xx, yy, zz and their derivatives (6, n + k + 1) by the state."""
    n, k = len(parts.names), len(parts.modes)
    mass, amplitudes = np.exp(state[:n]) * counted, state[n : n + k]
    unit = parts.unit + np.tensordot(amplitudes, parts.modes, axes=1)
    by_mass = np.column_stack([np.ones(n), unit]) * mass[:, None]
    by_mode = np.zeros((k + 1, 6))
    by_mode[:k, 1:] = np.einsum("p,kpc->kc", mass, parts.modes)
    return by_mass.sum(axis=0), np.vstack([by_mass, by_mode]).T


def view_of(parts: Parts, state: Array, scale_sd: float, pieces: int = 0) -> tuple[View, Array]:
    """What readings see, and its derivatives (8 + n, n + k + 1) by the state.

    ``pieces``: with which set of added pieces on, 0 without any.
    """
    n, k = len(parts.names), len(parts.modes)
    totals, by_state = _totals(parts, state, parts.on(pieces))
    size, mass = parts.outline, np.exp(state[:n])
    slopes = np.zeros((PARTS_FROM + n, n + k + 1))
    slopes[:5] = body_slopes(totals) @ by_state
    slopes[5, -1] = scale_sd
    places = [n + parts.mode_names.index(mode) for mode in (ALONG, ACROSS)]
    slopes[6:8, places] = size.changes()
    along, across = (float(v) for v in size.changes() @ state[places])
    slopes[PARTS_FROM:, :n] = np.diag(mass)
    view = View(
        body=body_values(totals),
        scale=float(state[-1] * scale_sd),
        along=along,
        across=across,
        names=parts.names[: parts.own],
        mass_g=mass,
        length_mm=size.length_mm,
        width_mm=size.width_mm,
        air=size.air,
    )
    return view, slopes


def _misfit(
    parts: Parts, readings: tuple[Reading, ...], state: Array, scale_sd: float
) -> tuple[Array, Array]:
    """Reading minus model in sds (m,), and the model's slopes in sds (m, n + k + 1)."""
    seen, slopes = seen_by(parts, readings, state, scale_sd)
    if not seen:
        return np.zeros(0), np.zeros((0, len(state)))
    sds = np.array([one.sd for one in seen])
    residual = np.array([one.observed - one.predicted for one in seen]) / sds
    return residual, slopes / sds[:, None]


def seen_by(
    parts: Parts, readings: tuple[Reading, ...], state: Array, scale_sd: float
) -> tuple[list[Observation], Array]:
    """The used readings' numbers, each with or without the pieces as taken, and slopes (m, n + k + 1)."""
    rows: list[tuple[Observation, Array]] = []
    for pieces in sorted({r.on for r in readings if r.used}):
        view, by_state = view_of(parts, state, scale_sd, pieces)
        rows += [(one, one.slopes @ by_state) for one in observations(readings, view, pieces)]
    rows.sort(key=lambda row: row[0].reading)
    slopes = np.array([row[1] for row in rows]).reshape(len(rows), len(state))
    return [row[0] for row in rows], slopes


def _calibration(
    parts: Parts, readings: tuple[Reading, ...], state: Array, cov: Array, scale_sd: float
) -> Calibration:
    n = len(parts.names)
    mass = np.exp(state[:n])
    totals, slopes = _totals(parts, state, np.array(parts.counts, dtype=float))
    jacobian = body_slopes(totals) @ slopes
    view, view_by_state = view_of(parts, state, scale_sd)
    seen, by_state = seen_by(parts, readings, state, scale_sd)
    return Calibration(
        names=parts.names,
        mass_g=mass,
        mass_cov=cov[:n, :n] * np.outer(mass, mass),
        body=Body(body_values(totals), jacobian @ cov @ jacobian.T),
        notes=tuple(_notes(parts, readings, state, float(view.body[BALANCE]))),
        parts=parts,
        state=state,
        cov=cov,
        body_by_state=jacobian,
        seen=tuple(seen),
        seen_by_state=by_state,
        view=view,
        view_by_state=view_by_state,
        readings=readings,
    )


def _notes(parts: Parts, readings: tuple[Reading, ...], state: Array, balance_mm: float) -> list[str]:
    kinds = {r.figure if isinstance(r, PublishedReading) else r.kind for r in readings if r.used}
    notes = []
    if not kinds & {"weight", "two_scales"}:
        notes.append(
            "no weight reading: the weight is a guess from usual densities for this construction; "
            "put the racquet on a scale"
        )
    if not kinds & {"balance", "two_supports", "two_scales"}:
        notes.append("no balance reading: the balance is a guess; find the point where the racquet balances")
    notes += _air_notes(parts, readings, balance_mm)
    n = len(parts.names)
    mean, cov = parts.prior()
    pulls = (state[:n] - mean[:n]) / np.sqrt(np.diag(cov)[:n])
    worst = int(np.argmax(np.abs(pulls)))
    if abs(pulls[worst]) > PULL_WORTH_SAYING:
        side = "heavier" if pulls[worst] > 0 else "lighter"
        notes.append(
            f"the readings make the {parts.names[worst].replace('_', ' ')} much {side} than usual for this "
            "construction: check weight, balance and construction"
        )
    return notes


def _air_notes(parts: Parts, readings: tuple[Reading, ...], balance_mm: float) -> list[str]:
    """Where a broad face was swung or turned and the air with it was not taken off, once for each way."""
    air = parts.outline.air
    if air.mass_g <= AIR_WORTH_SAYING_G:
        return []
    notes: dict[str, str] = {}
    for r in readings:
        if not (r.used and isinstance(r, PendulumReading | BifilarReading)) or r.in_air:
            continue
        if isinstance(r, PendulumReading) and r.leads == "face":
            notes.setdefault(
                r.kind,
                f"a face that swings broadside carries about {air.mass_g:.0f} g of air along, "
                f"{air.inertia_kgcm2(r.pivot_mm):.1f} kg·cm² about the pendulum's pivot: add 'in air' to the "
                "reading to take it off, or swing the racquet edge first",
            )
        if isinstance(r, BifilarReading) and (added := bifilar_air_kgcm2(r, air, balance_mm)) > 0:
            notes.setdefault(
                r.figure,
                f"a face that turns broadside carries air along, which adds about {added:.2g} kg·cm² to the "
                f"{r.figure} weight by two threads: add 'in air' to the reading to take it off",
            )
    return list(notes.values())
