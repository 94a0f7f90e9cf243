"""Lines drawn with a known bow, as thin lines and as steps, on plain and grained ground."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitise.line_course import BLOCKS, chord_places, courses

HEIGHT, WIDTH = 120, 1000
LINE = np.array([[20.0, 60.0, 980.0, 60.0]])
ALONG = 2 * (np.arange(BLOCKS) + 0.5) / BLOCKS - 1  # of the blocks' middles
TERMS = np.stack([np.ones(BLOCKS), ALONG, ALONG**2], axis=1)[None]


def picture(
    shift: tuple[float, float, float], step: bool, noise: float = 0.0, gap: bool = False
) -> np.ndarray:
    """A dark line 5 px wide, or an edge, at row 60 + shift[0] + shift[1] t + shift[2] t², t from -1 to 1."""
    x, y = np.meshgrid(np.arange(WIDTH), np.arange(HEIGHT))
    t = 2 * (x - 20.0) / 960 - 1
    away = y - 60 - (shift[0] + shift[1] * t + shift[2] * t**2)
    dark = np.clip(away + 0.5, 0, 1) if step else np.clip(3 - np.abs(away), 0, 1)
    if gap:
        dark[:, 400:560] = 0.0
    grey = 150 - 60 * dark + np.random.default_rng(3).normal(0, noise, away.shape)
    return np.repeat(np.clip(np.rint(grey), 0, 255).astype(np.uint8)[..., None], 3, axis=2)


@pytest.mark.parametrize("step", [False, True])
@given(st.floats(-2, 2), st.floats(-2, 2), st.floats(-4, 4))
@settings(max_examples=15, deadline=None)
def test_bows_of_lines_and_of_edges_are_found(step: bool, level: float, turn: float, bow: float) -> None:
    found = courses(picture((level, turn, bow), step), LINE, TERMS)
    # the picture's rows count down, and so does the normal of a line that runs to the right
    assert chord_places(LINE)[1] == pytest.approx(np.array([[0.0, 1.0]]))
    # where the common profile itself lies is not told: only how the line runs about it
    assert found.fit[0, 1] == pytest.approx(turn, abs=0.08)
    assert found.fit[0, 2] == pytest.approx(bow, abs=0.15)


def test_noise_and_a_gap_are_told_in_the_standard_deviation() -> None:
    clean, noisy = (courses(picture((0.0, 1.0, 2.0), False, n, gap=True), LINE, TERMS) for n in (1.0, 12.0))
    for found in (clean, noisy):
        sd = float(np.sqrt(found.covariance[0, 2, 2]))
        assert abs(found.fit[0, 2] - 2.0) < 3 * sd + 0.02
    assert noisy.covariance[0, 2, 2] > 4 * clean.covariance[0, 2, 2]


def test_places_are_the_middles_of_equal_parts() -> None:
    places, normal = chord_places(np.array([[0.0, 0.0, 30.0, 40.0]]))
    assert places[0, 0] == pytest.approx([30 * 0.5 / BLOCKS, 40 * 0.5 / BLOCKS])
    assert places[0, -1] == pytest.approx([30 - 15 / BLOCKS, 40 - 20 / BLOCKS])
    assert normal[0] == pytest.approx([-0.8, 0.6])
