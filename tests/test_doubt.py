"""Doubtful stretches of outlines whose faint and unequal places are known."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest

from digitise.axis import Axis
from digitise.contour import Contour
from digitise.doubt import doubtful_share, doubtful_stretches
from digitise.resting import Resting

COUNT = 400


def contour(faint: npt.ArrayLike = (), unequal: npt.ArrayLike = ()) -> Contour:
    """A ring of 400 points whose point 0 is the butt; these places of it are faint, or unequal."""
    angle = 2 * np.pi * np.arange(COUNT) / COUNT
    ring = np.column_stack([64 * np.sin(angle), 64 - 64 * np.cos(angle)])
    strength, apart = np.full(COUNT, 0.9), np.zeros(COUNT)
    strength[np.asarray(faint, int) % COUNT] = 0.1
    apart[np.asarray(unequal, int) % COUNT] = 1.4
    resting = Resting(Axis(np.zeros(2), np.array([0.0, 1.0])), 15.0, 0.0)
    return Contour(resting, ring, strength, apart, np.zeros(COUNT, bool))


def test_a_clear_outline_is_not_in_doubt() -> None:
    assert doubtful_stretches(contour()) == ()


def test_a_stretch_over_the_seam_stays_whole() -> None:
    (doubt,) = doubtful_stretches(contour(faint=np.arange(-10, 11)))
    assert (doubt.first, doubt.last, doubt.length_mm) == (COUNT - 10, 10, 21.0)
    assert doubt.reason == "faint edge"


def test_sides_and_reasons() -> None:
    right, left = doubtful_stretches(contour(np.arange(80, 120), np.arange(290, 310)))
    assert (right.first, right.last, right.side, right.reason) == (80, 119, "right side", "faint edge")
    assert (left.first, left.last, left.side, left.reason) == (290, 309, "left side", "the two sides differ")


def test_words_lead_to_the_place() -> None:
    (doubt,) = doubtful_stretches(contour(faint=np.arange(80, 121)))
    low, high = (64 - 64 * np.cos(2 * np.pi * i / COUNT) for i in (80, 120))
    assert doubt.words() == (f"right side, {low:.0f} to {high:.0f} mm from the butt, 41 mm long: faint edge")


@pytest.mark.parametrize(("length", "count"), [(5, 0), (6, 1)])
def test_short_stretches_are_let_pass(length: int, count: int) -> None:
    assert len(doubtful_stretches(contour(faint=np.arange(50, 50 + length)))) == count


def test_share() -> None:
    some = contour(faint=np.arange(100, 140))
    assert doubtful_share(doubtful_stretches(some), some) == 40 / COUNT
    whole = contour(faint=np.arange(COUNT))
    assert doubtful_share(doubtful_stretches(whole), whole) == 1.0
