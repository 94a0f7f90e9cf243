"""Readings that no racquet of this outline can give, refused with the bound they break."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from model.errors import ModelError, ReadingError
from model.figures import KGCM2_GMM2
from model.outline import Outline
from model.parts import XX, ZZ, Parts, Y
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
from model.units import LENGTH_UNITS_MM

SIZE_FACTOR = 1.3  # a photo is wrong by a few per cent; more is another racquet or a slip of the unit
WEIGHT_FACTOR = 3.0  # sold racquets of one construction and outline differ by a half; more is a wrong unit
SLACK_SDS = 4.0  # an honest reading lies this far beyond a bound once in ten thousand


@dataclass(frozen=True)
class Limits:
    """Between what the balance point may lie, mm, and how far from the middle plane mass can be."""

    lowest_mm: float
    highest_mm: float
    tip_mm: float
    half_width_mm: float
    half_thickness_mm: float
    least_twist_mm2: float = 0.0
    width_mm: float = 0.0
    usual_g: float = 0.0


def limits_of(outline: Outline, parts: Parts, thickest_mm: float) -> Limits:
    """Limits of an outline with the construction's parts in it.

    A racquet balances between the centres of its handle and of its highest part: to bring it down to the
    handle's a butt would have to be eight of its sds too heavy and all else as far too light. No gram of any
    part is nearer to the long axis than the slenderest part's are on the mean.
    """
    unit = parts.unit
    return Limits(
        lowest_mm=float(unit[parts.names.index("handle"), Y]),
        highest_mm=float(unit[:, Y].max()),
        tip_mm=float(outline.outer_mm[:, 1].max()),
        half_width_mm=float(abs(outline.outer_mm[:, 0]).max()),
        half_thickness_mm=thickest_mm / 2,
        least_twist_mm2=float((unit[:, XX] + unit[:, ZZ]).min()),
        width_mm=outline.width_mm,
        usual_g=float(np.exp(parts.log_mass).sum()),
    )


def check_axis(swing_axis_mm: float, length_mm: float) -> None:
    """Refuse a swing axis further off the racquet than its own length. Raises ModelError."""
    if not -length_mm <= swing_axis_mm <= 2 * length_mm:
        raise ModelError(
            f"the swing axis {swing_axis_mm:g} mm is nowhere near this racquet of {length_mm:.0f} mm: "
            "give mm from the butt, for example 50 or 100"
        )


def check_readings(readings: Sequence[Reading], limits: Limits) -> None:
    """Refuse used readings that no positive masses can give. Raises ReadingError with the bound.

    Weight and balance are looked at first, because the bounds of others hang on them.
    """
    used = sorted((r for r in readings if r.used), key=lambda r: r.kind not in ("weight", "balance"))
    mass, balance = _first(used, "weight"), _first(used, "balance")
    for reading in used:
        if reading.kind == "length":
            _check_size(reading.kind, reading.value, limits.tip_mm)
        elif reading.kind == "width":
            _check_size(reading.kind, reading.value, limits.width_mm)
        elif reading.kind == "weight":
            _check_weight("weight reading", reading.value, limits)
        elif reading.kind == "balance":
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
            _check_weight("two scales reading's weight", total, limits)
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


def _check_size(what: str, value: float, outline_mm: float) -> None:
    low, high = outline_mm / SIZE_FACTOR, outline_mm * SIZE_FACTOR
    if outline_mm and not low < value < high:
        raise ReadingError(
            f"the {what} reading {value:g} mm is nowhere near the outline's {outline_mm:.0f} mm: it must be "
            f"between {low:.0f} and {high:.0f} mm, so measure it again or trace the photo anew"
        )


def _check_weight(what: str, value: float, limits: Limits) -> None:
    low, high = limits.usual_g / WEIGHT_FACTOR, limits.usual_g * WEIGHT_FACTOR
    if limits.usual_g and not low < value < high:
        raise ReadingError(
            f"the {what} {value:g} g is nowhere near what a racquet of this outline and construction weighs, "
            f"between {low:.0f} and {high:.0f} g: check its unit and the construction"
        )


def _check_balance(what: str, value: float, limits: Limits) -> None:
    if limits.lowest_mm < value < limits.highest_mm:
        return
    where = (
        f"beyond the tip at {limits.tip_mm:.0f} mm"
        if value > limits.tip_mm
        else "where no such racquet can balance"
    )
    units = [
        f"{value:.4g}{unit}"
        for unit in ("cm", "in")
        if limits.lowest_mm < value * LENGTH_UNITS_MM[unit] < limits.highest_mm
    ]
    meant = f", or write {' or '.join(units)} if that is meant" if units else ""
    raise ReadingError(
        f"the {what} {value:.4g} mm lies {where}: for this outline it must be between "
        f"{limits.lowest_mm:.0f} and {limits.highest_mm:.0f} mm from the butt, so measure it again{meant}"
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
            f"the pendulum's {r.mean_s:g} s for {_swings(r)} mean {found:.0f} kg·cm² about the "
            f"pivot, but weight and balance alone make at least {least:.0f} there: count and time it again"
        )
    reach = max(abs(limits.tip_mm - r.pivot_mm), abs(r.pivot_mm))
    most = mass[0] * (reach**2 + limits.half_width_mm**2) / KGCM2_GMM2
    if found > most * (1 + SLACK_SDS * relative):
        raise ReadingError(
            f"the pendulum's {r.mean_s:g} s for {_swings(r)} mean {found:.0f} kg·cm² about the "
            f"pivot, but a racquet of this size has at most {most:.0f}: count and time it again"
        )


def _swings(r: PendulumReading) -> str:
    return "one swing" if r.swings == 1 else f"{r.swings} swings"


def _check_figure(
    r: MachineReading | PublishedReading,
    mass: tuple[float, float] | None,
    balance: tuple[float, float] | None,
    limits: Limits,
) -> None:
    what = f"{'published' if isinstance(r, PublishedReading) else 'machine'} {r.figure} reading"
    if r.figure == "weight":
        _check_weight(what, r.value, limits)
    elif r.figure == "balance":
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
    least = 0.5 * mass_g * limits.least_twist_mm2 / KGCM2_GMM2  # half, for insides are uneven
    if figure == "twist" and value < least:
        raise ReadingError(
            f"the {what} means {value:.3g} kg·cm², but a racquet of this shape and weight has at least "
            f"{least:.3g}: check the unit and measure it again"
        )
    if value > most:
        raise ReadingError(
            f"the {what} means {value:.4g} kg·cm², but a racquet of this size and weight has at most "
            f"{most:.4g}: check the unit and measure it again"
        )
