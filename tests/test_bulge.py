"""Where an outline cuts across a head or bulges out of it, and the course that the rest of it takes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitise.axis import Axis
from digitise.band import even_ring
from digitise.bulge import BETWEEN_MM, LEAST_MM, bulging, hollow_head, pinched, with_bulges, without_bulges
from digitise.contour import Contour, drawn_on, filled
from digitise.resting import Resting
from digitise.tone import FloatArray

MIDDLE_MM, ACROSS_MM, ALONG_MM = 520.0, 130.0, 165.0


def frame(across_mm: float = ACROSS_MM, along_mm: float = ALONG_MM) -> FloatArray:
    """An oval hoop on an open throat whose arms bend inward, and a handle."""
    angle = np.linspace(np.radians(-50), np.pi / 2, 200)
    oval = np.column_stack([across_mm * np.cos(angle), MIDDLE_MM + along_mm * np.sin(angle)])
    right = np.vstack([[[0.0, 0.0], [16.0, 0.0], [16.0, 200.0], [30.0, 300.0]], oval])
    return even_ring(np.vstack([right, right[-2:0:-1] * np.array([-1.0, 1.0])]), 1.0)


def from_oval_mm(ring: FloatArray) -> FloatArray:
    """How far (n,) points beyond the widest place lie off the oval, by its gradient."""
    x, y = ring[ring[:, 1] > MIDDLE_MM].T
    y = y - MIDDLE_MM
    value = (x / ACROSS_MM) ** 2 + (y / ALONG_MM) ** 2 - 1
    slope = 2 * np.hypot(x / ACROSS_MM**2, y / ALONG_MM**2)
    return np.asarray(np.abs(value) / slope)


def cut_by_strings() -> FloatArray:
    """Mains 26 mm inside both sides of the hoop, taken for it."""
    ring = frame()
    cut = (np.abs(ring[:, 0]) > 104.0) & (ring[:, 1] > MIDDLE_MM - 40) & (ring[:, 1] < MIDDLE_MM + 60)
    ring[cut, 0] = 104.0 * np.sign(ring[cut, 0])
    return ring


def with_line_past_tip(half_mm: float = 35.0, past_mm: float = 12.0) -> FloatArray:
    """A line across the table past the tip, taken for its end."""
    ring = frame()
    tip = (np.abs(ring[:, 0]) < half_mm) & (ring[:, 1] > MIDDLE_MM)
    ring[tip, 1] = MIDDLE_MM + ALONG_MM + past_mm
    return even_ring(ring, 1.0)


@given(st.floats(95, 150), st.floats(120, 180))
def test_a_whole_head_bends_outward_wherever_it_is_looked_at(across_mm: float, along_mm: float) -> None:
    ring = frame(across_mm, along_mm)
    assert not hollow_head(ring).any()
    assert without_bulges(ring) is None


def test_a_string_taken_for_a_piece_of_the_hoop_is_told() -> None:
    """Where it is more than 1.5 mm inside the chord over the cut."""
    ring = cut_by_strings()
    hollow = hollow_head(ring)
    upper = (np.abs(ring[:, 0]) == 104.0) & (ring[:, 1] > MIDDLE_MM)
    assert hollow[upper].mean() > 0.9
    assert not hollow[(ring[:, 1] < MIDDLE_MM - 45) | (ring[:, 1] > MIDDLE_MM + 65)].any()


def test_arms_of_a_throat_are_no_head() -> None:
    ring = frame()
    assert not hollow_head(ring)[ring[:, 1] < MIDDLE_MM - 60].any()


def test_the_piece_of_hoop_that_was_cut_off_is_put_back() -> None:
    """Its middle lay 26 mm inside; drawn through the rest it comes within what a search reaches."""
    course = without_bulges(cut_by_strings())
    assert course is not None
    assert from_oval_mm(cut_by_strings()).max() > 20
    assert from_oval_mm(course).max() < 5.0
    twin = np.roll(course[::-1], 1, axis=0) * np.array([-1.0, 1.0])
    np.testing.assert_allclose(course, twin, atol=0.05)


def contour_of(ring: FloatArray) -> Contour:
    lying = Resting(Axis(np.zeros(2), np.array([0.0, 1.0])), 5.0, 0.0)
    count = len(ring)
    return Contour(lying, ring, np.full(count, 0.9), np.full(count, 0.1), np.zeros(count, bool))


def test_hoop_that_no_search_finds_is_drawn_by_the_rest_of_it_and_lies_on_no_edge() -> None:
    """It is marked, and no edge is claimed there; all else stays to the bit."""
    cut = contour_of(cut_by_strings())
    whole = drawn_on(cut)
    lost = bulging(cut.ring_mm)
    assert from_oval_mm(whole.ring_mm).max() < 5.0
    assert len(whole.ring_mm) == len(cut.ring_mm)
    np.testing.assert_array_equal(whole.drawn, lost)
    assert not whole.strength[lost].any()
    assert not whole.apart_mm[lost].any()
    for now, before in ((whole.ring_mm, cut.ring_mm), (whole.strength, cut.strength)):
        np.testing.assert_array_equal(now[~lost], before[~lost])


def test_a_whole_hoop_is_drawn_by_its_own_edge() -> None:
    whole = contour_of(frame())
    assert drawn_on(whole) is whole


def paddle(neck_mm: float) -> FloatArray:
    """A grip of 17 mm either way, 130 mm long, a neck of another half width for 20 mm, and a square head."""
    neck = [[17.0, 130.0], [neck_mm, 131.0], [neck_mm, 151.0], [17.0, 152.0]]
    right = np.array([[0.0, 0.0], [17.0, 0.0], *neck, [90.0, 200.0], [90.0, 390.0], [0.0, 390.0]])
    return even_ring(np.vstack([right, right[-2:0:-1] * np.array([-1.0, 1.0])]), 1.0)


def test_a_neck_narrower_than_its_grip_is_filled_and_lies_on_no_edge() -> None:
    cut = contour_of(paddle(10.0))
    notch = (cut.ring_mm[:, 1] > 131) & (cut.ring_mm[:, 1] < 151)
    whole = filled(cut)
    assert whole.drawn is not None
    np.testing.assert_array_equal(whole.drawn[notch], True)
    assert whole.drawn.sum() < notch.sum() + 20
    np.testing.assert_allclose(np.abs(whole.ring_mm[notch, 0]), 17.0, atol=0.05)
    assert not whole.strength[whole.drawn].any()
    np.testing.assert_array_equal(whole.ring_mm[~whole.drawn], cut.ring_mm[~whole.drawn])


@pytest.mark.parametrize("neck_mm", [14.6, 17.0, 25.0])
def test_a_neck_nearly_as_wide_as_its_grip_is_one(neck_mm: float) -> None:
    """Wraps make a grip up to 2.5 mm wider on a side than the wood that its neck shows."""
    whole = contour_of(paddle(neck_mm))
    assert filled(whole) is whole


@pytest.mark.parametrize(("half_mm", "inside_mm"), [(15.0, 2.5), (25.0, 4.5), (35.0, 7.0)])
def test_a_bulge_past_the_tip_is_taken_away(half_mm: float, inside_mm: float) -> None:
    """The course runs inside the true one by as much as a cubic through its ends bends less than an oval."""
    course = without_bulges(with_line_past_tip(half_mm))
    assert course is not None
    assert MIDDLE_MM + ALONG_MM - inside_mm < course[:, 1].max() < MIDDLE_MM + ALONG_MM
    assert from_oval_mm(course).max() < inside_mm


def test_the_bulge_itself_is_in_doubt_with_the_hollows_beside_it() -> None:
    ring = with_line_past_tip()
    marked = with_bulges(hollow_head(ring))
    bulge = ring[:, 1] > MIDDLE_MM + ALONG_MM + 11
    assert not hollow_head(ring)[bulge].any()
    assert marked[bulge].all()
    assert marked.sum() < 200


def test_between_hollows_far_from_each_other_nothing_bulges() -> None:
    hollow = np.zeros(1200, bool)
    hollow[300:320] = hollow[320 + BETWEEN_MM + 5 : 340 + BETWEEN_MM + 5] = True
    np.testing.assert_array_equal(with_bulges(hollow), hollow)
    hollow[330 : 330 + LEAST_MM - 1] = True  # too short to be one
    assert with_bulges(hollow).sum() == 40


def test_of_an_outline_mostly_hollow_and_bulging_nothing_is_told() -> None:
    """Waves 8 mm deep all the way from a wide butt to a pointed tip."""
    along = np.linspace(0.0, 1.0, 400)
    x_mm = 100 * (1 - along) - 8 * np.sin(6 * np.pi * along) ** 2
    right = np.column_stack([np.maximum(x_mm, 1.0), 5 + 395 * along])
    ring = even_ring(np.vstack([[[0.0, 0.0]], right, right[::-1] * np.array([-1.0, 1.0])]), 1.0)
    assert hollow_head(ring).mean() > 0.4
    assert without_bulges(ring) is None


def test_arms_followed_from_within_are_told() -> None:
    """The arms widen from 16 to 30 mm between 200 and 300 mm; from 230 to 280 the outline is 12 mm within."""
    ring = frame()
    within = (ring[:, 1] > 230) & (ring[:, 1] < 280)
    ring[within, 0] -= 12.0 * np.sign(ring[within, 0])
    told = pinched(ring)
    assert told[(ring[:, 1] > 232) & (ring[:, 1] < 278)].all()
    assert not told[(ring[:, 1] < 215) | (ring[:, 1] > 295)].any()


@pytest.mark.parametrize("shaft_mm", [150.0, 250.0])
def test_a_thin_shaft_between_grip_and_hoop_is_no_pinch(shaft_mm: float) -> None:
    """The grip ends in a step of 8 mm, and the hoop begins in a larger one."""
    right = np.array(
        [[13, 0], [13, 180], [5, 186], [4, 186 + shaft_mm], [60, 196 + shaft_mm], [100, 330 + shaft_mm]]
    )
    left = right[::-1] * np.array([-1.0, 1.0])
    ring = even_ring(np.vstack([[[0.0, 0.0]], right, [[0.0, 400 + shaft_mm]], left]).astype(float), 1.0)
    assert not pinched(ring).any()


@given(st.floats(95, 150), st.floats(120, 180))
def test_a_whole_frame_is_nowhere_pinched(across_mm: float, along_mm: float) -> None:
    assert not pinched(frame(across_mm, along_mm)).any()
