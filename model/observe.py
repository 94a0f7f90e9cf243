"""What each reading should have shown if the racquet were as the model says, and how that would change.

A model state comes down to a :class:`View`: the five figures of the body as it was measured, the
scale's error, the outline's relative change of size, the part masses. Each reading is one or two
numbers that follow from these; what else is uncertain in it (where the pivot is, how level it
lay) goes into its sd.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from model.air import NO_AIR, RELATIVE_SD, Air
from model.figures import KGCM2_GMM2
from model.readings import (
    BifilarReading,
    ComponentReading,
    MachineReading,
    PendulumReading,
    PublishedReading,
    Reading,
    Timed,
    TwoScalesReading,
    TwoSupportsReading,
    plain_name,
)
from model.supports import scale_shows_g, width_sd_mm
from model.swinging import amplitude_factor, bifilar_lever_mm, bifilar_period_s, pendulum_period_s

Array = NDArray[np.float64]

# Places in a view's gradient; the parts' masses follow.
MASS, BALANCE, RECOIL, TWIST, SPIN, SCALE, ALONG, ACROSS = range(8)
PARTS_FROM = 8
LEAST_GYRATION_MM2 = 1.0  # an estimate on its way may pass below zero, where no period exists
SHORTEST_ARM_MM = 1.0  # nearer to the balance point a pendulum hardly swings: keeps the period finite
BODY_PLACE = {"weight": MASS, "balance": BALANCE, "recoil": RECOIL, "twist": TWIST, "spin": SPIN}


@dataclass(frozen=True, eq=False)
class View:
    """What readings see: ``body`` (5,) in BODY_ORDER, relative errors, part masses (n,).

    ``names`` are those of the construction's own parts, which come first in ``mass_g``.
    """

    body: Array
    scale: float
    along: float
    across: float
    names: tuple[str, ...]
    mass_g: Array
    length_mm: float
    width_mm: float
    air: Air = NO_AIR


@dataclass(frozen=True, eq=False)
class Observation:
    """One number of a reading: ``observed`` and ``predicted`` in ``unit``, sd, slopes (8 + n,).

    ``even_sd`` is the part of the sd that comes from an error within limits (see ``ReadingBase``).
    """

    reading: int
    name: str
    unit: str
    observed: float
    predicted: float
    sd: float
    slopes: Array
    even_sd: float = 0.0


def observations(readings: tuple[Reading, ...], view: View, pieces: int | None = None) -> list[Observation]:
    """The used readings' numbers as this view predicts them, in the readings' order.

    With ``pieces`` only those taken with that set of added pieces on, or with 0 those without any.
    """
    return [
        Observation(i, *row, even_sd=min(_even_sd(reading), row[4]))
        for i, reading in enumerate(readings)
        if reading.used and pieces in (None, reading.on)
        for row in _rows(reading, view)
    ]


def _even_sd(reading: Reading) -> float:
    """The sd of what is within limits in a reading; the mean of several timed runs is as good as normal."""
    if not reading.even:
        return 0.0
    if isinstance(reading, Timed):
        return reading.time_sd_s if len(reading.times_s) == 1 else 0.0
    return reading.sd


Row = tuple[str, str, float, float, float, Array]  # name, unit, observed, predicted, sd, slopes


def _rows(reading: Reading, view: View) -> Iterator[Row]:
    yield from _OBSERVERS[reading.kind](reading, view)


def _slopes(view: View, **places: float) -> Array:
    found = np.zeros(PARTS_FROM + len(view.mass_g))
    for name, slope in places.items():
        found[_NAMED[name]] = slope
    return found


_NAMED = {"mass": MASS, "balance": BALANCE, "recoil": RECOIL, "twist": TWIST, "spin": SPIN, "scale": SCALE}


def _weight(r: Any, view: View) -> Iterator[Row]:
    mass, gain = view.body[MASS], 1 + view.scale
    yield "weight", "g", r.value, mass * gain, r.sd, _slopes(view, mass=gain, scale=mass)


def _balance(r: Any, view: View) -> Iterator[Row]:
    sd = math.hypot(r.sd, width_sd_mm(r.support_width_mm))
    yield "balance", "mm", r.value, view.body[BALANCE], sd, _slopes(view, balance=1.0)


def _scale_check(r: Any, view: View) -> Iterator[Row]:
    yield "scale check", "g", r.value, r.known_g * (1 + view.scale), r.sd, _slopes(view, scale=r.known_g)


def _two_supports(r: TwoSupportsReading, view: View) -> Iterator[Row]:
    shown, laid_sd, slopes = _load(r, view, r.block_mm, r.scale_mm)
    yield "two supports", "g", r.value, shown, math.hypot(r.sd, laid_sd), slopes


def _two_scales(r: TwoScalesReading, view: View) -> Iterator[Row]:
    """Sum and difference of the two scales, whose errors are independent of each other.

    Both always carry the whole racquet, so what is laid wrong takes from one what it gives to the other.
    """
    upper, laid_sd, by_upper = _load(r, view, r.low_mm, r.high_mm)
    lower, _, by_lower = _load(r, view, r.high_mm, r.low_mm)
    sd = math.sqrt(2) * r.sd
    yield "two scales' sum", "g", r.high_g + r.low_g, upper + lower, sd, by_upper + by_lower
    differ = math.hypot(sd, 2 * laid_sd)
    yield "two scales' difference", "g", r.high_g - r.low_g, upper - lower, differ, by_upper - by_lower


def _load(
    r: TwoSupportsReading | TwoScalesReading, view: View, block: float, scale: float
) -> tuple[float, float, Array]:
    """What the scale shows, the sd of that by how exactly the racquet is laid on both, and its slopes."""
    mass, balance = view.body[:2]
    gain, apart = 1 + view.scale, scale - block
    shown = gain * scale_shows_g(mass, balance, block, scale, r.tilt_deg, r.height_mm)
    place = math.hypot(r.place_sd_mm, width_sd_mm(r.support_width_mm))
    by_tilt = gain * mass * r.height_mm / math.cos(math.radians(r.tilt_deg)) ** 2 / apart
    laid_sd = math.sqrt(
        (place * (gain * mass - shown) / apart) ** 2  # the block out of place
        + (place * shown / apart) ** 2  # the scale out of place
        + (by_tilt * math.radians(r.tilt_sd_deg)) ** 2
    )
    return shown, laid_sd, _slopes(view, mass=shown / mass, balance=gain * mass / apart, scale=shown / gain)


def _time_sd(r: Timed) -> float:
    """Sd of the mean run: the stopwatch's, or the runs' spread where that is more; and the amplitude's."""
    spread = float(np.std(r.times_s, ddof=1)) if len(r.times_s) > 1 else 0.0
    by_angle = r.amplitude_deg / 8 * r.amplitude_sd_deg * math.radians(1) ** 2  # d(θ²/16), θ in radians
    return math.hypot(max(r.time_sd_s, spread) / math.sqrt(len(r.times_s)), r.mean_s * by_angle)


