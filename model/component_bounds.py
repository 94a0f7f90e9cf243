"""Components that are too heavy for the racquet they are on: no positive masses are left for the rest."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from model.bounds import SLACK_SDS, WEIGHT_FACTOR
from model.errors import ReadingError
from model.figures import Body
from model.observe import own_part
from model.parts import Parts
from model.readings import ComponentReading, Reading, TwoScalesReading, WeightReading


def check_components(readings: Sequence[Reading], parts: Parts) -> None:
    """Refuse used components that, weighed with the racquet, leave too little for its ``parts``, and readings
    taken with pieces on of which none is known.

    The parts not weighed themselves weigh at least a third of what is usual, as a whole racquet does.
    Raises ReadingError that names the heaviest.
    """
    used = [r for r in readings if r.used]
    for pieces in sorted({r.on for r in used}):
        on = [r for r in used if isinstance(r, ComponentReading) and r.on in (0, pieces)]
        if pieces and all(r.on == 0 for r in on):
            one = next(r for r in used if r.on == pieces)
            raise ReadingError(
                f"the {one.kind.replace('_', ' ')} reading was taken with pieces on that are not among the "
                "readings: give it to digitise after, with the file that lists the pieces"
            )
        whole = _whole([r for r in used if r.on == pieces])
        if on and (whole is not None or pieces == 0):
            _check(on, whole, parts)


def check_body(body: Body, readings: Sequence[Reading], tip_mm: float) -> None:
    """Refuse figures that no masses can have: what is left of the racquet without pieces that do not count.

    Raises ReadingError that names the heaviest component, or without one all readings, and the first such
    figure.
    """
    _, balance, *inertias = (float(value) for value in body.values)
    wrong = [
        f"has a {name} weight of {value:.2f} kg·cm²"
        for name, value in zip(("recoil", "twist", "spin"), inertias, strict=True)
        if value <= 0
    ]
    if not 0 < balance < tip_mm:
        wrong.insert(0, f"balances at {balance:.0f} mm of {tip_mm:.0f} mm")
    if not wrong:
        return
    on = [r for r in readings if r.used and isinstance(r, ComponentReading) and not r.fitted]
    culprit = f"the component {_named(_heaviest(on))}" if on else "the readings together"
    raise ReadingError(
        f"{culprit} would leave a racquet that {wrong[0]}, as none can: weigh and measure it again"
    )


def _whole(readings: Sequence[Reading]) -> tuple[float, float] | None:
    """What the racquet weighs by its first weighing, g, and its sd."""
    for one in readings:
        if isinstance(one, WeightReading):
            return one.value, one.sd
        if isinstance(one, TwoScalesReading):
            return one.low_g + one.high_g, one.sd * math.sqrt(2)
    return None


def _check(on: Sequence[ComponentReading], whole: tuple[float, float] | None, parts: Parts) -> None:
    """Raise ReadingError where ``on`` is too much for a racquet of ``whole``, g and sd; None: not weighed."""
    most_g = float(np.exp(parts.log_mass).sum()) * WEIGHT_FACTOR
    whole_g, sd_g = (most_g, 0.0) if whole is None else whole
    weighed = {own_part(r, parts.names) for r in on}
    rest = [i for i, name in enumerate(parts.names) if name not in weighed]
    least = float(np.exp(parts.log_mass[rest]).sum()) / WEIGHT_FACTOR
    room = whole_g - least
    slack = SLACK_SDS * math.hypot(sd_g, *(r.sd for r in on))
    if sum(r.value for r in on) <= room + slack:
        return
    racquet = f"in a racquet of {whole_g:.0f} g"
    if whole is None:
        racquet = f"even {racquet}, {WEIGHT_FACTOR:g} times the usual,"
    others = ", ".join(parts.names[i].replace("_", " ") for i in rest)
    rest_too = f" with at least {least:.0f} g for {others}" if rest else ""
    raise ReadingError(
        f"the component {_named(_heaviest(on))} is too heavy: {racquet}{rest_too} all components "
        f"together can be {max(room, 0):.0f} g at most, so check its unit and weigh it again"
    )


def _heaviest(components: Sequence[ComponentReading]) -> ComponentReading:
    return max(components, key=lambda one: one.value)


def _named(component: ComponentReading) -> str:
    return f"{component.name!r} of {component.value:g} g"
