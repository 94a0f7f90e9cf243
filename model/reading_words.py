"""Readings back as text: what :func:`model.reading_text.parse_reading` reads, and short names for people."""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import suppress
from typing import Any

from model.errors import ModelError
from model.reading_text import parse_reading
from model.readings import PLACE_SD_MM, Reading

NAMES = {
    "weight": "weight",
    "balance": "balance",
    "scale_check": "scale check",
    "two_supports": "two supports",
    "two_scales": "two scales",
    "pendulum": "pendulum",
    "bifilar": "two threads",
    "machine": "machine",
    "published": "published",
    "component": "component",
    "length": "length",
    "width": "width",
}
"""What each kind is called."""


def spell(reading: Reading) -> str:
    """The reading's clauses; ``parse_reading(reading.kind, spell(reading))`` gives it back.

    A note, and sds that cannot be typed, are left out.
    """
    clauses = _SPELLERS[reading.kind](reading)
    if reading.even:
        clauses = [_as_limits(clause) for clause in clauses]
    clauses = [*clauses, *_on(reading)]
    return ", ".join(clauses if reading.used else [*clauses, "not used"])


def _on(reading: Reading) -> list[str]:
    if not reading.fitted:
        return []
    return ["with the pieces on" if reading.pieces == 1 else f"with pieces {reading.pieces} on"]


def _as_limits(clause: str) -> str:
    found = re.fullmatch(r"sd ([\d.e-]+)(.*)", clause)
    return clause if found is None else f"within {float(found[1]) * 3**0.5:.8g}{found[2]}"


def _n(value: float) -> str:
    return f"{value:.10g}"


def _values(r: Any, unit: str) -> list[str]:
    return [*(f"{_n(v)}{unit}" for v in (r.repeats or [r.value])), f"sd {_n(r.sd)}{unit}"]


def _weight(r: Any) -> list[str]:
    return _values(r, "g")


def _balance(r: Any) -> list[str]:
    edge = [f"edge {_n(r.support_width_mm)}mm"] if r.support_width_mm else []
    return [*_values(r, "mm"), *edge]


def _size(r: Any) -> list[str]:
    return _values(r, "mm")


def _scale_check(r: Any) -> list[str]:
    return [f"{_n(r.known_g)}g shows {_n(r.value)}g", f"sd {_n(r.sd)}g"]


def _level(r: Any) -> list[str]:
    return [
        f"place sd {_n(r.place_sd_mm)}mm",
        f"support {_n(r.support_width_mm)}mm",
        f"tilt {_n(r.tilt_deg)}deg",
        f"height {_n(r.height_mm)}mm",
    ]


def _two_supports(r: Any) -> list[str]:
    return [f"block {_n(r.block_mm)}mm", f"scale {_n(r.scale_mm)}mm", *_values(r, "g"), *_level(r)]


def _two_scales(r: Any) -> list[str]:
    low, high = f"{_n(r.low_mm)}mm {_n(r.low_g)}g", f"{_n(r.high_mm)}mm {_n(r.high_g)}g"
    return [low, high, f"sd {_n(r.sd)}g", *_level(r)]


def _timed(r: Any) -> list[str]:
    return [
        f"{r.swings} swings",
        *(f"{_n(t)}s" for t in r.times_s),
        f"sd {_n(r.time_sd_s)}s",
        f"amplitude {_n(r.amplitude_deg)}deg ± {_n(r.amplitude_sd_deg)}deg",
    ]


def _pendulum(r: Any) -> list[str]:
    radius = [f"radius {_n(r.pivot_radius_mm)}mm"] if r.pivot_radius_mm else []
    pivot = [f"pivot {_n(r.pivot_mm)}mm", f"pivot ± {_n(r.pivot_sd_mm)}mm"]
    return [*pivot, *radius, *_timed(r), f"{r.leads} leads", *_air(r)]


def _air(r: Any) -> list[str]:
    return ["in air"] if r.in_air else []


def _bifilar(r: Any) -> list[str]:
    top = [f"top {_n(r.top_spacing_mm)}mm"] if r.top_spacing_mm is not None else []
    offset = [f"offset {_n(r.offset_mm)}mm"] if r.offset_mm else []
    offset += [f"offset ± {_n(r.offset_sd_mm)}mm"]
    spans = [f"threads {_n(r.thread_mm)}mm", f"spacing {_n(r.spacing_mm)}mm"]
    return [r.figure, *spans, *top, *offset, *_timed(r), *_air(r)]


def _figure(r: Any) -> list[str]:
    unit = {"weight": "g", "balance": "mm"}.get(r.figure, "kgcm2")
    at = "" if r.axis_mm is None else f" at {_n(r.axis_mm)}mm"
    return [f"{r.figure} {_n(r.value)}{unit}{at}", f"sd {_n(r.sd)}{unit}"]


def _component(r: Any) -> list[str]:
    more = [f"sd {_n(r.sd)}g"] + ([] if r.counts else ["not counted"])
    if r.strip is not None:
        slips = [] if r.place_sd_mm == PLACE_SD_MM else [f"place sd {_n(r.place_sd_mm)}mm"]
        cut = ["by length"] if r.by_length else []
        return [f"{r.name} {r.strip}", *(["mirror"] if r.mirror else []), *cut, *slips, *more]
    place = "" if r.from_mm is None else f" from {_n(r.from_mm)}mm to {_n(r.to_mm)}mm"
    return [f"{r.name} {_n(r.value)}g{place}", *more]


_SPELLERS: dict[str, Callable[[Any], list[str]]] = {
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
    "length": _size,
    "width": _size,
}


def brief(reading: Reading) -> str:
    """What was read, without what is not known of it, for a sentence."""
    shown = ", ".join([*_kept(reading), *_on(reading)])
    return re.sub(r"\d+\.\d{3,}", lambda digits: f"{float(digits[0]):.6g}", shown)


def listed(reading: Reading) -> str:
    """What was read, and of how sure it is what would not follow from that, for a table's cell."""
    known = _doubts(_typed_again(reading, _kept(reading)))
    return ", ".join([brief(reading), *(clause for clause in _doubts(reading) if clause not in known)])


def _kept(reading: Reading) -> list[str]:
    """The clauses that say what was read."""
    return [c for i, c in enumerate(_SPELLERS[reading.kind](reading)) if not _is_doubt(c, first=i == 0)]


_TOLD_ANYHOW = re.compile(
    r"(sd|pivot ±|offset ±|place sd) .*|by length|amplitude 5deg ± 3deg|support 0mm|tilt 0deg|height 10mm"
    r"|face leads"
)


def _is_doubt(clause: str, first: bool) -> bool:
    """Whether a clause says only how sure a reading is or what is usual; the first one never does."""
    return not first and _TOLD_ANYHOW.fullmatch(clause) is not None


def _typed_again(reading: Reading, clauses: list[str]) -> Reading:
    """The reading that these clauses alone would make; the reading itself where they make none."""
    with suppress(ModelError):
        return parse_reading(reading.kind, ", ".join(clauses))
    return reading


def _doubts(reading: Reading) -> list[str]:
    """The clauses that say how sure a reading is, to three digits."""
    clauses = _SPELLERS[reading.kind](reading)
    doubts = [c for i, c in enumerate(clauses) if _is_doubt(c, first=i == 0)]
    doubts = [_as_limits(c) for c in doubts] if reading.even else doubts
    return [re.sub(r"\d+(?:\.\d+)?(?:e-?\d+)?", lambda n: f"{float(n[0]):.3g}", c) for c in doubts]
