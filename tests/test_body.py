"""The racquet's section, as its construction and its outline's width have it."""

from __future__ import annotations

import pytest

from digitise.body import body_of
from digitise.landmarks import HandleMarks


@pytest.mark.parametrize(
    ("butt_width_mm", "thickness_mm"),
    [(40.0, 36.0), (34.0, 30.0), (30.0, 26.0), (10.0, 15.0)],  # wider, as wide, narrower, a wrong outline's
)
def test_a_butt_cap_stands_out_alike_all_round(butt_width_mm: float, thickness_mm: float) -> None:
    body = body_of("solid", 400.0, HandleMarks(34.0, butt_width_mm, 130.0, 3.0), 14.0, 30.0)
    assert body.butt_thickness_mm == pytest.approx(thickness_mm)
    assert body.handle_thickness_mm == 30.0


def test_a_rim_is_rounded_as_its_construction_is() -> None:
    """A thin face by a share of half its thickness, a thick one by its most; a tube has a width instead."""
    marks = HandleMarks(34.0, 38.0, 130.0, 3.0)
    assert body_of("solid", 400.0, marks, 10.0, 30.0).rim_radius_mm == pytest.approx(0.6 * 5.0)
    assert body_of("solid", 400.0, marks, 20.0, 30.0).rim_radius_mm == pytest.approx(3.6)
    assert body_of("solid", 400.0, marks, 10.0, 30.0).rim_half_width_mm is None
    assert body_of("strung", 680.0, marks, 22.0, 30.0).rim_half_width_mm == pytest.approx(5.5)
    assert body_of("strung", 680.0, marks, 8.0, 30.0).rim_half_width_mm == pytest.approx(4.0)
