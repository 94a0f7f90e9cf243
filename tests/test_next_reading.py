"""What a further reading would bring, against taking it."""

from __future__ import annotations

import numpy as np
import pytest

from model.calibrate import calibrate
from model.figures import figures_of
from model.next_reading import present, prospects
from tests.test_calibrate_readings import BOTH, PARTS, at_the_estimate, reading


def test_a_prospect_is_what_the_reading_then_gives() -> None:
    found = calibrate(PARTS, BOTH)
    by_name = {p.name: p for p in prospects(found, BOTH, 50.0)}
    machine = at_the_estimate(reading("twist machine", sd=0.005 * float(found.body.values[3])), found)
    after = figures_of(calibrate(PARTS, (*BOTH, machine)).body, 50.0)
    sds = by_name["twist machine"].sds
    assert sds[3] == pytest.approx(after.twist_weight_kgcm2.sd, rel=1e-3)
    assert sds[2] == pytest.approx(after.swing_weight_kgcm2.sd, rel=1e-3)


def test_cheapest_first_and_nothing_twice() -> None:
    found = calibrate(PARTS, BOTH)
    rows = prospects(found, BOTH, 50.0)
    assert [p.minutes for p in rows] == sorted(p.minutes for p in rows)
    assert "balance" not in {p.kind for p in rows}
    now = present(found, 50.0)
    assert all((np.array(p.sds) <= np.array(now) * (1 + 1e-9)).all() for p in rows)
    best = min(rows, key=lambda p: p.sds[3])
    assert "twist" in best.name
    assert best.sds[3] < 0.3 * now[3]


@pytest.mark.parametrize(("sd", "again"), [(0.5, ["weight, scale to 0.1 g"]), (0.3, []), (0.1, [])])
def test_a_far_finer_scale_is_worth_a_second_reading(sd: float, again: list[str]) -> None:
    readings = (BOTH[0].model_copy(update={"sd": sd}), BOTH[1])
    rows = prospects(calibrate(PARTS, readings), readings, 50.0)
    assert [p.name for p in rows if p.kind == "weight"] == again


def test_without_readings_the_scale_comes_first() -> None:
    found = calibrate(PARTS, ())
    assert prospects(found, (), 50.0)[0].kind == "weight"
