"""A grip whose sides the outline does not follow."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.band import even_ring
from digitise.grip_sides import find_grip, with_grip
from digitise.handle_strip import Odds, columns_mm, rows_mm, strip_odds
from digitise.tone import FloatArray

TABLE, GRIP = 0.30, 0.22
HALF_MM, THICK_MM = 16.0, 28.0


def seen(half_mm: float = HALF_MM, centre_mm: float = 0.0, grip: float = GRIP, seed: int = 5) -> Odds:
    """The strip about the axis of a grip that hardly differs from the table."""
    x_mm, y_mm = columns_mm()[None, :], rows_mm()[:, None]
    light = np.where((np.abs(x_mm - centre_mm) < half_mm) & (y_mm > 0), grip, TABLE)
    noise = np.random.default_rng(seed).normal(1, 0.02, (*light.shape, 3))
    return strip_odds(np.asarray(light[..., None] * noise, np.float32))


def straight(half_mm: float) -> FloatArray:
    """Half widths of an outline with straight sides that ends at 0."""
    return np.where(rows_mm() < 0, 0.0, half_mm)


@pytest.mark.parametrize("outline_mm", [5.0, 10.0, 28.0])
def test_sides_that_are_seen_elsewhere_are_found(outline_mm: float) -> None:
    found = find_grip(seen(), straight(outline_mm), THICK_MM)
    assert found is not None
    assert found.low_half_mm == pytest.approx(HALF_MM, abs=0.75)
    assert found.high_half_mm == pytest.approx(HALF_MM, abs=0.75)


def test_sides_that_the_outline_has_are_left_alone() -> None:
    assert find_grip(seen(), straight(HALF_MM), THICK_MM) is None


def test_a_grip_that_does_not_differ_from_the_table_is_not_made_up() -> None:
    assert find_grip(seen(grip=TABLE), straight(10.0), THICK_MM) is None


def test_a_grip_far_from_the_axis_is_left_to_another_axis() -> None:
    assert find_grip(seen(centre_mm=5.0), straight(8.0), THICK_MM) is None


def capped(half_mm: float, cap_mm: float) -> FloatArray:
    """Half widths of an outline with straight sides above a cap 20 mm long."""
    return np.where(rows_mm() > 20.0, half_mm, np.where(rows_mm() < 0, 0.0, cap_mm))


def strips(half_mm: float, inner_mm: float) -> Odds:
    """A grip hardly darker than the table, with a clear band along its middle."""
    x_mm, y_mm = columns_mm()[None, :], rows_mm()[:, None]
    light = np.where((np.abs(x_mm) < half_mm) & (y_mm > 0), 0.26, TABLE)
    light = np.where((np.abs(x_mm) < inner_mm) & (y_mm > 0), 0.5, light)
    noise = np.random.default_rng(5).normal(1, 0.02, (*light.shape, 3))
    return strip_odds(np.asarray(light[..., None] * noise, np.float32))


def test_a_grip_much_narrower_than_its_cap_is_looked_for_in_the_width_above_such_a_cap() -> None:
    """The highlight along a grip is clearer than its sides; 10 mm under a cap of 18 mm it is no grip."""
    found = find_grip(strips(15.5, 10.0), capped(10.0, 18.0), THICK_MM)
    assert found is not None
    assert found.low_half_mm == pytest.approx(15.5, abs=1.0)
    assert found.high_half_mm == pytest.approx(15.5, abs=1.0)
    assert find_grip(strips(15.5, 10.0), capped(10.0, 12.0), 20.0) is None


@pytest.mark.parametrize(("thick_mm", "told"), [(28.0, True), (38.0, False), (20.0, False)])
def test_a_grip_narrower_than_its_thickness_allows_is_looked_for_in_the_width_that_it_does(
    thick_mm: float, told: bool
) -> None:
    """A highlight 20 mm wide along a grip of 31 mm: 28 mm thick such grips are 26 to 36 mm wide; of 38 mm, 36
    to 49 mm, where there is no more than table, and 20 mm wide a grip of 20 mm may be."""
    found = find_grip(strips(15.5, 10.0), capped(10.0, 10.0), thick_mm)
    if not told:
        assert found is None
        return
    assert found is not None
    assert found.below_cap
    assert (found.low_half_mm, found.high_half_mm) == pytest.approx((15.5, 15.5), abs=1.0)


def test_on_bare_table_a_narrow_outline_above_a_cap_has_no_grip() -> None:
    assert find_grip(seen(grip=TABLE), capped(10.0, 18.0), THICK_MM) is None


def test_a_grip_told_by_the_cap_leaves_the_cap_as_it_was() -> None:
    cap = np.array([[18.0, 0.0], [18.0, 18.0], [10.0, 19.0]])
    right = np.vstack([cap, [[10.0, 100.0], [100.0, 140.0], [100.0, 350.0]]])
    ring = even_ring(np.vstack([[[0.0, 0.0]], right, right[::-1] * np.array([-1.0, 1.0])]), 1.0)
    gripped = with_grip(strips(15.5, 10.0), ring, THICK_MM)
    assert gripped is not None
    across = np.abs(gripped.ring_mm[:, 0])
    y_mm = gripped.ring_mm[:, 1]
    np.testing.assert_allclose(across[(y_mm > 2) & (y_mm < 16)], 18.0, atol=0.1)
    np.testing.assert_allclose(across[(y_mm > 22) & (y_mm < 95)], 15.5, atol=1.0)


def on_a_shaft(collar_mm: float, neck_mm: float = 5.0) -> FloatArray:
    """An outline that has its cap, but goes on as a shaft where its grip is, with a collar 200 mm from the
    butt, up to 258 mm ``neck_mm`` to either side, and with a head 100 mm to either side, 420 mm from it."""
    cap = [[18.0, 0.0], [18.0, 18.0], [5.0, 19.0]]
    collar = [[5.0, 190.0], [collar_mm, 200.0], [5.0, 215.0]]
    right = np.array(
        [*cap, *collar, [neck_mm, 258.0], [5.0, 262.0], [5.0, 400.0], [100.0, 420.0], [100.0, 650.0]]
    )
    return even_ring(np.vstack([[[0.0, 0.0]], right, right[::-1] * np.array([-1.0, 1.0])]), 1.0)


def test_a_grip_on_a_shaft_ends_at_its_collar() -> None:
    gripped = with_grip(strips(15.5, 5.0), on_a_shaft(13.0), THICK_MM)
    assert gripped is not None
    assert gripped.to_mm == pytest.approx(200, abs=1.5)
    across, y_mm = np.abs(gripped.ring_mm[:, 0]), gripped.ring_mm[:, 1]
    np.testing.assert_allclose(across[(y_mm > 2) & (y_mm < 16)], 18.0, atol=0.1)
    np.testing.assert_allclose(across[(y_mm > 22) & (y_mm < 197)], 15.5, atol=1.0)
    np.testing.assert_allclose(across[(y_mm > 217) & (y_mm < 395)], 5.0, atol=0.1)
    # a neck that widens is none, and no end of it
    widening = with_grip(strips(15.5, 5.0), on_a_shaft(13.0, neck_mm=15.0), THICK_MM)
    assert widening is not None
    assert widening.to_mm == pytest.approx(200, abs=1.5)
    # a shaft without one, or with less of one than a grip would have, tells no end
    assert with_grip(strips(15.5, 5.0), on_a_shaft(7.0), THICK_MM) is None
    assert with_grip(strips(15.5, 5.0), on_a_shaft(5.0), THICK_MM) is None


def paddle(grip_half_mm: float) -> FloatArray:
    """An outline with a head 100 mm to either side, whose neck widens from 100 mm to 140 mm from the butt."""
    right = np.array([[grip_half_mm, 0], [grip_half_mm, 100], [100, 140], [100, 350]], float)
    left = right[::-1] * np.array([-1.0, 1.0])
    return even_ring(np.vstack([[[0.0, 0.0]], right, left]), 1.0)


def test_the_outline_goes_on_as_it_was_from_where_it_is_as_wide_as_the_grip() -> None:
    gripped = with_grip(seen(), paddle(10.0), THICK_MM)
    assert gripped is not None
    # the neck is 16 mm to either side where it has widened by 6 of 90 mm, within 40
    assert gripped.to_mm == pytest.approx(100 + 40 * 6 / 90, abs=1.5)
    assert gripped.half_mm == pytest.approx(HALF_MM, abs=0.75)
    ring = gripped.ring_mm
    low = ring[(ring[:, 1] > 5) & (ring[:, 1] < 95)]
    np.testing.assert_allclose(np.abs(low[:, 0]), HALF_MM, atol=0.75)
    head = ring[(ring[:, 1] > 150) & (ring[:, 1] < 340)]
    np.testing.assert_allclose(np.abs(head[:, 0]), 100.0, atol=1e-6)
    assert (ring[:, 1].min(), ring[:, 1].max()) == pytest.approx((0.0, 350.0), abs=1e-6)


def test_an_outline_that_never_is_as_narrow_as_the_grip_is_left_alone() -> None:
    wide = even_ring(
        np.array([[0, 0], [28, 0], [100, 140], [100, 350], [-100, 350], [-100, 140], [-28, 0]]), 1.0
    )
    assert with_grip(seen(), wide, THICK_MM) is None
