"""Readings that no racquet of this outline can give, refused with the bound they break."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from model.errors import ReadingError
from model.figures import KGCM2_GMM2
from model.outline import Outline
from model.readings import (
    BifilarReading,
    MachineReading,
    PendulumReading,
    PublishedReading,
    Reading,
    TwoScalesReading,
    TwoSupportsReading,
)
from model.supports import balance_from_scale_mm
from model.swinging import (
    amplitude_factor,
    bifilar_inertia_kgcm2,
    bifilar_lever_mm,
    pendulum_inertia_kgcm2,
)

SLACK_SDS = 4.0  # an honest reading lies this far beyond a bound once in ten thousand


@dataclass(frozen=True)
class Limits:
    """Between what the balance point may lie, mm, and how far from the middle plane mass can be."""

    lowest_mm: float
    highest_mm: float
    tip_mm: float
    half_width_mm: float
    half_thickness_mm: float


def limits_of(outline: Outline, bounds_mm: tuple[float, float], thickest_mm: float) -> Limits:
    """Limits of an outline; ``bounds_mm`` are the heights of the lowest and the highest part's centre."""
    half_width = float(abs(outline.outer_mm[:, 0]).max())
    return Limits(*bounds_mm, float(outline.outer_mm[:, 1].max()), half_width, thickest_mm / 2)


def check_readings(readings: Sequence[Reading], limits: Limits) -> None:
    """Refuse used readings that no positive masses can give. Raises ReadingError with the bound."""
    used = [r for r in readings if r.used]
    mass, balance = _first(used, "weight"), _first(used, "balance")
    for reading in used:
        if reading.kind == "balance":
            _check_balance("balance reading", reading.value, limits)
        elif isinstance(reading, TwoSupportsReading) and mass:
            found = balance_from_scale_mm(
                mass[0],
                reading.value,
                reading.block_mm,
                reading.scale_mm,
                reading.tilt_deg,
                reading.height_mm,
            )
            _check_balance("two supports reading's balance", found, limits)
        elif isinstance(reading, TwoScalesReading):
            total = reading.low_g + reading.high_g
            found = balance_from_scale_mm(total, reading.high_g, reading.low_mm, reading.high_mm)
            _check_balance("two scales reading's balance", found, limits)
        elif isinstance(reading, PendulumReading) and mass:
            _check_pendulum(reading, mass, balance, limits)
        elif isinstance(reading, BifilarReading) and mass:
            lever = bifilar_lever_mm(
                reading.thread_mm, reading.spacing_mm, reading.top_spacing_mm, reading.offset_mm
            )
            period = reading.mean_s / reading.swings / amplitude_factor(reading.amplitude_deg)
            found = bifilar_inertia_kgcm2(mass[0], lever, period)
            _check_inertia(f"bifilar {reading.figure} reading", reading.figure, found, mass[0], limits)
        elif isinstance(reading, MachineReading | PublishedReading):
            _check_figure(reading, mass, balance, limits)


def _first(readings: list[Reading], kind: str) -> tuple[float, float] | None:
    """Value and sd of the first reading of a kind; other bounds need them."""
    return next(((r.value, r.sd) for r in readings if r.kind == kind), None)  # type: ignore[union-attr]


def _check_balance(what: str, value: float, limits: Limits) -> None:
    if limits.lowest_mm < value < limits.highest_mm:
        return
    where = (
        f"beyond the tip at {limits.tip_mm:.0f} mm"
        if value > limits.tip_mm
        else "where no such racquet can balance"
    )
    raise ReadingError(
        f"the {what} {value:.0f} mm lies {where}: for this outline it must be between "
        f"{limits.lowest_mm:.0f} and {limits.highest_mm:.0f} mm from the butt, so measure it again"
    )


def _check_pendulum(
    r: PendulumReading, mass: tuple[float, float], balance: tuple[float, float] | None, limits: Limits
) -> None:
    if not -limits.tip_mm / 2 <= r.pivot_mm <= 1.5 * limits.tip_mm:
        raise ReadingError(
            f"the pendulum's pivot {r.pivot_mm:.0f} mm from the butt is nowhere near this racquet of "
            f"{limits.tip_mm:.0f} mm: measure it from the butt end"
        )
    if balance is None:
        return
    arm = abs(balance[0] - r.pivot_mm)
    if arm < 10:
        raise ReadingError(
            f"the pendulum's pivot {r.pivot_mm:.0f} mm from the butt is too near the balance point at "
            f"{balance[0]:.0f} mm to swing: hang the racquet nearer to one end"
        )
    period = r.mean_s / r.swings / amplitude_factor(r.amplitude_deg)
    found = pendulum_inertia_kgcm2(mass[0], arm, period, r.pivot_radius_mm)
    relative = 2 * r.time_sd_s / r.mean_s + balance[1] / arm + mass[1] / mass[0]
    least = mass[0] * arm**2 / KGCM2_GMM2
    if found * (1 + SLACK_SDS * relative) < least:
        raise ReadingError(
            f"the pendulum's {r.mean_s:g} s for {r.swings} swings mean {found:.0f} kg·cm² about the "
            f"pivot, but weight and balance alone make at least {least:.0f} there: count and time it again"
        )
    reach = max(abs(limits.tip_mm - r.pivot_mm), abs(r.pivot_mm))
    most = mass[0] * (reach**2 + limits.half_width_mm**2) / KGCM2_GMM2
    if found > most * (1 + SLACK_SDS * relative):
        raise ReadingError(
            f"the pendulum's {r.mean_s:g} s for {r.swings} swings mean {found:.0f} kg·cm² about the "
            f"pivot, but a racquet of this size has at most {most:.0f}: count and time it again"
        )


def _check_figure(
    r: MachineReading | PublishedReading,
    mass: tuple[float, float] | None,
    balance: tuple[float, float] | None,
    limits: Limits,
) -> None:
    what = f"{'published' if isinstance(r, PublishedReading) else 'machine'} {r.figure} reading"
    if r.figure == "balance":
        _check_balance(what, r.value, limits)
    elif r.figure == "swing" and mass and balance and r.axis_mm is not None:
        arm = balance[0] - r.axis_mm
        least = mass[0] * arm**2 / KGCM2_GMM2
        slack = SLACK_SDS * (r.sd + 2 * mass[0] * abs(arm) * balance[1] / KGCM2_GMM2)
        if r.value < least - slack:
            raise ReadingError(
                f"the {what} of {r.value:g} kg·cm² is below {least:.1f}, which weight and balance alone make "
                f"about {r.axis_mm:g} mm: check its axis and measure it again"
            )
        _check_inertia(what, r.figure, r.value, mass[0], limits)
    elif r.figure not in ("weight", "swing") and mass:
        _check_inertia(what, r.figure, r.value, mass[0], limits)


def _check_inertia(what: str, figure: str, value: float, mass_g: float, limits: Limits) -> None:
    """No mass lies further off an axis than the outline reaches."""
    across = math.hypot(limits.half_width_mm, limits.half_thickness_mm)
    along = math.hypot(limits.tip_mm, limits.half_thickness_mm)
    # About the balance point a body's inertia is at most that of two halves at its two ends.
    reach = {"twist": across, "recoil": along / 2, "spin": math.hypot(along / 2, across)}.get(
        figure, 2 * along
    )
    most = mass_g * reach**2 / KGCM2_GMM2
    if value > most:
        raise ReadingError(
            f"the {what} means {value:.4g} kg·cm², but a racquet of this size and weight has at most "
            f"{most:.4g}: check the unit and measure it again"
        )
