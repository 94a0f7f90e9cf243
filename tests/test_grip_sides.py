"""A grip whose sides the outline does not follow."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from digitise.band import even_ring
from digitise.grip_sides import CLEAR, find_grip, with_grip
from digitise.handle_strip import Odds, at_sides, columns_mm, rows_mm, strip_odds
from digitise.tone import FloatArray

TABLE, GRIP = 0.30, 0.22
HALF_MM, THICK_MM = 16.0, (28.0, 0.5)


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


def strips(half_mm: float, inner_mm: float, inner: float = 0.5) -> Odds:
    """A grip hardly darker than the table, with a clear band along its middle."""
    x_mm, y_mm = columns_mm()[None, :], rows_mm()[:, None]
    light = np.where((np.abs(x_mm) < half_mm) & (y_mm > 0), 0.26, TABLE)
    light = np.where((np.abs(x_mm) < inner_mm) & (y_mm > 0), inner, light)
    noise = np.random.default_rng(5).normal(1, 0.02, (*light.shape, 3))
    return strip_odds(np.asarray(light[..., None] * noise, np.float32))


def test_a_grip_much_narrower_than_its_cap_is_looked_for_in_the_width_above_such_a_cap() -> None:
    """The highlight along a grip is clearer than its sides; 10 mm under a cap of 18 mm it is no grip."""
    found = find_grip(strips(15.5, 10.0), capped(10.0, 18.0), THICK_MM)
    assert found is not None
    assert found.low_half_mm == pytest.approx(15.5, abs=1.0)
    assert found.high_half_mm == pytest.approx(15.5, abs=1.0)
    assert find_grip(strips(15.5, 10.0), capped(10.0, 12.0), (20.0, 0.5)) is None


@pytest.mark.parametrize(("thick_mm", "told"), [(28.0, True), (38.0, False), (20.0, False)])
def test_a_grip_narrower_than_its_thickness_allows_is_looked_for_in_the_width_that_it_does(
    thick_mm: float, told: bool
) -> None:
    """A highlight 20 mm wide along a grip of 31 mm: 28 mm thick such grips are 26 to 36 mm wide; of 38 mm, 36
    to 49 mm, where there is no more than table, and 20 mm wide a grip of 20 mm may be."""
    found = find_grip(strips(15.5, 10.0, 0.32), capped(10.0, 10.0), (thick_mm, 0.5))
    if not told:
        assert found is None
        return
    assert found is not None
    assert found.around
    assert (found.low_half_mm, found.high_half_mm) == pytest.approx((15.5, 15.5), abs=1.0)


def test_a_clear_grip_stays_though_its_thickness_was_mistyped() -> None:
    """What is told as unsuited then is a doubt, and no reason to follow nothing."""
    own = seen(11.0, grip=0.1)
    assert np.mean(at_sides(own, np.arange(180, 240), np.full(60, 11.0))) > CLEAR
    for thick_mm in (28.0, 40.0):
        assert find_grip(own, capped(11.0, 11.5), (thick_mm, 0.5)) is None


@pytest.mark.parametrize("seed", range(6))
def test_on_bare_carpet_a_narrow_outline_has_no_grip(seed: int) -> None:
    rng = np.random.default_rng(seed)
    shape = (len(rows_mm()), len(columns_mm()), 1)
    grain = gaussian_filter(rng.normal(0, 0.1, shape), (1, 1, 0))
    bare = strip_odds(np.asarray(TABLE * np.repeat(1 + grain, 3, axis=2), np.float32))
    assert find_grip(bare, capped(10.0, 10.0), THICK_MM) is None
    assert find_grip(bare, capped(10.0, 18.0), (18.0, 0.5)) is None


def test_where_cap_and_thickness_say_the_same_a_grip_is_believed_unseen() -> None:
    """0.855 times a cap of 36 mm is 30.8, 1.1 times 28; a handle 18 mm thick has no such grip."""
    found = find_grip(seen(grip=TABLE), capped(10.0, 18.0), THICK_MM)
    assert found is not None
    assert (found.low_half_mm, found.high_half_mm) == pytest.approx((15.39, 15.39), abs=0.01)
    assert find_grip(seen(grip=TABLE), capped(10.0, 18.0), (18.0, 0.5)) is None


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


def on_a_shaft(collar_mm: float, at_mm: float = 200.0, neck_mm: float = 5.0) -> FloatArray:
    """An outline that has its cap, but goes on as a shaft where its grip is, with a collar ``at_mm`` from the
    butt and a head 100 mm to either side, 420 mm from it; up to there it widens to ``neck_mm``."""
    cap = [[18.0, 0.0], [18.0, 18.0], [5.0, 19.0]]
    collar = [[5.0, at_mm - 10], [collar_mm, at_mm], [5.0, at_mm + 15]]
    right = np.array([*cap, *collar, [neck_mm, 400.0], [100.0, 420.0], [100.0, 650.0]])
    return even_ring(np.vstack([[[0.0, 0.0]], right, right[::-1] * np.array([-1.0, 1.0])]), 1.0)


def test_a_grip_on_a_shaft_ends_at_its_collar() -> None:
    gripped = with_grip(strips(15.5, 5.0), on_a_shaft(13.0), THICK_MM)
    assert gripped is not None
    assert gripped.to_mm == pytest.approx(200, abs=1.5)
    across, y_mm = np.abs(gripped.ring_mm[:, 0]), gripped.ring_mm[:, 1]
    np.testing.assert_allclose(across[(y_mm > 2) & (y_mm < 16)], 18.0, atol=0.1)
    np.testing.assert_allclose(across[(y_mm > 22) & (y_mm < 197)], 15.5, atol=1.0)
    np.testing.assert_allclose(across[(y_mm > 217) & (y_mm < 395)], 5.0, atol=0.1)
    # a shaft without one, with less of one than a grip would have, or a neck that widens tells no end
    assert with_grip(strips(15.5, 5.0), on_a_shaft(7.0), THICK_MM) is None
    assert with_grip(strips(15.5, 5.0), on_a_shaft(5.0), THICK_MM) is None
    assert with_grip(strips(15.5, 5.0), on_a_shaft(5.0, neck_mm=15.0), THICK_MM) is None


@pytest.mark.parametrize("collar_mm", [13.0, 15.5, 17.0])
def test_a_collar_far_up_may_be_wider_than_the_grip(collar_mm: float) -> None:
    gripped = with_grip(strips(15.5, 5.0), on_a_shaft(collar_mm, 240.0), THICK_MM)
    assert gripped is not None
    assert gripped.to_mm == pytest.approx(240, abs=1.5)


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
