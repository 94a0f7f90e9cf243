"""Whether the readings agree with each other and with what such racquets are like, in plain words."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.calibrate import Calibration, calibrate, view_of
from model.errors import ModelError
from model.observe import SCALE, Observation, observations

Array = NDArray[np.float64]

UNLIKELY = 0.01  # sound readings disagree this much in one racquet of a hundred
PULL_WORTH_NAMING = 2.5  # sds; the reading to measure again
PULL_OF_A_SLIP = 10.0  # sds; no careless measuring, but a wrong unit or digit


@dataclass(frozen=True)
class Pull:
    """How far one reading is from what everything else says, without it.

    ``others_say`` and ``others_sd`` are in the reading's ``unit``; ``sds`` counts its own sd too.
    """

    reading: int
    name: str
    unit: str
    observed: float
    others_say: float
    others_sd: float
    sds: float


@dataclass(frozen=True)
class Consistency:
    """Chi-square of all readings under the model, its degrees of freedom and chance, and each one's pull."""

    chi_square: float
    freedom: int
    chance: float
    pulls: tuple[Pull, ...]
    words: tuple[str, ...]


def consistency(found: Calibration) -> Consistency:
    """Judge a calibration's readings.

    The chi-square is the least sum of squares, of readings and prior together; for a linear
    Gaussian model it follows the chi-square law with as many degrees as there are numbers read.
    A pull leaves one number out without solving again: with residual e and the number's leverage h, both in
    its sds, the others miss it by e / (1 - h), whose sd is √(1 / (1 - h)) (Cook and Weisberg 1982). That
    holds while the slopes do; where it is large all else is solved anew, without the whole reading.
    """
    from scipy.special import gammaincc

    seen = found.seen
    off = np.array([(one.observed - one.predicted) / one.sd for one in seen])
    mean, cov = found.parts.prior()
    away, scale = found.state[:-1] - mean, found.state[-1]
    prior = away @ np.linalg.solve(cov, away) + scale**2
    chi_square, freedom = float(off @ off + prior), len(seen)
    chance = float(gammaincc(freedom / 2, chi_square / 2)) if freedom else 1.0
    slopes = found.seen_by_state / np.array([[one.sd] for one in seen]) if seen else found.seen_by_state
    free = 1 - np.einsum("mi,ij,mj->m", slopes, found.cov, slopes)
    pulls = tuple(_pull(one, e, f) for one, e, f in zip(seen, off, free, strict=True))
    pulls = _solved_again(found, pulls)
    return Consistency(chi_square, freedom, chance, pulls, tuple(_words(chance, pulls)))


def _pull(one: Observation, off: float, free: float) -> Pull:
    free = max(free, 1e-12)  # a reading that alone decides its figure has nothing to be compared with
    others_say = one.observed - off * one.sd / free
    others_sd = one.sd * float(np.sqrt(max(1 / free - 1, 0.0)))
    return Pull(
        one.reading, one.name, one.unit, one.observed, others_say, others_sd, float(off / np.sqrt(free))
    )


def _solved_again(found: Calibration, pulls: tuple[Pull, ...]) -> tuple[Pull, ...]:
    """The pulls, those worth naming from the other readings' own solution."""
    anew: dict[int, list[Pull]] = {}
    for number in {pull.reading for pull in pulls if abs(pull.sds) > PULL_WORTH_NAMING}:
        with suppress(ModelError):  # what the others say alone may not settle
            anew[number] = _left_out(found, number)
    return tuple(anew[pull.reading].pop(0) if pull.reading in anew else pull for pull in pulls)


def _left_out(found: Calibration, number: int) -> list[Pull]:
    """A reading's pulls, in the order of its numbers, against the calibration without it."""
    one = found.readings[number]
    others = [
        r.model_copy(update={"used": False}) if i == number else r for i, r in enumerate(found.readings)
    ]
    scale_sd = float(found.view_by_state[SCALE, -1])
    without = calibrate(found.parts, others, scale_sd)
    view, by_state = view_of(found.parts, without.state, scale_sd, one.on)
    pulls = []
    for row in observations((one,), view):
        slopes = row.slopes @ by_state
        sd = float(np.sqrt(slopes @ without.cov @ slopes))
        sds = (row.observed - row.predicted) / float(np.hypot(sd, row.sd))
        pulls.append(Pull(number, row.name, row.unit, row.observed, float(row.predicted), sd, float(sds)))
    return pulls


def _digits(value: float, digits: int) -> str:
    """A number to so many digits, never as a power of ten."""
    return f"{float(f'{value:.{digits}g}'):.10g}"


def _words(chance: float, pulls: tuple[Pull, ...]) -> list[str]:
    if chance >= UNLIKELY or not pulls:
        return []
    worst = max(pulls, key=lambda pull: abs(pull.sds))
    if abs(worst.sds) < PULL_WORTH_NAMING:
        return [
            "the readings do not agree with each other and no single one stands out: check the construction, "
            "the thicknesses and the outline, then measure again"
        ]
    names = list(dict.fromkeys(pull.name for pull in pulls if pull.reading != worst.reading))
    others = ", ".join([*names, "outline"][:-1]) + " and outline" if names else "the outline"
    miss = abs(worst.observed - worst.others_say)
    unit_too = ", and check its unit" if abs(worst.sds) > PULL_OF_A_SLIP else ""
    unit, _, rest = worst.unit.partition(" for ")
    rest = f" for {rest}" if rest else ""
    expected = f"{_digits(worst.others_say, 4)} ± {_digits(worst.others_sd, 2)} {unit}{rest}"
    shown = f"{_digits(worst.observed, 4)} {unit}"
    read = f"{worst.name}, read as {shown}," if " at " in worst.name else f"{worst.name} reading {shown}"
    return [
        f"the {read} is {_digits(miss, 2)} {unit} from "
        f"what {others} together say ({expected}): measure it again{unit_too}"
    ]
