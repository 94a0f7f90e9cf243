"""What speaks against an outline where it was found: the looks of the photo on either side of it.

Outside a racquet there is table, lit or in shadow, and inside there is none. Each look is a reason why a
stretch may be wrong although its edge is strong.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from digitise.band import ACROSS_MM, Band, mirrored
from digitise.band_filters import blurred
from digitise.edge import edge_strength
from digitise.row_median import row_median
from digitise.table_lines import without_lines
from digitise.table_model import Mask
from digitise.tone import FloatArray, Image, log_colour

BAND_MM = (6.0, 12.0)
"""How far inside and outside the outline the photo is looked at."""
NEAR_MM = (1.0, 3.0)
"""Between which distances from the outline each side's colour is taken, clear of blur."""
ALONG_ROWS = 25
"""Looks are medians over so many mm along the outline: a joint of tiles or a letter of a print is none."""
LIGHTER, TINTED, TINTED_SHARE, SPREADS = 0.15, 0.15, 0.5, 4.0
"""Outside is not table if it is lighter (log) or tinted by more than this, or by so many spreads of the
table's own texture; in shadow, which has the sky's tint, the tint may also be this share of the darkening."""
SHADE_TINT, SHADE_SHARE, SHADE_DARKEST, UNLIKE_TWIN = 0.06, 0.1, 1.6, 0.8
"""Inside is table in shadow if it has the table's tint, to this and a share of the darkening, is no darker
than this, and differs by so much from what lies inside at the mirror place."""
BRIGHTER, LEAST_STEP, FINE_MM, ABOUT_MM, SHARP = 1.1, 0.02, 0.5, 0.75, 0.7
"""It is none all the same if it is so many times as light as what lies outside, by a clear step (of all
light), and the step is sharp: of that from one side's strip to the other's this share is within so many mm on
either side of a place this near to the outline. Shadows have soft borders, except the sun's, which are darker
inside."""
RIVAL, RIVAL_MM, RIVAL_WITHIN_MM, SIDEWAYS = 0.6, 2.5, 4.0, 0.5
"""Strength of a second sharp edge farther out on both sides, from which distance on, and how alike the
distances are: shadows fall to one side, a rim of the table's colour is on both. At the tip and the butt both
sides are one: there it tells nothing by itself."""
LINE_MM, LINE_LIGHTER = 1.5, 0.15
"""How far on either side of a second edge a line that is drawn on the table, as a mat's are, is looked for,
and by how much (log) it is lighter than what lies beside it: a racquet's rim is no lighter than its seam."""
MOST_OF_SIDES = 0.3
"""From which share of the sides on a second edge there makes one at the ends doubtful, too."""
SAME_COLOUR = 0.3
"""Difference of log colour under which the racquet is of the table's colour."""


@dataclass(frozen=True, eq=False)
class Looks:
    """Where, all (n,): ``shadow`` is taken for racquet; ``unlike``, outside is no table; ``rival``, a second
    edge runs along outside; ``alike``, inside has the table's colour."""

    shadow: Mask
    unlike: Mask
    rival: Mask
    alike: Mask


def looks_of(band: Band, table_colour: FloatArray, table_spread: FloatArray) -> Looks:
    """Looks along ``band``, whose offset 0 is the outline, from the table's log colour (n, 3) under it and
    the spread (3,) of its texture."""
    colour = log_colour(band.light)
    outside = _beside(colour, band.offset_mm, table_colour)
    inside = _beside(colour, -band.offset_mm, table_colour)
    return Looks(
        _in_shade(inside) & ~_sharply_brighter(band.light.mean(axis=2), band.offset_mm),
        _is_unlike(outside, table_spread),
        _on_sides(_rivals(colour, band), band.normal),
        _is_alike(inside),
    )


def _beside(colour: Image, outward_mm: FloatArray, table_colour: FloatArray) -> FloatArray:
    """Log colour (n, 3), less the table's, in a strip NEAR_MM along the outline."""
    strip = (outward_mm > NEAR_MM[0]) & (outward_mm < NEAR_MM[1])
    rest = np.median(colour[:, strip], axis=1) - table_colour
    return np.asarray(row_median(rest, ALONG_ROWS), float)


