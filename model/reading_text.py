"""Readings as people type them: ``231g``, ``pivot 30mm, 20 swings, 21.86s``, and so on.

A reading is a list of clauses parted by commas, each a word and a quantity or a quantity alone;
their order does not matter. ``sd`` states the standard deviation, ``within`` limits that the error
never passes, else the sd follows from the last digit and what is usual for the way of measuring.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import suppress
from itertools import combinations
from typing import Any, cast

from pydantic import ValidationError

from model.errors import ModelError, ReadingError
from model.reading_clauses import EXAMPLES, Clauses
from model.readings import READING, BalanceReading, Reading, WeightReading
from model.spelling import parse_piece
from model.units import Typed, parse_angle, parse_inertia, parse_length, parse_mass, parse_time

SCALE_SD_FLOOR_G = 0.2  # a kitchen scale's own error when it shows tenths
BALANCE_SD_FLOOR_MM = 1.0  # finding the balance point on a straight edge by hand
TAPE_SD_FLOOR_MM = 1.0  # a tape or ruler held against rounded ends
MACHINE_RELATIVE_SD = 0.005  # an inertia machine in good order, of its reading
PUBLISHED_RELATIVE_SD = {  # one racquet of a model against another and against the published round number
    "weight": 0.02,
    "balance": 0.015,
    "swing": 0.03,
    "twist": 0.05,
    "recoil": 0.04,
    "spin": 0.04,
}
END_PLACE_SD_MM = 2.0  # where a rounded end touches what it rests on
MOST_GAPS = 10  # between words that might lack a comma; all choices of them are tried
FIGURES = ("weight", "balance", "swing", "twist", "recoil", "spin")


def parse_reading(kind: str, text: str) -> Reading:
    """A reading of one kind, as typed. Raises ReadingError or UnitError with one sentence.

    >>> parse_reading("pendulum", "pivot 30mm, 20 swings, 21.86s").mean_s
    21.86
    """
    try:
        return _parsed(kind, text)
    except ModelError:
        if (meant := _with_commas(kind, text)) is None:
            raise
    words = kind.strip().replace("_", " ")
    raise ReadingError(f"the {words} reading {text.strip()!r} lacks a comma: write it like {meant!r}")


def _with_commas(kind: str, text: str) -> str | None:
    """The text with the fewest commas put in that make it a reading, or None."""
    words = text.split()
    gaps = [i for i, word in enumerate(words[:-1]) if not word.endswith(",")]
    if len(gaps) > MOST_GAPS:
        return None
    for count in range(1, len(gaps) + 1):
        for chosen in combinations(gaps, count):
            meant = " ".join(f"{word}," if i in chosen else word for i, word in enumerate(words))
            with suppress(ModelError):
                _parsed(kind, meant)
                return meant
    return None


def _parsed(kind: str, text: str) -> Reading:
    kind = kind.strip().lower().replace("-", "_").replace(" ", "_")
    if kind not in _PARSERS:
        raise ReadingError(f"there is no kind of reading {kind!r}: use one of {', '.join(sorted(_PARSERS))}")
    clauses = Clauses(kind, text)
    used, on = not clauses.flag("unused|not used"), clauses.take(r"with (?:the pieces|pieces ([1-9]\d*)) on")
    pieces = int(on[1] or 1) if on else 1
    even = clauses.limits_to_sd()
    raw = _PARSERS[kind](clauses)
    clauses.done()
    return made_reading({"used": used, "fitted": on is not None, "pieces": pieces, "even": even, **raw})


def made_reading(raw: dict[str, Any]) -> Reading:
    """A reading from its fields as in the racquet file. Raises ReadingError in one sentence."""
    try:
        return READING.validate_python(raw)
    except ValidationError as error:
        first = error.errors()[0]
        kind = str(raw.get("kind", ""))
        field = next((str(name) for name in first["loc"][1:] if isinstance(name, str)), "")
        field = re.sub(r"_(?:mm|deg|s|g)$", "", field).replace("_", " ")
        where = f"'s {field}" if field else ""
        sentence = f"the {kind.replace('_', ' ')} reading{where} {_broken(first['type'], first)}"
        example = f": write it like {EXAMPLES[kind]}" if kind in EXAMPLES else ""
        raise ReadingError(sentence + example) from None


_BOUNDS = {
    "greater_than": ("must be more than", "gt"),
    "greater_than_equal": ("must be at least", "ge"),
    "less_than": ("must be less than", "lt"),
    "less_than_equal": ("must be at most", "le"),
}


def _broken(what: str, first: Any) -> str:
    """Which rule a field breaks, in plain words."""
    if what in _BOUNDS:
        words, key = _BOUNDS[what]
        return f"{words} {first['ctx'][key]:g}, not {first['input']:g}"
    return f"can't be used: {str(first['msg']).removeprefix('Value error, ')}"


def weight_reading(text: str) -> WeightReading:
    """A weight as typed (``231``, ``8.1oz``); its sd is half the last digit's step, at least 0.2 g.

    >>> weight_reading("231").sd
    0.5
    """
    return cast(WeightReading, parse_reading("weight", text))


def balance_reading(text: str) -> BalanceReading:
    """A balance as typed (``238``, ``9.4in``); its sd is half the last digit's step, at least 1 mm.

    >>> balance_reading("238").sd
    1.0
    """
    return cast(BalanceReading, parse_reading("balance", text))


def _repeated(clauses: Clauses, parse: Callable[[str, str], Typed], floor: float) -> dict[str, Any]:
    """Mean, sd and repeats: an sd as stated, else from the last digit and the spread of the repeats."""
    stated = clauses.number(r"(?:sd|±|\+-)\s*(.+)", parse)
    step = clauses.number(r"(?:to the nearest|steps? of)\s*(.+)", parse)
    typed = clauses.quantities(parse)
    values = [one.value for one in typed]
    n, mean = len(values), sum(values) / len(values)
    if not mean > 0:
        clauses.fail(f"must be more than zero, not {mean:g}")
    spread = (sum((v - mean) ** 2 for v in values) / (n - 1)) ** 0.5 if n > 1 else 0.0
    fine = max((step or max(one.step for one in typed)) / 2, spread)
    sd = max(fine / n**0.5, floor) if stated is None else stated
    return {"value": mean, "sd": sd, "repeats": values if n > 1 else []}


def _weight(c: Clauses) -> dict[str, Any]:
    return {"kind": "weight", **_repeated(c, parse_mass, SCALE_SD_FLOOR_G)}


def _balance(c: Clauses) -> dict[str, Any]:
    width = c.number(r"(?:edge|support|pencil) (.+?)(?: wide)?", parse_length)
    return {
        "kind": "balance",
        "support_width_mm": width or 0.0,
        **_repeated(c, parse_length, BALANCE_SD_FLOOR_MM),
    }


def _size(kind: str) -> Callable[[Clauses], dict[str, Any]]:
    return lambda c: {"kind": kind, **_repeated(c, parse_length, TAPE_SD_FLOOR_MM)}


def _scale_check(c: Clauses) -> dict[str, Any]:
    stated = c.number(r"(?:sd|±|\+-)\s*(.+)", parse_mass)
    found = c.take(r"(.+?) (?:shows|reads) (.+)")
    if found is None:
        c.fail("leaves something out")
    shown = parse_mass(found[2], c.words)
    sd = max(shown.step / 2, SCALE_SD_FLOOR_G / 2) if stated is None else stated
    return {
        "kind": "scale_check",
        "known_g": parse_mass(found[1], c.words).value,
        "value": shown.value,
        "sd": sd,
    }


def _supports(c: Clauses) -> dict[str, Any]:
    """What all ways of laying the racquet across supports may state."""
    found = {
        "support_width_mm": c.number(r"supports? (.+?)(?: wide)?", parse_length),
        "place_sd_mm": c.number(r"places? (?:sd|±) (.+)", parse_length),
        "tilt_deg": c.number(r"(?:tip )?tilt(?:ed)? (.+)", parse_angle),
        "height_mm": c.number(r"(?:balance point )?height (.+)", parse_length),
    }
    return {key: value for key, value in found.items() if value is not None}


def _two_supports(c: Clauses) -> dict[str, Any]:
    more = _supports(c)
    block = c.need(r"(?:block|butt block) (?:at )?(.+)", parse_length)
    scale = c.need(r"scale (?:at )?(.+)", parse_length)
    c.left = [re.sub(r"^(?:reads|shows) ", "", clause, flags=re.IGNORECASE) for clause in c.left]
    shown = _repeated(c, parse_mass, SCALE_SD_FLOOR_G)
    return {"kind": "two_supports", "block_mm": block, "scale_mm": scale, **shown, **more}


def _end_reading(scale_under: str) -> Callable[[Clauses], dict[str, Any]]:
    def parse(c: Clauses) -> dict[str, Any]:
        more = {"place_sd_mm": END_PLACE_SD_MM} | _supports(c)
        butt = c.need(r"butt (?:at )?(.+)", parse_length)
        tip = c.need(r"tip (?:at )?(.+)", parse_length)
        block, scale = (butt, tip) if scale_under == "tip" else (tip, butt)
        shown = _repeated(c, parse_mass, SCALE_SD_FLOOR_G)
        return {"kind": "two_supports", "block_mm": block, "scale_mm": scale, **shown, **more}

    return parse


def _two_scales(c: Clauses) -> dict[str, Any]:
    more = _supports(c)
    stated = c.number(r"(?:sd|±|\+-)\s*(.+)", parse_mass)
    pairs = []
    while found := c.take(r"(?:scale )?(?:at )?([^ ]+) (?:reads |shows )?([^ ]+)"):
        pairs.append((parse_length(found[1], c.words).value, parse_mass(found[2], c.words)))
    if len(pairs) != 2:
        c.fail(f"must have two scales, not {len(pairs)}")
    (low_mm, low), (high_mm, high) = sorted(pairs, key=lambda pair: pair[0])
    sd = max(low.step / 2, high.step / 2, SCALE_SD_FLOOR_G) if stated is None else stated
    return {
        "kind": "two_scales",
        "low_mm": low_mm,
        "high_mm": high_mm,
        "low_g": low.value,
        "high_g": high.value,
        "sd": sd,
        **more,
    }


def _timed(c: Clauses) -> dict[str, Any]:
    swings = c.take(r"(\d+) (?:swings?|turns?|periods?)")
    wide = c.take(r"(?:amplitude|angle) (.+?) ?(?:±|\+-) ?(.+)")
    amplitude = c.number(r"(?:amplitude|angle) (.+)", parse_angle)
    sd = c.number(r"(?:time )?(?:sd|±|\+-)\s*(.+)", parse_time)
    times = [one.value for one in c.quantities(parse_time)]
    found: dict[str, Any] = {"swings": int(swings[1]) if swings else 1, "times_s": times}
    if wide is not None:
        found["amplitude_deg"] = parse_angle(wide[1], c.words).value
        found["amplitude_sd_deg"] = parse_angle(wide[2], c.words).value
    elif amplitude is not None:
        found |= {"amplitude_deg": amplitude, "amplitude_sd_deg": max(0.1 * amplitude, 0.5)}
    return found | ({} if sd is None else {"time_sd_s": sd})


def _pendulum(c: Clauses) -> dict[str, Any]:
    radius = c.number(r"(?:pivot )?radius (.+)", parse_length)
    pivot_sd = c.number(r"pivot (?:sd|±) (.+)", parse_length)
    pivot = c.need(r"pivot (?:at )?(.+)", parse_length)
    edge = c.flag(r"edge(?:ways| first| leads)?")
    c.flag(r"face(?: first| leads)?")
    air = c.flag(r"in (?:the )?air")
    found = {"kind": "pendulum", "pivot_mm": pivot, "leads": "edge" if edge else "face", "in_air": air}
    found |= _timed(c)
    extra = {"pivot_radius_mm": radius, "pivot_sd_mm": pivot_sd}
    return found | {key: value for key, value in extra.items() if value is not None}


def _bifilar(c: Clauses) -> dict[str, Any]:
    figure = c.take(r"(twist|recoil|spin)(?: weight)?")
    found: dict[str, Any] = {
        "kind": "bifilar",
        "figure": figure[1].lower() if figure else c.fail("must name twist, recoil or spin"),
        "thread_mm": c.need(r"(?:threads?|length) (.+)", parse_length),
        "spacing_mm": c.need(r"(?:bottom )?spac(?:ing|ed) (.+)", parse_length),
    }
    top = c.number(r"top (?:spac(?:ing|ed) )?(.+)", parse_length)
    offset_sd = c.number(r"(?:off middle|offset) (?:sd|±|\+-)\s*(.+)", parse_length)
    offset = c.number(r"(?:off middle|offset) (.+)", parse_length)
    extra = {"top_spacing_mm": top, "offset_mm": offset, "offset_sd_mm": offset_sd}
    extra["in_air"] = c.flag(r"in (?:the )?air")
    return found | {k: v for k, v in extra.items() if v is not None} | _timed(c)


def _figure_at(c: Clauses) -> tuple[str, str, float | None]:
    """Figure, quantity and axis of ``swing 118.5 at 50mm``."""
    found = c.take(rf"({'|'.join(FIGURES)})(?: weight)? ((?:(?! at ).)+?)(?: at (.+))?")
    if found is None:
        c.fail("must name its figure")
    axis = None if found[3] is None else parse_length(found[3], c.words).value
    return found[1].lower(), found[2], axis


def _machine(c: Clauses) -> dict[str, Any]:
    stated = c.number(r"(?:sd|±|\+-)\s*(.+)", parse_inertia)
    figure, text, axis = _figure_at(c)
    typed = parse_inertia(text, c.words)
    sd = max(typed.step / 2, MACHINE_RELATIVE_SD * typed.value) if stated is None else stated
    return {"kind": "machine", "figure": figure, "axis_mm": axis, "value": typed.value, "sd": sd}


def _published(c: Clauses) -> dict[str, Any]:
    stated = c.take(r"(?:sd|±|\+-)\s*(.+)")
    figure, text, axis = _figure_at(c)
    parse = {"weight": parse_mass, "balance": parse_length}.get(figure, parse_inertia)
    typed = parse(text, c.words)
    sd = PUBLISHED_RELATIVE_SD[figure] * typed.value if stated is None else parse(stated[1], c.words).value
    return {"kind": "published", "figure": figure, "axis_mm": axis, "value": typed.value, "sd": sd}


def _component(c: Clauses) -> dict[str, Any]:
    stated = c.number(r"(?:sd|±|\+-)\s*(.+)", parse_mass)
    counts = not c.flag(r"not counted|does not count|without it")
    c.flag(r"counted|counts")
    # what only a strip has is asked for where one is read: said of a band, it is left over and refused
    if strip := c.take(r"(.*?) ?([^ @]+@.+)"):
        mirror = c.flag(r"mirror")  # "mirrored" is one of the strip's own options
        by_length = c.flag(r"by length")
        slips = c.number(r"places? (?:sd|±) (.+)", parse_length)
        text = ", ".join([strip[2], *c.left])
        c.left = []
        piece = parse_piece(text)
        mass = piece.mass_g * (2 if mirror or piece.mirror else 1)
        place: dict[str, Any] = {"name": strip[1] or "tape", "strip": text, "mirror": mirror}
        place |= {"by_length": by_length} | ({} if slips is None else {"place_sd_mm": slips})
        step = 0.2
    else:
        pattern = r"([a-z][a-z _-]*?) ([\d.]+ ?[a-z]*)(?: from (.+?) to (.+))?"
        found = c.take(pattern)
        if found is None:
            c.fail("leaves something out")
        typed = parse_mass(found[2], c.words)
        mass, step = typed.value, typed.step
        ends = [None if t is None else parse_length(t, c.words).value for t in (found[3], found[4])]
        place = {"name": found[1].strip(), "from_mm": ends[0], "to_mm": ends[1]}
    sd = max(step / 2, 0.1) if stated is None else stated
    return {"kind": "component", "value": mass, "sd": sd, "counts": counts, **place}


_PARSERS: dict[str, Callable[[Clauses], dict[str, Any]]] = {
    "weight": _weight,
    "balance": _balance,
    "scale_check": _scale_check,
    "two_supports": _two_supports,
    "two_scales": _two_scales,
    "head_reading": _end_reading("tip"),
    "butt_reading": _end_reading("butt"),
    "pendulum": _pendulum,
    "bifilar": _bifilar,
    "machine": _machine,
    "published": _published,
    "component": _component,
    "length": _size("length"),
    "width": _size("width"),
}
KINDS = tuple(_PARSERS)
