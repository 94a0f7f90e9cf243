"""What one racquet says of another of its model, at both ends of their share and by the joint normal law."""

from __future__ import annotations

import numpy as np
import pytest

from model.calibrate import calibrate
from model.like import likeness, with_likeness
from model.reading_text import parse_reading
from tests.test_calibrate_readings import BOTH, PARTS

FOUND = calibrate(PARTS, (*BOTH, parse_reading("machine", "twist 6.5")))
RECORD = likeness(FOUND, "a")
MEAN, COV = PARTS.prior()
SHARED = [
    PARTS.names.index(label.removeprefix("mass of "))
    if label.startswith("mass of ")
    else len(PARTS.names) + PARTS.mode_names.index(label)
    for label in RECORD.labels
]
BLOCK = np.ix_(SHARED, SHARED)


def test_all_of_its_own_it_is_told_nothing() -> None:
    """r = 1: the two share nothing, and the prior stays the construction's."""
    mean, cov = with_likeness(PARTS, [RECORD], 1.0).prior()
    assert mean == pytest.approx(MEAN, rel=1e-12)
    assert cov == pytest.approx(COV, rel=1e-12)


def test_nothing_of_its_own_it_is_the_same_racquet() -> None:
    """r = 0: what is known of the one is known of the other."""
    mean, cov = with_likeness(PARTS, [RECORD], 0.0).prior()
    assert mean[SHARED] == pytest.approx(FOUND.state[SHARED], abs=1e-8)
    assert cov[BLOCK] == pytest.approx(FOUND.cov[BLOCK], rel=1e-5, abs=1e-10)


@pytest.mark.parametrize("share", [0.3, 0.8])
def test_between_them_as_the_joint_normal_law_has_it(share: float) -> None:
    """Each has the prior's covariance, and 1 - r² of it between them: B, given what A's readings leave."""
    own, common = COV[BLOCK], (1 - share**2) * COV[BLOCK]
    gain = common @ np.linalg.inv(own)
    want_mean = MEAN[SHARED] + gain @ (FOUND.state[SHARED] - MEAN[SHARED])
    want_cov = own - gain @ (own - FOUND.cov[BLOCK]) @ gain.T
    mean, cov = with_likeness(PARTS, [RECORD], share).prior()
    assert mean[SHARED] == pytest.approx(want_mean, abs=1e-8)
    assert cov[BLOCK] == pytest.approx(want_cov, rel=1e-5, abs=1e-10)
