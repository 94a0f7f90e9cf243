"""How much likelier a racquet's border than bare table shows such an edge, at each place of a straightened
picture: what faint borders add up to over their length.
"""

from __future__ import annotations

import numpy as np

from digitise.band_filters import colour_steps
from digitise.quantile import median_of, quantile_of
from digitise.table_model import Mask
from digitise.tone import FloatArray, Image

WINDOW_MM = 1.5
"""Window on either side of an edge: a line on a mat is narrower, a shadow's border wider."""
HALF_STEP, TEXTURE = 0.08, 1.5
"""Step of log colour, and share of the table's usual one, that make an edge of half strength."""
LINED, LINES = 0.8, 0.45
"""Share of a table without lines on it, and what the step at that share counts: of an even texture as much as
the usual one, of a printed mat more."""
STRENGTHS = (0.45, 0.55, 0.65, 0.75, 0.85, 0.95)
LOG_ODDS = (-3.0, -2.3, -0.5, 1.1, 2.4, 4.0)
"""How much more often (natural logarithm) a racquet's border than bare table shows an edge so strong, told on
rendered photos; the least is held up because any border may have the table's colour for a while."""
LONE = 0.5
"""What the clearer of two sides adds to the fainter, which is what counts."""


def border_odds(colour: Image, axis: int, step_mm: float, table: Mask) -> FloatArray:
    """Log odds (n, k) that a border lies across ``axis`` at each place of ``colour`` (n, k, 3), log colour
    sampled ``step_mm`` apart along it. ``table`` (k,): columns whose texture is the bare table's."""
    step = steps(colour, axis, step_mm, WINDOW_MM)
    seen = step[:, table]
    texture = TEXTURE * max(median_of(seen), LINES * quantile_of(seen, LINED))
    strength = step / (step + HALF_STEP + texture)
    return np.asarray(np.interp(strength, STRENGTHS, LOG_ODDS))


def steps(colour: Image, axis: int, step_mm: float, window_mm: float) -> Image:
    """Difference (n, k) of the mean log colour in windows on either side of each place along ``axis``."""
    return colour_steps(colour, max(round(window_mm / step_mm), 1), axis)


def of_both(one: FloatArray, other: FloatArray) -> FloatArray:
    """Log odds that a border lies at both of two places that mirror each other."""
    return np.asarray(np.minimum(one, other) + LONE * np.maximum(one, other))
