"""Where a butt cap ends that has nearly the table's colour, or a shadow below it."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.band import even_ring
from digitise.butt_cap import Cap, _flares, find_cap, has_cap, hides_cap
from digitise.handle_strip import columns_mm, rows_mm, strip_odds
from digitise.tone import FloatArray, Image

TABLE, GRIP, CAP, SHADOW = 0.30, 0.05, 0.18, 0.16
GRIP_MM, FLARE_MM = 16.0, 4.0


def strip(
    cap_end_mm: float,
    cap: float,
    shadow_end_mm: float | None = None,
    flare_mm: float = FLARE_MM,
    soft_mm: float = 8.0,
) -> Image:
    """A handle as seen about its axis: a dark grip, a cap that begins where the outline ended, at 0 or, over
    a shadow, 20 mm above its own end; the soft shadow is as wide as the cap."""
    x_mm = columns_mm()[None, :]
    y_mm = rows_mm()[:, None]
    rise_mm = -cap_end_mm if cap_end_mm < 0 else 20.0
    half = Cap(cap_end_mm, GRIP_MM, 0.0, flare_mm, rise_mm, 0.0).half_at_mm(y_mm[:, 0])[:, None]
    light = np.full((y_mm.size, x_mm.size), TABLE)
    if shadow_end_mm is not None:
        inside = np.minimum(GRIP_MM + flare_mm - np.abs(x_mm), y_mm - shadow_end_mm)
        light += (SHADOW - TABLE) * np.clip(inside / soft_mm + 0.5, 0, 1)
    light = np.where((np.abs(x_mm) < half) & (y_mm > cap_end_mm), cap, light)
    light = np.where((np.abs(x_mm) < half) & (y_mm > cap_end_mm + rise_mm), GRIP, light)
    noise = np.random.default_rng(3).normal(1, 0.02, (*light.shape, 3))
    return np.asarray(light[..., None] * noise, np.float32)


def straight(half_mm: float = GRIP_MM) -> FloatArray:
    """Half widths of an outline that ends at 0 without a cap."""
    y_mm = rows_mm()
    return np.where(y_mm < 0, 0.0, half_mm)


@pytest.mark.parametrize("cap_end_mm", [-18.0, -24.0, -31.0])
def test_a_cap_below_the_seeming_end_is_found(cap_end_mm: float) -> None:
    found = find_cap(strip_odds(strip(cap_end_mm, CAP)), straight())
    assert found is not None
    assert found.end_mm == pytest.approx(cap_end_mm, abs=1.0)
    assert found.half_at_mm(np.array([cap_end_mm + 6.0]))[0] == pytest.approx(GRIP_MM + FLARE_MM, abs=1.0)


def test_a_cap_that_ends_where_the_outline_does_is_left_alone() -> None:
    whole = Cap(0.0, GRIP_MM, 0.0, FLARE_MM, 20.0, 0.0)
    y_mm = rows_mm()
    assert find_cap(strip_odds(strip(0.0, CAP)), np.where(y_mm < 0, 0.0, whole.half_at_mm(y_mm))) is None


def test_a_cap_wider_than_the_outline_is_found() -> None:
    found = find_cap(strip_odds(strip(0.0, 0.7)), straight())
    assert found is not None
    assert found.end_mm == pytest.approx(0.0, abs=1.0)
    assert found.half_at_mm(np.array([8.0]))[0] == pytest.approx(GRIP_MM + FLARE_MM, abs=1.0)


def test_bare_table_below_a_grip_is_no_cap() -> None:
    assert find_cap(strip_odds(strip(-24.0, TABLE)), straight()) is None


def test_a_shadow_below_the_cap_is_left_out() -> None:
    found = find_cap(strip_odds(strip(20.0, 0.7, shadow_end_mm=0.0)), straight())
    assert found is not None
    assert found.end_mm == pytest.approx(20.0, abs=1.0)


def test_an_end_in_the_shadow_of_a_cap_that_hardly_widens_is_moved_to_the_cap() -> None:
    seen = strip(20.0, 0.7, shadow_end_mm=0.0, flare_mm=1.0, soft_mm=16.0)
    found = find_cap(strip_odds(seen), straight())
    assert found is not None
    assert found.end_mm == pytest.approx(20.0, abs=1.0)


def test_a_grip_without_a_cap_keeps_its_end_though_a_line_runs_across_it() -> None:
    """A collar's or a wrap's border above an end that shows, or above sides that do, is no end."""
    light = strip(0.0, GRIP, flare_mm=0.0)
    y_mm = rows_mm()
    light[y_mm > 25.0] *= 3.0
    assert find_cap(strip_odds(light), straight()) is None


@pytest.mark.parametrize("half_mm", [2.0, 6.0, 45.0, 200.0])
def test_an_end_wider_or_narrower_than_any_handle_has_no_cap(half_mm: float) -> None:
    """As of something else that was taken for a racquet: it reaches beyond what is looked at."""
    assert find_cap(strip_odds(strip(-24.0, CAP)), straight(half_mm)) is None


@pytest.mark.parametrize("cap_end_mm", [-18.0, -24.0, -31.0])
def test_the_grip_s_end_is_no_butt_s_where_a_faint_cap_begins_there(cap_end_mm: float) -> None:
    """The line across at 0 is stronger than the cap's whole border; it is the same with and without a cap."""
    found = find_cap(strip_odds(strip(cap_end_mm, 0.22)), straight())
    assert found is not None
    assert found.end_mm == pytest.approx(cap_end_mm, abs=1.0)


