"""What beside an outline speaks for table, in bands whose colours are given."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from digitise.band import ACROSS_MM, Band
from digitise.table_evidence import SURE_RACQUET, Ground, table_evidence
from digitise.tone import Image, log_colour

ROWS = 120
TABLE = np.array([-1.0, 0.1, -0.2], np.float32)
SPREAD = np.full(3, 0.02)


def evidence_of(beside: Image, table: Image = TABLE) -> tuple[float, float]:
    """Of the 4 mm beside an outline, where the colour is the ``table``'s (3,) with ``beside`` (3,) added, and
    of the open table farther out."""
    offset_mm = np.arange(-5.0, 9.0, ACROSS_MM)
    colour: Image = np.tile(table, (ROWS, len(offset_mm), 1))
    near = (offset_mm > 0.0) & (offset_mm < 4.0)
    colour[:, near] += beside
    base = np.column_stack([np.zeros(ROWS), np.arange(ROWS, dtype=float)])
    normal = np.tile([1.0, 0.0], (ROWS, 1))
    ground = Ground(np.tile(np.asarray(table, float), (ROWS, 1)), np.ones(colour.shape[:2], bool), SPREAD)
    seen = table_evidence(colour, Band(np.exp(colour), base, normal, offset_mm), ground, 5.0)
    middle = (offset_mm > 1.0) & (offset_mm < 3.0)
    return float(seen[:, middle].mean()), float(seen[:, offset_mm > 5.0].mean())


@pytest.mark.parametrize(
    ("beside", "want"),
    [
        ((0.0, 0.0, 0.0), 1.0),  # table
        ((-0.4, 0.0, 0.0), 0.5),  # CONTACT_DEPTH darker: one tolerance off
        ((-0.4, 0.08, 0.0), 0.5 - 0.5 * 0.08**2 / (0.08**2 + 0.03**2)),  # tinted by SHADOW_TINT of it, too
        ((-1.2, 0.0, 0.0), -SURE_RACQUET),  # much darker
        ((0.0, 0.03, 0.0), 0.5),  # one and a half spreads of tint
        ((0.5, 0.0, 0.0), -SURE_RACQUET),  # lighter
    ],
)
def test_what_is_a_little_darker_and_tinted_is_table_in_shadow(
    beside: tuple[float, float, float], want: float
) -> None:
    near, far = evidence_of(np.array(beside, np.float32))
    assert near == pytest.approx(want, abs=0.02)
    assert far == pytest.approx(1.0, abs=1e-3)


def test_a_shadow_of_known_colour_is_table_however_dark() -> None:
    offset_mm = np.arange(-5.0, 9.0, ACROSS_MM)
    shade = np.array([-1.5, -0.07, 0.17])
    colour: Image = np.tile(TABLE, (ROWS, len(offset_mm), 1))
    near = (offset_mm > 0.0) & (offset_mm < 4.0)
    colour[:, near] += shade.astype(np.float32)
    base = np.column_stack([np.zeros(ROWS), np.arange(ROWS, dtype=float)])
    band = Band(np.exp(colour), base, np.tile([1.0, 0.0], (ROWS, 1)), offset_mm)
    ground = Ground(np.tile(TABLE.astype(float), (ROWS, 1)), np.ones(colour.shape[:2], bool), SPREAD)
    middle = (offset_mm > 1.0) & (offset_mm < 3.0)
    unknown, known = (table_evidence(colour, band, each, 5.0)[:, middle].mean()
                      for each in (ground, replace(ground, shade=shade)))  # fmt: skip
    assert unknown == pytest.approx(-SURE_RACQUET, abs=0.01)
    assert known == pytest.approx(1.0, abs=0.01)


WOOD, GREY = np.array([0.30, 0.14, 0.04], np.float32), np.array([0.14, 0.14, 0.14], np.float32)


@pytest.mark.parametrize(
    ("table", "beside", "table_like"),
    [
        (WOOD, 0.25 * WOOD, True),  # a sharp shadow: a quarter of the light is left, and still brown
        (WOOD / 6, 0.25 * WOOD / 6, True),  # the same where flare makes it look greyer
        (WOOD, np.full(3, 0.035, np.float32), False),  # a black rim
        (GREY, np.full(3, 0.035, np.float32), False),  # one that might as well be shadow
    ],
)
def test_on_a_tinted_table_a_deep_shadow_is_told_from_a_black_rim(
    table: Image, beside: Image, table_like: bool
) -> None:
    """Linear RGB of the table and of 4 mm beside the outline."""
    near, far = evidence_of(log_colour(beside) - log_colour(table), log_colour(table))
    assert (near > 0.2) == table_like
    assert (near < -0.2) != table_like
    assert far == pytest.approx(1.0, abs=1e-3)
