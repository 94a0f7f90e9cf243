"""How a table looks in shadow: darker, and of what tint.

In shadow a table has some share of its light left, of all colours alike: wood stays brown, and nothing black
or grey is. Only where so little is left that noise and flare count does the tint fade. A table of hardly any
tint tells nothing by it: a dark rim beside it has as much.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from digitise.tone import Image, light_of_colour, log_colour

LEFT = 0.3
"""The share of the light that is left in such a shadow as is reckoned with."""
CONTACT_DEPTH, TINT_DEPTH, LEAST_TINT = 0.4, 1.0, 0.5
"""A place so much darker (log) than a look of the table is one spread away from it: a black rim, too, is a
dark grey table's shade. For each unit of tint above the least that a table keeps in shadow it may be as much
darker again: no rim has that tint by chance. Nor is there any to fade where a table has less."""


@dataclass(frozen=True, eq=False)
class Shade:
    """Of looks (..., 3) of a table: ``depth`` (...), how much darker one spread is, and ``fading`` (..., 2),
    by how much each of the two colour ratios falls per unit of darkening."""

    depth: Image
    fading: Image


def shade_of(looks: Image, texture: float) -> Shade:
    """How a table of these ``looks`` (..., 3), log colours, is in shadow; ``texture`` is what its
    own brightness is allowed to differ."""
    dark = log_colour(LEFT * light_of_colour(looks))
    change = dark - looks
    depth = max(CONTACT_DEPTH, texture) + TINT_DEPTH * np.maximum(_tint(dark) - LEAST_TINT, 0)
    fading = change[..., 1:] / np.minimum(change[..., :1], -1e-3)
    fading = np.where(_tint(looks)[..., None] > LEAST_TINT, fading, 0)
    return Shade(np.asarray(depth, looks.dtype), np.asarray(fading, looks.dtype))


def _tint(colour: Image) -> Image:
    """How far (...) log colours (..., 3) are from grey."""
    return np.asarray(np.hypot(colour[..., 1], colour[..., 2]))
