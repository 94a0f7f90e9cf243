"""Landmarks and the clock's centre."""

from __future__ import annotations

import pytest

from model.errors import OutlineError
from model.face import Landmarks, check_landmarks, face_centre_mm, string_bed, with_hoop
from tests.model_samples import STRUNG_TOPS, paddle, strung


def test_centre_is_midway_between_throat_and_tip() -> None:
    assert face_centre_mm(410.0, Landmarks(130.0)) == (0.0, (130 + 410) / 2)
    assert face_centre_mm(685.0, Landmarks(190.0, 3.0, 345.0)) == (0.0, (345 + 685) / 2)


def test_hoop_is_as_wide_below_as_at_the_tip() -> None:
    assert string_bed(strung()) == 1
    filled = with_hoop(strung(), STRUNG_TOPS)
    assert filled.throat_top_mm == pytest.approx(515 - 159 - (170 - 159), abs=0.1)


def test_a_given_throat_top_stays() -> None:
    given = Landmarks(190.0, 3.0, 350.0)
    assert with_hoop(strung(), given) == given


def test_a_strung_racquet_needs_its_bed() -> None:
    with pytest.raises(OutlineError, match="string bed"):
        with_hoop(paddle(), Landmarks(130.0))


@pytest.mark.parametrize("landmarks", [Landmarks(-5.0), Landmarks(500.0), Landmarks(130.0, 3.0, 100.0)])
def test_landmarks_off_the_racquet_are_refused(landmarks: Landmarks) -> None:
    with pytest.raises(OutlineError, match="correct the landmark"):
        check_landmarks(paddle(), landmarks)
