"""How much likelier than bare table a border is, by the edge that shows."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.border_odds import HALF_STEP, LOG_ODDS, WINDOW_MM, border_odds, of_both

STEP_MM = 0.25


def odds_of(step: float, along: int) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Odds on a flat picture with a step of brightness (log) in the middle across axis ``along``."""
    colour = np.zeros((120, 160, 3))
    half = np.arange(colour.shape[along]) >= colour.shape[along] // 2
    colour[..., 0] = step * np.expand_dims(half, 1 - along)
    table = np.ones(160, bool) if along == 0 else np.abs(np.arange(160) - 80) > 20
    return border_odds(colour, along, STEP_MM, table)


@pytest.mark.parametrize("along", [0, 1])
def test_a_clear_step_stands_out_and_a_flat_table_does_not(along: int) -> None:
    odds = np.moveaxis(odds_of(2.0, along), along, 0)
    middle = len(odds) // 2
    reach = round(WINDOW_MM / STEP_MM)
    assert odds[middle - 1 : middle + 1].max() == pytest.approx(LOG_ODDS[-1])
    assert odds[reach * 2 : middle - 2 * reach].max() == LOG_ODDS[0]


def test_a_step_of_half_strength_is_worth_what_its_strength_is() -> None:
    # Without texture a step s has the strength s / (s + HALF_STEP): 0.75 of a step of three times that.
    odds = odds_of(3 * HALF_STEP, 1)
    assert odds[60].max() == pytest.approx(1.1, abs=1e-6)


def test_lines_of_a_printed_mat_make_borders_less_likely() -> None:
    colour = np.zeros((100, 200, 3))
    colour[..., 0] = 0.5 * (np.arange(200) % 12 < 6)
    table = np.arange(200) >= 100
    lined = border_odds(colour, 1, STEP_MM, table)[50, 20:180].max()
    colour[:, 100:] = 0
    plain = border_odds(colour, 1, STEP_MM, table)[50, 20:90].max()
    assert lined < plain - 2


def test_the_fainter_of_two_sides_counts_most() -> None:
    assert of_both(np.array([4.0]), np.array([-3.0]))[0] == pytest.approx(-1.0)
    assert of_both(np.array([1.0]), np.array([1.0]))[0] == pytest.approx(1.5)
