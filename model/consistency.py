"""Whether the readings agree with each other and with what such racquets are like, in plain words."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.calibrate import Calibration, calibrate, view_of
from model.errors import ModelError
from model.observe import SCALE, Observation, observations
from model.unlike import unlike_in, with_wider_prior

Array = NDArray[np.float64]

UNLIKELY = 0.01  # sound readings disagree this much in one racquet of a hundred
PULL_WORTH_NAMING = 2.5  # sds; the reading to measure again
PULL_OF_A_SLIP = 10.0  # sds; no careless measuring, but a wrong unit or digit
NO_SINGLE_ONE = (
    "the readings do not agree with each other and no single one stands out: check the construction, "
    "the thicknesses and the outline, then measure again"
)


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

    Where the chance is small either a reading is off or the racquet is unlike the usual one. A reading is
    suspected if the rest agrees without it; the racquet, if all agree where less is assumed of it
    (see ``unlike``).
    """
    chi_square, chance = _chance(found)
    left = _left_out_in_turn(found, _pulls_by_slopes(found))
    words = _words(found, left) if chance < UNLIKELY and left.pulls else ()
    return Consistency(chi_square, len(found.seen), chance, left.pulls, words)


@dataclass(frozen=True)
class _LeftOut:
    """The pulls, and which readings' absence makes the rest agree."""

    pulls: tuple[Pull, ...]
    suspects: frozenset[int]

    @property
    def worst(self) -> Pull:
        return max(self.pulls, key=lambda pull: abs(pull.sds))


def _chance(found: Calibration) -> tuple[float, float]:
    """The chi-square and its chance."""
    from scipy.special import gammaincc

    off = np.array([(one.observed - one.predicted) / one.sd for one in found.seen])
    mean, cov = found.parts.prior()
    away, scale = found.state[:-1] - mean, found.state[-1]
    prior = away @ np.linalg.solve(cov, away) + scale**2
    chi_square, freedom = float(off @ off + prior), len(off)
    return chi_square, float(gammaincc(freedom / 2, chi_square / 2)) if freedom else 1.0


def _pulls_by_slopes(found: Calibration) -> tuple[Pull, ...]:
    seen = found.seen
    off = np.array([(one.observed - one.predicted) / one.sd for one in seen])
    slopes = found.seen_by_state / np.array([[one.sd] for one in seen]) if seen else found.seen_by_state
    free = 1 - np.einsum("mi,ij,mj->m", slopes, found.cov, slopes)
    return tuple(_pull(one, e, f) for one, e, f in zip(seen, off, free, strict=True))


def _pull(one: Observation, off: float, free: float) -> Pull:
    free = max(free, 1e-12)  # a reading that alone decides its figure has nothing to be compared with
    others_say = one.observed - off * one.sd / free
    others_sd = one.sd * float(np.sqrt(max(1 / free - 1, 0.0)))
    return Pull(
        one.reading, one.name, one.unit, one.observed, others_say, others_sd, float(off / np.sqrt(free))
    )


def _left_out_in_turn(found: Calibration, pulls: tuple[Pull, ...]) -> _LeftOut:
    """The pulls, those worth naming from the other readings' own solution."""
    anew: dict[int, list[Pull]] = {}
    suspects = set()
    for number in {pull.reading for pull in pulls if abs(pull.sds) > PULL_WORTH_NAMING}:
        with suppress(ModelError):  # what the others say alone may not settle
            without = _without(found, number)
            anew[number] = _against(found, number, without)
            if _chance(without)[1] >= UNLIKELY:
                suspects.add(number)
    pulls = tuple(anew[pull.reading].pop(0) if pull.reading in anew else pull for pull in pulls)
    return _LeftOut(pulls, frozenset(suspects))


def _without(found: Calibration, number: int) -> Calibration:
    """The calibration without one of the readings."""
    others = [
        r.model_copy(update={"used": False}) if i == number else r for i, r in enumerate(found.readings)
    ]
    return calibrate(found.parts, others, float(found.view_by_state[SCALE, -1]))


