"""The mirrored search gains exactly as much as the search of the whole closed line."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitise.band import mirrored
from digitise.best_line import best_closed_line, best_mirrored_line
from digitise.tone import Image

STEP_COST, MAX_STEP = 0.5, 2


def gained(gain: Image, line: npt.NDArray[np.int64]) -> float:
    """What a closed line gains in all; raises AssertionError if it moves farther than it may."""
    steps = np.abs(np.diff(np.append(line, line[0])))
    assert steps.max() <= MAX_STEP
    return float(gain[np.arange(len(gain)), line].sum() - STEP_COST * steps.sum())


@given(rows=st.integers(min_value=4, max_value=41), seed=st.integers(min_value=0, max_value=999))
@settings(max_examples=60, deadline=None)
def test_a_mirrored_line_gains_as_much_as_any_closed_line(rows: int, seed: int) -> None:
    noise = np.random.default_rng(seed).normal(size=(rows, 9))
    gain = noise + mirrored(noise)
    line = best_mirrored_line(gain, STEP_COST, MAX_STEP)
    assert line.tolist() == mirrored(line.astype(float)).tolist()
    assert gained(gain, line) >= gained(gain, best_closed_line(gain, STEP_COST, MAX_STEP)) - 1e-4


def test_a_mirrored_line_follows_a_clear_edge() -> None:
    turn = 2 * np.pi * np.arange(120) / 120
    wanted = np.rint(20 + 8 * np.cos(turn)).astype(int)
    gain = np.zeros((120, 40), np.float32)
    gain[np.arange(120), wanted] = 10.0
    assert best_mirrored_line(gain, STEP_COST, MAX_STEP).tolist() == wanted.tolist()
    assert gained(gain, wanted) == pytest.approx(1200 - STEP_COST * 32)
