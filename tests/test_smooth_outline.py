"""Traced rings with known noise as smooth curves."""

from __future__ import annotations

import numpy as np
import pytest

from digitise import smooth_outline
from digitise.axis import Axis
from digitise.band import mirrored
from digitise.contour import Contour
from digitise.doubt import Doubt
from digitise.resting import Resting
from digitise.smooth_outline import CLEAR, LINE_SDS_MM, edge_noise, smoothed
from digitise.tone import FloatArray
from model.outline import outline_from_rings
from model.spline import curve_through
from model.spline_fit import ring_distances_mm
from tests.model_samples import ellipse

COUNT = 900
RESTING = Resting(Axis(np.zeros(2), np.array([0.0, 1.0])), 15.0, 0.0)


def contour(strength: FloatArray | None = None) -> Contour:
    """An ellipse 180 mm wide and 380 mm long, a point each mm, from the butt on, with a bump on each side."""
    angle = 2 * np.pi * np.arange(COUNT) / COUNT
    bump = 1 + 0.02 * np.exp(-0.5 * ((np.abs(np.arange(COUNT) - COUNT / 2) - 250) / 12) ** 2)
    ring = np.column_stack([90 * bump * np.sin(angle), 190 - 190 * np.cos(angle)])
    clear = np.full(COUNT, CLEAR) if strength is None else strength
    return Contour(RESTING, ring, clear, np.zeros(COUNT), np.zeros(COUNT, bool))


def doubt(first: int, last: int) -> Doubt:
    return Doubt(first, last, float(last - first + 1), "left side", "at 9 o'clock", "shadow", 4.0)


def test_the_sides_tell_an_edge_point_s_sd() -> None:
    """Points of either side off by 0.12 mm (1 sd): half the difference of mirrored ones tells that again."""
    off = np.random.default_rng(3).normal(0, 0.12, COUNT)
    half = (off - mirrored(off)) / 2
    sd, stray = edge_noise(contour(), (), float(np.sqrt(np.mean(half**2))))
    assert sd == pytest.approx(0.12, rel=0.05)
    assert stray.tolist() == [1.0] * COUNT


def test_faint_and_doubtful_places_stray_farther() -> None:
    """Strength 0.7 on a tenth of the ring: twice the sd there; and as much where there is a doubt."""
    strength = np.full(COUNT, CLEAR)
    strength[100:190] = CLEAR - 0.2
    sd, stray = edge_noise(contour(strength), (doubt(880, 19),), 0.1)
    assert stray[100:190] == pytest.approx(2.0)
    assert stray[880:].tolist() + stray[:20].tolist() == [2.0] * 40
    assert stray[20:100].tolist() == [1.0] * 80
    # the mean square is (770 + 130 * 4) / 900 of a clear point's
    assert sd == pytest.approx(np.sqrt(2) * 0.1 / np.sqrt((770 + 130 * 4) / 900))


def test_the_curve_keeps_to_the_line_and_takes_few_points() -> None:
    found = contour()
    traced = outline_from_rings(found.ring_mm)
    outline, smooth = smoothed(traced, found, (), 0.2)
    assert smooth is not None
    off = ring_distances_mm(smooth.outer, found.ring_mm)
    assert np.sqrt(np.mean(off**2)) <= LINE_SDS_MM[1]
    assert len(smooth.outer.points_mm) < 40
    assert outline.length_mm == pytest.approx(traced.length_mm, abs=0.05)
    assert outline.width_mm == pytest.approx(traced.width_mm, abs=0.05)
    assert outline.polygon.area == pytest.approx(traced.polygon.area, rel=2e-4)


def test_less_noise_takes_no_fewer_points() -> None:
    found = contour()
    traced = outline_from_rings(found.ring_mm)
    counts = []
    for apart_mm in (0.01, 0.2):
        smooth = smoothed(traced, found, (), apart_mm)[1]
        assert smooth is not None
        counts.append(len(smooth.outer.points_mm))
    assert counts[0] >= counts[1]


def test_equal_holes_have_equal_curves_and_the_circle_s_area() -> None:
    centres = [(-30.0, 200.0), (30.0, 200.0), (0.0, 260.0)]
    found = contour()
    traced = outline_from_rings(found.ring_mm, [ellipse(x, y, 5.0, 5.0, 48) for x, y in centres])
    outline, smooth = smoothed(traced, found, (), 0.1)
    assert smooth is not None
    shapes = [curve.points_mm - centre for curve, centre in zip(smooth.openings, centres, strict=True)]
    for shape in shapes:
        np.testing.assert_allclose(shape, shapes[0], atol=1e-5)
        np.testing.assert_allclose(np.hypot(*shape.T), 5.0, atol=0.05)
    hole_mm2 = (outline.filled.area - outline.polygon.area) / 3
    assert hole_mm2 == pytest.approx(np.pi * 5.0**2, rel=0.01)


def test_curves_that_cross_leave_the_rings_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    eight = np.array([[-50, 0], [50, 0], [50, 100], [-50, 200], [-50, 300], [50, 300], [50, 200], [-50, 100]])
    monkeypatch.setattr(smooth_outline, "fit_curve", lambda ring, sd: curve_through(eight.astype(float)))
    found = contour()
    traced = outline_from_rings(found.ring_mm)
    assert smoothed(traced, found, (), 0.1) == (traced, None)
