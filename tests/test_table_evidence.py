"""What beside an outline speaks for table, in bands whose colours are given."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.band import ACROSS_MM, Band
from digitise.table_evidence import SURE_RACQUET, Ground, table_evidence
from digitise.tone import Image

ROWS = 120
TABLE = np.array([-1.0, 0.1, -0.2], np.float32)
SPREAD = np.full(3, 0.02)


def evidence_of(beside: np.ndarray[tuple[int, ...], np.dtype[np.float32]]) -> tuple[float, float]:
    """Of the 4 mm beside an outline, where the colour is the table's with ``beside`` (3,) added, and of the
    open table farther out."""
    offset_mm = np.arange(-5.0, 9.0, ACROSS_MM)
    colour: Image = np.tile(TABLE, (ROWS, len(offset_mm), 1))
    near = (offset_mm > 0.0) & (offset_mm < 4.0)
    colour[:, near] += beside
    base = np.column_stack([np.zeros(ROWS), np.arange(ROWS, dtype=float)])
    normal = np.tile([1.0, 0.0], (ROWS, 1))
    ground = Ground(np.tile(TABLE, (ROWS, 1)), np.ones(colour.shape[:2], bool), SPREAD)
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
