"""Between the outline and its rim as seen, and between two sheets of one photo."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Polygon

from digitise.band import ring_normals
from digitise.page.rim import rim_from_seen, rim_of, through_photo, without_small_loops
from digitise.page.sheet import counter_clockwise, seen_by, signed_area_mm2
from digitise.page.stretches import ring_distance_mm
from tests.page_samples import camera, oval, sheet

FINE = 1200


def test_what_was_not_touched_comes_back_exactly() -> None:
    rim = rim_of(sheet(), oval(count=FINE))
    np.testing.assert_allclose(rim.outline_of(rim.seen_mm), rim.outline_mm, atol=1e-9)


def test_the_far_side_is_seen_further_out() -> None:
    """The camera stands to the left of the racquet: a thick rim hides its own right side less than half."""
    rim = rim_of(sheet(), oval(count=FINE))
    shift = rim.seen_mm - rim.outline_mm
    right = rim.outline_mm[:, 0] > 90
    left = rim.outline_mm[:, 0] < -90
    assert np.all(shift[right, 0] > 0.5)
    assert np.abs(shift[left, 0]).max() < 0.5 * shift[right, 0].min()


def test_a_shifted_line_gives_a_shifted_outline() -> None:
    """Two millimetres further out all round are two millimetres further out. Loops at the step are cut off,
    so points do not pair."""
    rim = rim_of(sheet(), oval(count=FINE))
    outward = ring_normals(rim.seen_mm)
    out = rim.seen_mm + 2.0 * outward
    away = ring_distance_mm(rim.outline_mm, rim.outline_of(out))
    assert np.quantile(np.abs(away - 2.0), 0.99) < 0.02
    np.testing.assert_allclose(away, 2.0, atol=0.3)  # where the cap ends the sight makes a step


def test_a_rim_drawn_from_scratch_finds_its_outline() -> None:
    known = rim_of(sheet(), oval(count=FINE))
    found = rim_from_seen(sheet(), known.seen_mm)
    away = ring_distance_mm(known.outline_mm, found.outline_mm)
    assert np.sqrt(np.mean(away**2)) < 0.05


def test_only_a_loop_that_hardly_encloses_anything_is_cut_off() -> None:
    square = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0]])
    np.testing.assert_array_equal(without_small_loops(square), square)
    for size, cut in ((2.0, True), (20.0, False)):
        loop = np.array(
            [[100.0, 50.0], [100.0 + size, 50.0 + size], [100.0 + size, 50.0], [100.0, 50.0 + size]]
        )
        ring = np.vstack([square[:2], loop, square[2:]])
        kept = without_small_loops(ring)
        if not cut:
            np.testing.assert_array_equal(kept, ring)  # the gate says what is wrong
            continue
        assert Polygon(kept).is_valid
        # of the loop one half stays, a triangle as high as half its width
        assert Polygon(kept).area == pytest.approx(100.0**2, abs=2.0)


def test_another_camera_keeps_the_photo_and_changes_the_scale() -> None:
    """A camera that stood 2 % higher saw everything 2 % smaller: what was seen is 2 % larger."""
    old = sheet(700.0)
    new = seen_by(old, camera(714.0))
    points = oval(count=12)
    there = new.from_px(old.to_px(points))
    np.testing.assert_allclose(new.to_px(there), old.to_px(points), atol=1e-6)
    growth = np.ptp(there, axis=0) / np.ptp(points, axis=0)
    # Heights above the table do not grow with the camera's: 714 / 700 on the table, a little more above it.
    np.testing.assert_allclose(growth, 1.02, atol=0.001)
    butt = new.from_px(old.to_px(np.array([[0.0, 0.0]])))
    np.testing.assert_allclose(butt, 0.0, atol=1e-3)
    rim = rim_of(old, oval(count=FINE))
    np.testing.assert_allclose(
        new.to_px(through_photo(rim, old, new).seen_mm), old.to_px(rim.seen_mm), atol=1e-6
    )


def test_winding() -> None:
    ring = oval(count=400)
    assert signed_area_mm2(ring) == pytest.approx(np.pi * 95 * 200, rel=1e-3)
    np.testing.assert_array_equal(counter_clockwise(ring[::-1]), ring)