def _pendulum(r: PendulumReading, view: View) -> Iterator[Row]:
    mass, balance = view.body[:2]
    central, name = (view.body[RECOIL], "recoil") if r.leads == "face" else (view.body[SPIN], "spin")
    arm = balance - r.pivot_mm
    side, arm = (1.0 if arm > 0 else -1.0), max(abs(arm), SHORTEST_ARM_MM)
    air = view.air.inertia_kgcm2(r.pivot_mm) if r.in_air and r.leads == "face" else 0.0
    inertia = max(central, _least(mass)) + mass * arm**2 / KGCM2_GMM2 + air
    period = pendulum_period_s(inertia, mass, arm, r.pivot_radius_mm)
    time = r.swings * period * amplitude_factor(r.amplitude_deg)
    # Half the slopes of log I - log M - log(arm + radius), times the time.
    by_inertia = time / (2 * inertia)
    by_arm = by_inertia * 2 * mass * arm / KGCM2_GMM2 - time / (2 * (arm + r.pivot_radius_mm))
    slopes = _slopes(
        view,
        mass=by_inertia * arm**2 / KGCM2_GMM2 - time / (2 * mass),
        balance=side * by_arm,
        **{name: by_inertia},
    )
    sd = math.hypot(_time_sd(r), by_arm * r.pivot_sd_mm, by_inertia * RELATIVE_SD * air)
    yield "pendulum", f"s for {r.swings} swings", r.mean_s, time, sd, slopes


def _least(mass_g: float) -> float:
    return mass_g * LEAST_GYRATION_MM2 / KGCM2_GMM2