@pytest.mark.parametrize("flare_mm", [3.0, 4.0])
def test_a_cap_that_hardly_shows_is_taken_below_a_grip_s_certain_end(flare_mm: float) -> None:
    """0.24 differs so little from the table's 0.30 that its sides count as much as none, its end a little."""
    found = find_cap(strip_odds(strip(-24.0, 0.235, flare_mm=flare_mm)), straight())
    assert found is not None
    assert found.end_mm == pytest.approx(-24.0, abs=1.0)


def test_where_the_grip_s_end_shows_farther_up_what_lies_below_is_no_faint_cap() -> None:
    light = strip(-24.0, 0.22)
    light[rows_mm() > 8.0] *= 3.0
    assert find_cap(strip_odds(light), straight()) is None


@pytest.mark.parametrize(("flare_mm", "expected"), [(0.0, False), (0.8, False), (1.3, True), (4.0, True)])
def test_an_outline_has_a_cap_if_it_widens_to_its_end(flare_mm: float, expected: bool) -> None:
    y_mm = rows_mm()
    whole = Cap(0.0, GRIP_MM, 0.0, flare_mm, 20.0, 0.0)
    assert has_cap(np.where(y_mm < 0, 0.0, whole.half_at_mm(y_mm))) is expected


@pytest.mark.parametrize(
    ("cap", "flare_mm", "hidden"),
    [(0.24, 0.0, True), (0.265, 0.0, True), (TABLE, 0.0, False), (0.24, 4.0, False)],
)
def test_a_cap_may_be_hidden_where_faint_sides_go_on_below_an_outline_without_one(
    cap: float, flare_mm: float, hidden: bool
) -> None:
    y_mm = np.arange(0.0, 200.0)
    half_mm = Cap(0.0, GRIP_MM, 0.0, flare_mm, 20.0, 0.0).half_at_mm(y_mm)
    right = np.column_stack([half_mm, y_mm])
    ring = even_ring(np.vstack([[0.0, 0.0], right, right[::-1] * np.array([-1.0, 1.0])]), 1.0)
    odds = strip_odds(strip(-24.0, cap))
    assert hides_cap(odds, ring) is hidden


def test_a_shadow_below_a_whole_cap_is_no_second_cap() -> None:
    """As wide as the cap, sharp-edged, and cut off straight across by something that lies there."""
    seen = strip(0.0, 0.7, flare_mm=2.0)
    y_mm, x_mm = rows_mm()[:, None], np.abs(columns_mm()[None, :])
    seen[(y_mm < 0) & (y_mm > -20.0) & (x_mm < GRIP_MM + 2.0)] *= 0.6
    whole = Cap(0.0, GRIP_MM, 0.0, 2.0, 20.0, 0.0)
    half_mm = np.where(rows_mm() < 0, 0.0, whole.half_at_mm(rows_mm()))
    assert find_cap(strip_odds(seen), half_mm) is None
    below = find_cap(strip_odds(seen), straight())
    assert below is not None
    assert below.end_mm == pytest.approx(-20.0, abs=1.0)