def _is_unlike(outside: FloatArray, table_spread: FloatArray) -> Mask:
    darker, lighter = np.maximum(-outside[:, 0], 0), np.maximum(outside[:, 0], 0)
    most_light = max(LIGHTER, SPREADS * float(table_spread[0]))
    most_tint = max(TINTED, SPREADS * float(np.hypot(*table_spread[1:]))) + TINTED_SHARE * darker
    return np.asarray(np.hypot(lighter / most_light, np.hypot(outside[:, 1], outside[:, 2]) / most_tint) > 1)


def _in_shade(inside: FloatArray) -> Mask:
    darker = np.maximum(-inside[:, 0], 0)
    tinted = np.hypot(inside[:, 1], inside[:, 2]) > SHADE_TINT + SHADE_SHARE * darker
    unlike_twin = np.linalg.norm(inside - mirrored(inside), axis=1) > UNLIKE_TWIN
    return np.asarray(~tinted & unlike_twin & (inside[:, 0] < 0.1) & (darker < SHADE_DARKEST))


def _sharply_brighter(light: Image, offset_mm: FloatArray) -> Mask:
    """Where (n,) ``light`` (n, k) falls sharply from inside to outside."""
    near, far = NEAR_MM
    strips = ((side * offset_mm > near) & (side * offset_mm < far) for side in (-1.0, 1.0))
    inside, outside = (np.median(light[:, strip], axis=1) for strip in strips)
    reach = round(FINE_MM / ACROSS_MM)
    about = np.abs(offset_mm[reach:-reach]) < ABOUT_MM + ACROSS_MM / 2
    fall = (light[:, : -2 * reach] - light[:, 2 * reach :])[:, about].max(axis=1)
    inside, outside, fall = row_median(np.column_stack([inside, outside, fall]), ALONG_ROWS).T
    step = inside - outside
    return np.asarray((inside > BRIGHTER * outside) & (step > LEAST_STEP) & (fall > SHARP * step))


def _is_alike(inside: FloatArray) -> Mask:
    return np.asarray(np.linalg.norm(inside, axis=1) < SAME_COLOUR)


def _on_sides(rivals: Mask, normal: FloatArray) -> Mask:
    sides = np.abs(normal[:, 0]) > SIDEWAYS
    return rivals if rivals[sides].mean() > MOST_OF_SIDES else np.asarray(rivals & sides)


def _rivals(colour: Image, band: Band) -> Mask:
    offset_mm = band.offset_mm
    calm = blurred(colour, 3.0)
    strength = edge_strength(calm, offset_mm >= BAND_MM[1] / 2, 0.75, soft_too=True)
    lasting = row_median(strength, ALONG_ROWS)
    outside = (offset_mm > RIVAL_MM) & (offset_mm < BAND_MM[1] - 1.0)
    best = lasting[:, outside].max(axis=1)
    at_mm = offset_mm[outside][lasting[:, outside].argmax(axis=1)]
    alike: npt.NDArray[np.bool_] = np.abs(at_mm - mirrored(at_mm)) < RIVAL_WITHIN_MM
    rivals = np.asarray((best > RIVAL) & (mirrored(best) > RIVAL) & alike)
    drawn = _is_drawn(colour[..., 0], offset_mm, at_mm)
    return without_lines(rivals & ~(drawn & mirrored(drawn)), at_mm, strength, band)


def _is_drawn(light: Image, offset_mm: FloatArray, at_mm: FloatArray) -> Mask:
    """Where (n,) what runs ``at_mm`` (n,) outside is a light line with darker table on either side of it, by
    the logarithm of ``light`` (n, k)."""
    away_mm = offset_mm - at_mm[:, None]

    def most(within: Mask) -> FloatArray:
        return np.where(within.any(axis=1), np.where(within, light, -np.inf).max(axis=1), np.inf)

    sides = (away_mm > LINE_MM) & (away_mm < 2 * LINE_MM), (away_mm < -LINE_MM) & (away_mm > -2 * LINE_MM)
    lighter = most(np.abs(away_mm) < LINE_MM) - np.maximum(most(sides[0]), most(sides[1]))
    return np.asarray(row_median(lighter[:, None], ALONG_ROWS)[:, 0] > LINE_LIGHTER)
