"""Where an outline cuts across a hoop, told from the outline alone."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from digitise.band import even_ring
from digitise.string_bed import hollow_hoop
from digitise.tone import FloatArray

MIDDLE_MM, ACROSS_MM, ALONG_MM = 520.0, 130.0, 165.0


def frame(across_mm: float = ACROSS_MM, along_mm: float = ALONG_MM) -> FloatArray:
    """An oval hoop on an open throat whose arms bend inward, and a handle."""
    angle = np.linspace(np.radians(-50), np.pi / 2, 200)
    oval = np.column_stack([across_mm * np.cos(angle), MIDDLE_MM + along_mm * np.sin(angle)])
    right = np.vstack([[[0.0, 0.0], [16.0, 0.0], [16.0, 200.0], [30.0, 300.0]], oval])
    return even_ring(np.vstack([right, right[-2:0:-1] * np.array([-1.0, 1.0])]), 1.0)


@given(st.floats(95, 150), st.floats(120, 180))
def test_a_whole_hoop_bends_outward_wherever_it_is_looked_at(across_mm: float, along_mm: float) -> None:
    assert not hollow_hoop(frame(across_mm, along_mm)).any()


def test_a_string_taken_for_a_piece_of_the_hoop_is_told() -> None:
    """A main 26 mm inside the right side: where it is more than 1.5 mm inside the chord over the cut."""
    ring = frame()
    cut = (ring[:, 0] > 104.0) & (ring[:, 1] > MIDDLE_MM - 40) & (ring[:, 1] < MIDDLE_MM + 60)
    ring[cut, 0] = 104.0
    hollow = hollow_hoop(ring)
    upper = cut & (ring[:, 1] > MIDDLE_MM)
    assert hollow[upper].mean() > 0.9
    assert not hollow[~cut].any()


def test_arms_of_a_throat_are_no_hoop() -> None:
    ring = frame()
    assert not hollow_hoop(ring)[ring[:, 1] < MIDDLE_MM - 60].any()