def _against(found: Calibration, number: int, without: Calibration) -> list[Pull]:
    """A reading's pulls, in the order of its numbers, against the calibration without it."""
    one = found.readings[number]
    scale_sd = float(found.view_by_state[SCALE, -1])
    view, by_state = view_of(found.parts, without.state, scale_sd, one.on)
    pulls = []
    for row in observations((one,), view):
        slopes = row.slopes @ by_state
        sd = float(np.sqrt(slopes @ without.cov @ slopes))
        sds = (row.observed - row.predicted) / float(np.hypot(sd, row.sd))
        pulls.append(Pull(number, row.name, row.unit, row.observed, float(row.predicted), sd, float(sds)))
    return pulls


def _words(found: Calibration, left: _LeftOut) -> tuple[str, ...]:
    """What is off: the worst reading, the racquet itself, or either."""
    told = found.parts.prior_mean is not None  # by racquets of its model
    blamed = _blamed(left.worst, left.pulls, told)
    fitting = _fitting_readings(found)
    if fitting is None:
        return (blamed or NO_SINGLE_ONE,)
    usual = "the others of its model" if told else "the usual one of its construction"
    unlike = f"unlike {usual} ({', '.join(unlike_in(found))})"
    in_doubt = blamed is not None and not _borne_out(left.worst, fitting)
    if in_doubt and len(left.suspects) < 2:
        return (f"{blamed}; if it comes out the same, this racquet is {unlike}",)
    names = dict.fromkeys(pull.name for pull in left.pulls if pull.reading in left.suspects)
    again = f"; if that can't be, measure {' or '.join(names)} again" if in_doubt else ""
    return (f"the readings fit each other, but this racquet is {unlike}{again}",)


def _fitting_readings(found: Calibration) -> Calibration | None:
    """The calibration that assumes less of the racquet, if all readings agree in it."""
    with suppress(ModelError):
        wider = with_wider_prior(found)
        if _chance(wider)[1] >= UNLIKELY:
            return wider
    return None


def _borne_out(worst: Pull, wider: Calibration) -> bool:
    """Whether the others say what the worst reading does, and so surely that the miss would show, once less
    is assumed of the racquet."""
    miss = abs(worst.observed - worst.others_say)
    with suppress(ModelError):
        again = _against(wider, worst.reading, _without(wider, worst.reading))
        one = next(pull for pull in again if pull.name == worst.name)
        sd = abs((one.observed - one.others_say) / one.sds)
        return abs(one.sds) < PULL_WORTH_NAMING < miss / sd
    return False


def _digits(value: float, digits: int) -> str:
    """A number to so many digits, never as a power of ten."""
    return f"{float(f'{value:.{digits}g}'):.10g}"


def _blamed(worst: Pull, pulls: tuple[Pull, ...], told: bool) -> str | None:
    """What to say of the worst reading, if it is far enough off to be named; ``told``: others of its model
    say something, too."""
    if abs(worst.sds) < PULL_WORTH_NAMING:
        return None
    names = list(dict.fromkeys(pull.name for pull in pulls if pull.reading != worst.reading))
    names += ["the others of its model"] if told else []
    others = ", ".join([*names, "outline"][:-1]) + " and outline" if names else "the outline"
    miss = abs(worst.observed - worst.others_say)
    unit_too = ", and check its unit" if abs(worst.sds) > PULL_OF_A_SLIP else ""
    unit, _, rest = worst.unit.partition(" for ")
    rest = f" for {rest}" if rest else ""
    expected = f"{_digits(worst.others_say, 4)} ± {_digits(worst.others_sd, 2)} {unit}{rest}"
    shown = f"{_digits(worst.observed, 4)} {unit}"
    read = f"{worst.name}, read as {shown}," if " at " in worst.name else f"{worst.name} reading {shown}"
    return (
        f"the {read} is {_digits(miss, 2)} {unit} from "
        f"what {others} together say ({expected}): measure it again{unit_too}"
    )