def test_a_wider_cap_leaves_the_end_where_the_outline_has_it() -> None:
    found = find_cap(strip_odds(strip(2.5, 0.7)), straight())
    assert found is not None
    assert found.end_mm == 0.0
    assert found.flare_mm == pytest.approx(FLARE_MM, abs=1.0)


@pytest.mark.parametrize("cap_end_mm", [4.0, 5.5])
def test_a_certain_end_near_one_where_nothing_ends_is_taken(cap_end_mm: float) -> None:
    found = find_cap(strip_odds(strip(cap_end_mm, 0.7)), straight())
    assert found is not None
    assert found.end_mm == pytest.approx(cap_end_mm, abs=1.0)


@pytest.mark.parametrize("soft_mm", [5.0, 8.0])
def test_an_end_somewhere_in_a_shadow_whose_sides_are_seen_is_moved_to_a_certain_cap(soft_mm: float) -> None:
    """The outline ends at 0, where nothing does; the cap 20 mm above it, on a shadow 70 mm longer than it."""
    seen = strip(20.0, 0.7, shadow_end_mm=-50.0, flare_mm=2.0, soft_mm=soft_mm)
    y_mm = rows_mm()
    half_mm = np.where(y_mm < 0, 0.0, np.where(y_mm < 40.0, GRIP_MM + 2.0, GRIP_MM))
    found = find_cap(strip_odds(seen), half_mm)
    assert found is not None
    assert found.end_mm == pytest.approx(20.0, abs=1.0)


def test_a_cap_that_ends_above_beyond_doubt_is_taken_though_its_shadow_ends_where_the_outline_does() -> None:
    """The outline runs in the shadow, 5 mm narrower than the grip, over the 22 mm below the cap's end."""
    seen = strip(22.0, 0.7, shadow_end_mm=0.0, flare_mm=3.0, soft_mm=6.0)
    y_mm = rows_mm()
    half_mm = np.where(y_mm < 0, 0.0, np.where(y_mm < 22.0, GRIP_MM - 5.0, GRIP_MM))
    found = find_cap(strip_odds(seen), half_mm)
    assert found is not None
    assert found.end_mm == pytest.approx(22.0, abs=1.0)


def test_a_clear_end_a_few_mm_above_one_in_a_shadow_is_taken_though_the_cap_widens_little() -> None:
    seen = strip(8.0, 0.6, shadow_end_mm=0.0, flare_mm=3.0)
    y_mm = rows_mm()
    outline = Cap(0.0, GRIP_MM, 0.0, 3.0, 20.0, 0.0)
    found = find_cap(strip_odds(seen), np.where(y_mm < 0, 0.0, outline.half_at_mm(y_mm)))
    assert found is not None
    assert found.end_mm == pytest.approx(8.0, abs=1.0)


@pytest.mark.parametrize("off_mm", [0.0, 4.0])
def test_a_faint_cap_begins_where_the_grip_ends_a_little_above_the_outline_s_end(off_mm: float) -> None:
    lower = round(off_mm / (rows_mm()[1] - rows_mm()[0]))
    seen = strip(-24.0, 0.22)
    seen = np.concatenate([seen[:lower], seen[: len(seen) - lower]])
    found = find_cap(strip_odds(seen), straight())
    assert found is not None
    assert found.end_mm == pytest.approx(off_mm - 24.0, abs=1.0)


@pytest.mark.parametrize(
    ("end_mm", "half_mm", "flare_mm", "flares"),
    [
        (25.0, 17.0, 4.0, True),
        (25.0, 15.5, 4.0, False),  # no more than 2.5 mm wider than the outline's grip: where that ends
        (25.0, 17.0, 3.0, False),
        (8.0, 15.5, 2.0, True),  # so near to the end a grip has no room for a cap below it
    ],
)
def test_a_cap_above_is_wider_than_the_outline_s_grip(
    end_mm: float, half_mm: float, flare_mm: float, flares: bool
) -> None:
    assert _flares(Cap(end_mm, half_mm, 0.0, flare_mm, 10.0, 0.0), 17.0) == flares
