"""The table's look: uneven light is learnt, what differs from it stands out, shadows less."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.table_model import SHADOW_WEIGHT, as_if_unclipped, model_table
from digitise.tone import LIGHT_FLOOR, FloatArray, log_colour
from tests.drawn_view import PADDLE_LIGHT, axis_at, cover, empty_view, paddle_ring, paint, roughen, shade


def test_log_colour_by_hand() -> None:
    light = np.array([[0.2, 0.4, 0.1]]) - LIGHT_FLOOR
    red, green, blue = np.log([0.2, 0.4, 0.1])
    expected = [(red + green + blue) / 3, red - green, blue - (red + green) / 2]
    np.testing.assert_allclose(log_colour(light), [expected])


def test_less_light_changes_brightness_alone() -> None:
    light = np.array([0.3, 0.5, 0.2])
    change = log_colour(0.5 * (light + LIGHT_FLOOR) - LIGHT_FLOOR) - log_colour(light)
    np.testing.assert_allclose(change, [np.log(0.5), 0.0, 0.0], atol=1e-12)


def test_uneven_light_is_learnt_even_under_the_racquet() -> None:
    view = empty_view()
    paint(view, axis_at(0.0, -200.0, 20.0).to_world(paddle_ring()), PADDLE_LIGHT)
    share = cover(view, axis_at(0.0, -200.0, 20.0).to_world(paddle_ring()))
    rows, cols = view.inside.shape
    across = np.exp(np.linspace(-0.6, 0.6, cols))[None, :] * np.ones((rows, 1))
    shade(view, across)
    roughen(view, 0.02, 1)
    table = model_table(view, np.zeros_like(view.inside))
    bare = empty_view()
    shade(bare, across)
    off = np.abs(table.colour - log_colour(bare.light))
    assert off[share > 0].max() <= 0.12
    assert np.median(off) <= 0.01
    assert np.quantile(table.oddness[share > 0.99], 0.05) > 7.0
    assert np.quantile(table.oddness[share == 0], 0.99) < 4.0


@pytest.mark.parametrize("size_mm", [40.0])
def test_darker_counts_a_share_of_lighter(size_mm: float) -> None:
    view = empty_view()
    square = np.array([[0, 0], [size_mm, 0], [size_mm, size_mm], [0, size_mm]])
    grey = (0.2, 0.2, 0.2)
    view.light[:] = 0.2
    for place, factor in (([-150.0, 0.0], 0.5), ([150.0, 0.0], 2.0)):
        lit = factor * (0.2 + LIGHT_FLOOR) - LIGHT_FLOOR
        paint(view, square + np.array(place), (lit, lit, lit))
    assert grey[0] == view.light[0, 0, 0].astype(float).round(6)
    table = model_table(view, np.zeros_like(view.inside))
    dark, light = (
        tuple(np.rint(view.to_grid(np.array([[x, size_mm / 2]]))[0]).astype(int)[::-1])
        for x in (-150.0 + size_mm / 2, 150.0 + size_mm / 2)
    )
    assert table.unlike[dark][0] == pytest.approx(-table.unlike[light][0], rel=0.03)
    assert table.oddness[dark] / table.oddness[light] == pytest.approx(SHADOW_WEIGHT, rel=0.03)


def test_what_is_covered_is_never_odd() -> None:
    view = empty_view()
    view.light[100:140, 60:110] = 0.9
    covered = np.zeros_like(view.inside)
    covered[95:145, 55:115] = True
    view.inside[:, :20] = False
    table = model_table(view, covered)
    assert not table.usable[covered].any()
    assert not table.usable[:, :20].any()
    assert table.oddness[~table.usable].max() == 0.0
    assert table.oddness[table.usable].max() < 1.0


def rest_of(*channels: float) -> FloatArray:
    """One cell's brightness and colour ratios less the table's, (1, 1, 3), of its channels' logarithms."""
    red, green, blue = channels
    return np.array([[[(red + green + blue) / 3, red - green, blue - (red + green) / 2]]])


def test_an_overexposed_channel_is_given_what_the_others_say() -> None:
    # Red, lighter to begin with, is at its limit after 0.2; green and blue show that the light rose by 0.5.
    seen = as_if_unclipped(rest_of(0.2, 0.5, 0.5), np.array([[[1.0, 0.9, 0.7]]]))
    assert seen == pytest.approx(rest_of(0.5, 0.5, 0.5))


def test_where_all_channels_are_at_their_limit_there_is_no_tint_left() -> None:
    seen = as_if_unclipped(rest_of(0.1, 0.2, 0.4), np.ones((1, 1, 3)))
    assert seen == pytest.approx(rest_of(0.4, 0.4, 0.4))


def test_a_channel_at_its_limit_that_is_lighter_than_the_others_say_stays_so() -> None:
    seen = as_if_unclipped(rest_of(0.9, 0.2, 0.3), np.array([[[0.97, 0.4, 0.4]]]))
    assert seen == pytest.approx(rest_of(0.9, 0.2, 0.3))


def test_what_is_not_overexposed_keeps_its_tint() -> None:
    rest = rest_of(0.2, 0.5, 0.5)
    assert as_if_unclipped(rest, np.full((1, 1, 3), 0.9)) == pytest.approx(rest)