def _bifilar(r: BifilarReading, view: View) -> Iterator[Row]:
    mass = view.body[MASS]
    air = bifilar_air_kgcm2(r, view.air, view.body[BALANCE]) if r.in_air else 0.0
    inertia = max(view.body[BODY_PLACE[r.figure]], _least(mass)) + air
    lever = bifilar_lever_mm(r.thread_mm, r.spacing_mm, r.top_spacing_mm, r.offset_mm)
    time = r.swings * bifilar_period_s(inertia, mass, lever) * amplitude_factor(r.amplitude_deg)
    slopes = _slopes(view, mass=-time / (2 * mass), **{r.figure: time / (2 * inertia)})
    sd = math.hypot(_time_sd(r), time * _lever_sd(r) / 2, time * RELATIVE_SD * air / (2 * inertia))
    yield f"bifilar {r.figure}", f"s for {r.swings} swings", r.mean_s, time, sd, slopes


def _lever_sd(r: BifilarReading) -> float:
    """Relative sd of the lever D d / (4 h) · (1 - (2 o / d)²).

    An offset that is not stated is a few mm at most, and then of second order: it is left out.
    """
    top = r.spacing_mm if r.top_spacing_mm is None else r.top_spacing_mm
    loaded = (2 * r.offset_mm / r.spacing_mm) ** 2
    return math.hypot(
        r.thread_sd_mm / r.thread_mm,
        r.spacing_sd_mm / top,
        r.spacing_sd_mm / r.spacing_mm * (1 + loaded) / (1 - loaded),
        r.offset_sd_mm * 8 * r.offset_mm / r.spacing_mm**2 / (1 - loaded),
    )


def bifilar_air_kgcm2(r: BifilarReading, air: Air, balance_mm: float) -> float:
    """The inertia that the air adds to a racquet turned on two threads: none in the face's own plane."""
    return {"recoil": air.inertia_kgcm2(balance_mm), "twist": air.twist_kgcm2, "spin": 0.0}[r.figure]


def _figure(r: MachineReading | PublishedReading, view: View) -> Iterator[Row]:
    name = f"{r.figure} weight" if r.figure not in ("weight", "balance") else r.figure
    name = f"published {name}" if isinstance(r, PublishedReading) else f"machine's {name}"
    unit = {"weight": "g", "balance": "mm"}.get(r.figure, "kg·cm²")
    if r.figure == "swing":
        name += f" at {r.axis_mm or 0.0:g} mm"
        mass, balance = view.body[:2]
        arm = balance - (r.axis_mm or 0.0)
        predicted = view.body[RECOIL] + mass * arm**2 / KGCM2_GMM2
        by_mass, by_balance = arm**2 / KGCM2_GMM2, 2 * mass * arm / KGCM2_GMM2
        slopes = _slopes(view, recoil=1.0, mass=by_mass, balance=by_balance)
    else:
        predicted = float(view.body[BODY_PLACE[r.figure]])
        slopes = _slopes(view, **{"mass" if r.figure == "weight" else r.figure: 1.0})
    yield name, unit, r.value, predicted, r.sd, slopes


def _component(r: ComponentReading, view: View) -> Iterator[Row]:
    part = own_part(r, view.names)
    if part is not None:  # any other component is a part of its own, with this mass as its prior
        place = view.names.index(part)
        slopes = _slopes(view)
        slopes[PARTS_FROM + place] = 1.0
        yield r.name, "g", r.value, float(view.mass_g[place]), r.sd, slopes


def own_part(r: ComponentReading, names: tuple[str, ...]) -> str | None:
    """Which of the construction's own parts a component is as a whole, or None.

    ``Butt cap``, ``butt-cap`` and ``buttcap`` are all ``butt_cap``.
    """
    if r.strip is not None or r.from_mm is not None:
        return None
    return next((name for name in names if plain_name(name) == plain_name(r.name)), None)


def _length(r: Any, view: View) -> Iterator[Row]:
    slopes = _slopes(view)
    slopes[ALONG] = view.length_mm
    yield "length", "mm", r.value, view.length_mm * (1 + view.along), r.sd, slopes


def _width(r: Any, view: View) -> Iterator[Row]:
    slopes = _slopes(view)
    slopes[ACROSS] = view.width_mm
    yield "width", "mm", r.value, view.width_mm * (1 + view.across), r.sd, slopes


_OBSERVERS: dict[str, Callable[[Any, View], Iterator[Row]]] = {
    "weight": _weight,
    "balance": _balance,
    "scale_check": _scale_check,
    "two_supports": _two_supports,
    "two_scales": _two_scales,
    "pendulum": _pendulum,
    "bifilar": _bifilar,
    "machine": _figure,
    "published": _figure,
    "component": _component,
    "length": _length,
    "width": _width,
}
