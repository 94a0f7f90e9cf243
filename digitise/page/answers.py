"""What the page is told: sheets, outcomes and problems as plain values."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from digitise.doubt import REST
from digitise.page.drawn import LIVE_TOLERANCE_MM, Problem, Unusable
from digitise.page.edit import Edit
from digitise.page.opened import DOUBT_PREFIX, Sighting
from digitise.page.outcome import Outcome, outcome_of
from digitise.page.tiles import TILE_PX, Extent
from digitise.tone import FloatArray
from model.errors import ModelError
from model.outline import outline_from_rings
from model.racquet_file import RacquetFile, Value

FIGURES = (
    ("weight_g", "weight", "g", 1),
    ("balance_mm", "balance", "mm", 1),
    ("swing_weight_kgcm2", "swing weight", "kg·cm²", 1),
    ("twist_weight_kgcm2", "twist weight", "kg·cm²", 2),
    ("recoil_weight_kgcm2", "recoil weight", "kg·cm²", 1),
    ("spin_weight_kgcm2", "spin weight", "kg·cm²", 1),
)
SIZES = (("length_mm", "length", "mm", 1), ("width_mm", "width", "mm", 1), ("area_cm2", "area", "cm²", 1))
Answer = dict[str, Any]


def told_sheet(key: str, extent: Extent, tip_mm: float, card_mm: FloatArray | None) -> Answer:
    """A sheet: which tiles it has, how long the racquet's axis is drawn, and where the card is seen."""
    return {
        "key": key,
        "left": extent.left_mm,
        "bottom": extent.bottom_mm,
        "right": extent.right_mm,
        "top": extent.top_mm,
        "mmPerPx": extent.mm_per_px,
        "levels": extent.levels,
        "tilePx": TILE_PX,
        "tip": tip_mm,
        "card": None if card_mm is None else _points(card_mm),
    }


def told_outcome(sighting: Sighting, edit: Edit) -> Answer:
    """What an edit means: its figures and what changed, or what is wrong and where."""
    try:
        outcome = outcome_of(sighting, edit, LIVE_TOLERANCE_MM)
    except Unusable as error:
        return {"ok": False, "problems": [_problem(problem) for problem in error.problems]}
    except ModelError as error:
        return {"ok": False, "problems": [{"words": sentence(str(error)), "ring": 0, "at": None}]}
    file = sighting.opened.file
    now = file if edit == sighting.opened.edit else outcome.file
    before = sighting.opened.automatic_now
    return {
        "ok": True,
        "problems": [],
        "construction": file.construction,
        "fromScratch": before is None,
        "sizes": _sizes(now, before),
        "figures": _figures(now, before),
        "touched": _touched(outcome),
        "doubts": [
            {
                "start": _spot(doubt.start_mm),
                "end": _spot(doubt.end_mm),
                "length": round(doubt.record.length_mm, 1),
                "side": doubt.record.side,
                "reason": doubt.record.reason,
                "settled": doubt.settled,
                "byHand": doubt.by_hand,
                "rest": doubt.record.reason == REST,
            }
            for doubt in outcome.doubts
        ],
        "butt": round(float(_butt(outcome, edit)), 4),
        "buttShift": round(_butt_shift(outcome), 3),
        "notes": [sentence(note) for note in now.notes if not note.startswith(DOUBT_PREFIX)],
    }


def sentence(words: str) -> str:
    """Words that say what is wrong, as a sentence; a file's name at its head stays as it is written."""
    words = " ".join(words.split())
    is_name = any(mark in words.partition(" ")[0][:-1] for mark in "./\\")
    head = words[:1] if is_name else words[:1].upper()
    return head + words[1:] + ("" if words.endswith((".", "!", "?")) else ".")


def _sizes(now: RacquetFile, before: RacquetFile | None) -> list[Answer]:
    mine = _size_values(now)
    # With a tape measure's reading the shown size follows the tape, and would differ by no hand's doing.
    old = None if before is None or now.traced_size is not None else _size_values(before)
    return [
        _row(key, name, unit, digits, mine[key], None if old is None else old[key])
        for key, name, unit, digits in SIZES
    ]


def _size_values(file: RacquetFile) -> dict[str, Value]:
    outline = file.outline
    area = outline_from_rings(outline.outer_mm, outline.openings_mm).polygon.area / 100
    relative = np.hypot(
        outline.length_mm.sd / outline.length_mm.value, outline.width_mm.sd / outline.width_mm.value
    )
    return {
        "length_mm": outline.length_mm,
        "width_mm": outline.width_mm,
        "area_cm2": Value(value=area, sd=float(area * relative)),
    }


def _figures(now: RacquetFile, before: RacquetFile | None) -> list[Answer]:
    rows = []
    for key, name, unit, digits in FIGURES:
        value = getattr(now.figures, key)
        old = None if before is None else getattr(before.figures, key)
        label = f"{name} at {value.axis_mm:g} mm" if key == "swing_weight_kgcm2" else name
        rows.append(_row(key, label, unit, digits, value, old))
    return rows


def _row(key: str, name: str, unit: str, digits: int, value: Value, old: Value | None) -> Answer:
    return {
        "key": key,
        "name": name,
        "unit": unit,
        "digits": digits,
        "value": value.value,
        "sd": value.sd,
        "change": None if old is None else value.value - old.value,
    }


def _touched(outcome: Outcome) -> list[Answer]:
    return [
        {
            "start": _spot(stretch.start_mm),
            "end": _spot(stretch.end_mm),
            "length": round(stretch.length_mm, 1),
            "how": stretch.how,
        }
        for stretch in outcome.touched.stretches()
    ]


def _butt(outcome: Outcome, edit: Edit) -> float:
    """Where the butt line runs, along the drawn axis."""
    if edit.butt_mm is not None:
        return edit.butt_mm
    frame = outcome.drawn.frame
    return float(frame.origin_mm @ frame.up - np.array([edit.axis.at_butt_mm, 0.0]) @ frame.up)


def _butt_shift(outcome: Outcome) -> float:
    """How far above the outline's lower end its rim is seen, mm: mostly below it, so negative."""
    drawn = outcome.drawn
    seen = drawn.frame.into(drawn.seen_mm)[:, 1].min()
    return float(seen - drawn.outline.outer_mm[:, 1].min())


def _problem(problem: Problem) -> Answer:
    return {"words": problem.words, "ring": problem.ring, "at": problem.at_mm}


def _spot(point_mm: FloatArray) -> list[float]:
    return [round(float(point_mm[0]), 3), round(float(point_mm[1]), 3)]


def _points(points_mm: npt.NDArray[np.float64]) -> list[list[float]]:
    return [_spot(point) for point in points_mm]
