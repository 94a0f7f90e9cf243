"""After sticking: what was predicted against what is now measured, and what that teaches of the racquet.

The pieces become parts that were on the racquet only for the new readings. Their masses are known
to a tenth of a gram or so, and so how much a period or a machine's reading moved says how heavy and
how spread the racquet itself is: the same estimate as always takes it in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.build import site_in
from model.calibrate import Calibration, view_of
from model.errors import ReadingError
from model.figures import Figures, as_figures, six, six_slopes, spread
from model.observe import observations
from model.pieces import Piece
from model.placement import lay_all
from model.racquet_file import RacquetFile
from model.reading_list import same_quantity, with_new
from model.readings import ComponentReading, Reading
from model.recalibrate import recalibrated
from model.spelt import spell
from model.tolerance import Tolerance

Array = NDArray[np.float64]

LEAST_SD_G = 0.02  # of a weighed piece
SURPRISE = 2.5  # sds; a sound prediction is off this far once in eighty


@dataclass(frozen=True)
class Outcome:
    """One number read with the pieces on: predicted before it was read, measured, and the pull in sds.

    ``predicted_sd`` is the prediction's own, ``measured_sd`` the reading's; the pull is the
    difference over both together.
    """

    name: str
    unit: str
    predicted: float
    predicted_sd: float
    measured: float
    measured_sd: float

    @property
    def pull(self) -> float:
        """Measured less predicted, in sds."""
        return (self.measured - self.predicted) / float(np.hypot(self.predicted_sd, self.measured_sd))


@dataclass(frozen=True, eq=False)
class Learnt:
    """Outcomes, the file with the readings taken in, and the bare racquet's figures before and after that."""

    outcomes: tuple[Outcome, ...]
    file: RacquetFile
    before: RacquetFile
    found: Calibration
    with_pieces: Figures
    words: tuple[str, ...]


def learn(
    racquet: RacquetFile,
    pieces: Sequence[Piece],
    readings: Sequence[Reading],
    tolerance: Tolerance | None = None,
) -> Learnt:
    """Take in readings made with pieces on. Raises ReadingError, StripError or ModelError.

    How exactly the pieces were weighed and stuck on (``tolerance``) counts in the prediction and in
    what is learnt.

    Earlier readings with the same pieces on count beside them, but those of the same quantity, which are kept
    unused. Readings with other pieces on count as well, with the pieces they had. Pieces that were weighed
    err on their own; strips of one tape told by their length err together in all sets.
    """
    if not readings:
        raise ReadingError("give at least one reading with the pieces on, as --weight 237.1")
    if not pieces:
        raise ReadingError("the file lists no pieces: give --strip, or write them with digitise place --out")
    known, number = _with_components(racquet.readings, _components(racquet, pieces, tolerance or Tolerance()))
    new = [r.model_copy(update={"fitted": True, "pieces": number}) for r in readings]
    others = [
        r.model_copy(update={"used": False}) if any(same_quantity(r, one) for one in new) else r
        for r in known
    ]
    before, expected = recalibrated(racquet, others)
    every, said = with_new(known, new)
    after, found = recalibrated(racquet, every)
    outcomes = _outcomes(expected, new, number)
    words = (*_words(outcomes), *said)
    return Learnt(outcomes, after, before, found, _figures_on(found, after, number), words)


def _with_components(readings: Sequence[Reading], stuck: list[ComponentReading]) -> tuple[list[Reading], int]:
    """The readings with the pieces among them, and the number of their set: an earlier one of the same."""
    sets: dict[int, list[ComponentReading]] = {one.pieces: [] for one in readings if one.fitted}
    for one in readings:
        if one.fitted and isinstance(one, ComponentReading):
            sets[one.pieces].append(one)
    alike = [number for number, had in sets.items() if _laid(had) == _laid(stuck)]
    number = alike[0] if alike else max(sets, default=0) + 1
    kept = [r for r in readings if not (isinstance(r, ComponentReading) and r.on == number)]
    return [*kept, *(one.model_copy(update={"pieces": number}) for one in stuck)], number


def _laid(pieces: Sequence[ComponentReading]) -> list[tuple[str, float]]:
    return sorted((piece.strip or "", round(piece.value, 6)) for piece in pieces)


def _components(
    racquet: RacquetFile, pieces: Sequence[Piece], tolerance: Tolerance
) -> list[ComponentReading]:
    """The pieces as parts of known mass that are on for readings of their set only, twins together."""
    site = site_in(racquet)
    found: list[ComponentReading] = []
    for i, piece in enumerate(pieces):
        laid, _ = lay_all(site, [piece])
        grams = sum(one.piece.mass_g for one in laid)
        # Twins cut from one tape err together; weighed pieces each on their own.
        sd = piece.mass_sd_g * len(laid) if piece.mass_sd_g else tolerance.mass_g * len(laid) ** 0.5
        found.append(
            ComponentReading(
                name=f"piece {i + 1}",
                value=grams,
                sd=max(sd, LEAST_SD_G),
                strip=spell(piece),
                place_sd_mm=tolerance.place_mm,
                by_length=piece.mass_sd_g > 0,
                counts=False,
                fitted=True,
            )
        )
    return found


def _outcomes(expected: Calibration, readings: Sequence[Reading], pieces: int) -> tuple[Outcome, ...]:
    scale_sd = float(expected.view_by_state[5, -1])
    view, by_state = view_of(expected.parts, expected.state, scale_sd, pieces)
    found = []
    for one in observations(tuple(readings), view):
        slopes = one.slopes @ by_state
        sd = float(np.sqrt(max(float(slopes @ expected.cov @ slopes), 0.0)))
        found.append(Outcome(one.name, one.unit, one.predicted, sd, one.observed, one.sd))
    return tuple(found)


def _figures_on(found: Calibration, file: RacquetFile, pieces: int) -> Figures:
    """The six figures with the pieces on, all readings taken in."""
    view, by_state = view_of(found.parts, found.state, 0.0, pieces)
    axis = file.figures.swing_weight_kgcm2.axis_mm
    cov = by_state[:5] @ found.cov @ by_state[:5].T
    return as_figures(six(view.body, axis), spread(six_slopes(view.body, axis), cov), axis)


def _words(outcomes: Sequence[Outcome]) -> list[str]:
    worst = max(outcomes, key=lambda outcome: abs(outcome.pull))
    if abs(worst.pull) < SURPRISE:
        return ["what you measured is what was predicted, within what both may be off"]
    return [
        f"the {worst.name} reading is {abs(worst.pull):.1f} sds from the prediction ({worst.measured:.4g} "
        f"against {worst.predicted:.4g} {worst.unit}): read it again, and check the pieces' places and masses"
    ]
