"""Which further reading would help most: each figure's sd now, and after each possible reading."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.calibrate import Calibration
from model.figures import six_slopes, spread, swing_of
from model.observe import observations
from model.reading_text import made_reading
from model.readings import Reading

Array = NDArray[np.float64]

AS_EXACT = 1.5  # times the sd; a reading less exact than that is worth taking again
HELPS = 0.95  # a reading that leaves every sd above this share of what it is now is not worth the time


@dataclass(frozen=True)
class Prospect:
    """A possible reading and the six figures' sds (in the order of FIGURE_NAMES) if it were taken."""

    name: str
    kind: str
    minutes: int
    sds: tuple[float, ...]


@dataclass(frozen=True)
class _Candidate:
    name: str
    kind: str
    minutes: int
    raw: dict[str, object]


def prospects(found: Calibration, used: tuple[Reading, ...], axis_mm: float) -> list[Prospect]:
    """What each possible reading would leave of the sds, quickest first; those that hardly help left out.

    Taken at the estimate, where a further reading changes no value and its gain is linear:
    C' = C - C s sᵀ C / (sd² + sᵀ C s). A reading like one that is in use already is left out, unless that
    one is far less exact.
    """
    now = np.array(_sds(found, found.cov, axis_mm))
    have = [reading for reading in used if reading.used]
    rows = []
    for candidate in _candidates(found, axis_mm):
        reading = made_reading({"kind": candidate.kind, **candidate.raw})
        if any(_as_good(one, reading) for one in have):
            continue
        cov = found.cov
        for one in observations((reading,), found.view):
            gain = cov @ (one.slopes @ found.view_by_state)
            step = (one.slopes @ found.view_by_state) @ gain
            cov = cov - np.outer(gain, gain) / (one.sd**2 + step)
        sds = np.array(_sds(found, cov, axis_mm))
        if (sds < HELPS * now).any():
            rows.append(Prospect(candidate.name, candidate.kind, candidate.minutes, tuple(sds)))
    return rows


def present(found: Calibration, axis_mm: float) -> tuple[float, ...]:
    """The six figures' sds now."""
    return _sds(found, found.cov, axis_mm)


def _sds(found: Calibration, cov: Array, axis_mm: float) -> tuple[float, ...]:
    slopes = six_slopes(found.body.values, axis_mm) @ found.body_by_state
    return tuple(float(s) for s in spread(slopes, cov))


def _key(reading: Reading) -> tuple[str, str]:
    return reading.kind, str(getattr(reading, "figure", getattr(reading, "leads", "")))


def _as_good(one: Reading, other: Reading) -> bool:
    """Whether the one is of the other's quantity and not far less exact; timed swings never are."""
    sds = [getattr(reading, "sd", 0.0) for reading in (one, other)]
    return _key(one) == _key(other) and sds[0] <= AS_EXACT * sds[1]


def _candidates(found: Calibration, axis_mm: float) -> list[_Candidate]:
    """Possible readings with the sds that a careful person reaches, the quickest first."""
    weight, balance, _, twist = (float(v) for v in found.body.values[:4])
    swing = swing_of(found.body.values, axis_mm)
    length, width = found.view.length_mm, found.view.width_mm
    timed = {"swings": 20, "times_s": [20.0, 20.0, 20.0], "time_sd_s": 0.1}
    threads = {"thread_mm": 900.0, "kind": "bifilar", **timed}

    def machine(figure: str, value: float) -> dict[str, object]:
        axis = axis_mm if figure == "swing" else None
        return {"figure": figure, "axis_mm": axis, "value": value, "sd": 0.005 * value}

    near, far = 0.02 * length, 0.98 * length
    return [
        _Candidate("weight, scale to 1 g", "weight", 1, {"value": weight, "sd": 0.5}),
        _Candidate("weight, scale to 0.1 g", "weight", 1, {"value": weight, "sd": 0.2}),
        _Candidate("balance on an edge", "balance", 2, {"value": balance, "sd": 1.0}),
        _Candidate("length, tape measure", "length", 1, {"value": length, "sd": 1.0}),
        _Candidate("width, tape measure", "width", 1, {"value": width, "sd": 1.0}),
        _Candidate(
            "two supports, scale to 0.1 g",
            "two_supports",
            4,
            {"value": weight / 2, "sd": 0.2, "block_mm": near, "scale_mm": far},
        ),
        _Candidate("pendulum, 3 × 20 swings", "pendulum", 6, {"pivot_mm": axis_mm, **timed}),
        _Candidate(
            "twist on two threads", "bifilar", 12, {**threads, "figure": "twist", "spacing_mm": 100.0}
        ),
        _Candidate(
            "recoil on two threads", "bifilar", 15, {**threads, "figure": "recoil", "spacing_mm": 200.0}
        ),
        _Candidate("spin on two threads", "bifilar", 15, {**threads, "figure": "spin", "spacing_mm": 200.0}),
        _Candidate("swing, inertia machine", "machine", 30, machine("swing", swing)),
        _Candidate("twist machine", "machine", 30, machine("twist", twist)),
    ]
