"""Running integrals along the edge agree with laying the strip itself."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from model.edge_table import edge_table
from model.pieces import Fold, Stuff
from model.site import site_of
from model.sweep import edge_section, swept
from tests.model_samples import HANDLE_TOP, paddle

SITE = site_of(paddle(), HANDLE_TOP, 14.0, 30.0)
SECTION = edge_section(Stuff(6.0, 0.4, 2), Fold.ON_FACE, 1.0, 14.0)
TABLE = edge_table(SITE.edge, SECTION)
CORNERS = SITE.edge.along_mm


@settings(max_examples=60, deadline=None)
@example(-5e-324, 1.0)
@given(st.floats(-400, 400), st.floats(0.5, 300))
def test_a_stretch_is_the_swept_strip(start: float, length: float) -> None:
    curve = SITE.edge.stretch(start, start + length)
    want = swept(curve, SECTION, length)
    assert TABLE.between(np.array(start), np.array(start + length)) == pytest.approx(want, rel=1e-9, abs=1e-4)


def test_many_at_once_and_once_round() -> None:
    starts = np.array([-50.0, 0.0, 120.0])
    together = TABLE.between(starts, starts + 30)
    assert together.shape == (3, 6)
    assert together[2] == pytest.approx(TABLE.between(np.array(120.0), np.array(150.0)))
    weights = np.array([3.0, -1.0, 0.5, 0.02, -0.01, 2.0])
    assert TABLE.upto_of(starts, weights) == pytest.approx(TABLE.upto(starts) @ weights, rel=1e-12)
    perimeter = SITE.edge.perimeter_mm
    assert TABLE.between(np.array(-9.0), np.array(perimeter - 9)) == pytest.approx(TABLE.running[-1])


@settings(max_examples=60, deadline=None)
@given(st.floats(-400, 400))
def test_the_density_is_the_slope(place: float) -> None:
    """Cubic between the edge's corners: such differences have no error but rounding's."""
    half = min(0.5, np.abs(CORNERS - place % SITE.edge.perimeter_mm).min() / 2)
    assume(half > 0.01)
    ends = TABLE.upto(np.array([place - half, place + half]))
    wide = TABLE.upto(np.array([place - 2 * half, place + 2 * half]))
    slope = (8 * (ends[1] - ends[0]) - (wide[1] - wide[0])) / (12 * half)
    upto, density = TABLE.upto_and_density(np.array(place))
    assert density == pytest.approx(slope, rel=1e-6, abs=1e-4)
    assert upto == pytest.approx(TABLE.upto(np.array(place)), rel=1e-12, abs=1e-9)
