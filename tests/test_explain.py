"""Shares of the parts."""

from __future__ import annotations

import pytest

from model.calibrate import calibrate
from model.explain import shares
from model.figures import swing_of
from tests.test_calibrate_readings import BOTH, PARTS


def test_shares_add_up_and_follow_the_formulas() -> None:
    found = calibrate(PARTS, BOTH)
    rows = shares(found, 50.0)
    assert [r.name for r in rows] == list(PARTS.names)
    for total in (sum(r.weight for r in rows), sum(r.swing for r in rows), sum(r.twist for r in rows)):
        assert total == pytest.approx(1.0)
    assert sum(r.weight * r.centre_mm for r in rows) == pytest.approx(found.body.values[1])
    butt = rows[-1]
    # 5 g near 6 mm, 44 mm from the axis, of the whole swing weight.
    want = butt.mass_g.value * 44**2 / 1e5 / swing_of(found.body.values, 50.0)
    assert butt.swing == pytest.approx(want, rel=0.1)
    assert rows[1].twist > 2 * rows[1].weight  # the edge twists more than it weighs
