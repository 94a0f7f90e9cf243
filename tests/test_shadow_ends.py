"""Ends that are a shadow: made-up profiles across an end, and shapes cut shorter."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter1d

from digitise.axis import Axis
from digitise.half_width import SymmetricShape
from digitise.shadow_ends import (
    STEP_MM,
    _less_at_butt,
    _less_at_tip,
    places_mm,
    shadow_mm,
    sunlit_butt,
    sunlit_tip,
)


def profile(colours: list[tuple[float, tuple[float, float, float]]], blurs_mm: list[float]) -> np.ndarray:
    """Log colour at ``places_mm``: 0 outside, then each colour from its place on, by an edge so blurred."""
    seen = np.zeros((len(places_mm()), 3))
    before = np.zeros(3)
    for (from_mm, colour), blur_mm in zip(colours, blurs_mm, strict=True):
        step = (places_mm() >= from_mm).astype(float)
        share = gaussian_filter1d(step, blur_mm / STEP_MM) if blur_mm else step
        seen += share[:, None] * (np.array(colour) - before)
        before = np.array(colour)
    return seen


SHADE, WHITE, BLACK = (-0.9, 0.01, 0.05), (1.2, 0.0, 0.0), (-2.2, 0.0, 0.0)


@given(st.floats(6, 45), st.floats(-4, 0), st.floats(1.5, 2.5))
def test_a_soft_shadow_before_a_sharp_end_is_told(end_mm: float, soft_mm: float, blur_mm: float) -> None:
    seen = profile([(soft_mm, SHADE), (end_mm, WHITE)], [blur_mm, 0.25])
    # a shadow as short as its own border is wide shows no border
    if end_mm - soft_mm > 4 * blur_mm + 4:
        assert shadow_mm(seen) == pytest.approx(end_mm, abs=0.5)


@pytest.mark.parametrize(
    ("why", "colours", "blurs"),
    [
        ("a black cap below a white grip: its end is sharp", [(0, BLACK), (25, WHITE)], [0.25, 0.25]),
        ("a racquet's end and nothing else", [(0, WHITE)], [0.25]),
        ("a coloured cap with a soft end", [(0, (-0.6, 0.5, -0.4)), (25, WHITE)], [1.8, 0.25]),
        ("a dark cap with a cast", [(0, (-1.6, 0.17, 0.0)), (25, WHITE)], [1.8, 0.25]),
        ("a dark hoop, blurred, its bed in shade", [(0, BLACK), (4, SHADE), (25, WHITE)], [1.2, 1.2, 0.25]),
        ("brighter than the table", [(0, (0.5, 0.0, 0.0)), (25, WHITE)], [1.8, 0.25]),
        ("a shadow and no sharp edge", [(0, SHADE), (25, WHITE)], [1.8, 1.8]),
        ("bare table", [], []),
        ("3 mm of shadow, which others deal with", [(-12, SHADE), (3, WHITE)], [1.8, 0.25]),
    ],
)  # fmt: skip
def test_what_is_no_shadow(
    why: str, colours: list[tuple[float, tuple[float, float, float]]], blurs: list[float]
) -> None:
    assert shadow_mm(profile(colours, blurs)) == 0, why


SKY_LIT, ORANGE, BLUE, GREY = (-1.4, -0.07, 0.17), (-0.9, 1.4, -2.1), (-1.1, -1.0, 1.8), (-1.4, 0.0, 0.0)
ALONG: list[tuple[float, tuple[float, float, float]]] = [(0, SKY_LIT), (9, ORANGE), (15, BLUE)]


def test_a_sunlit_tip_s_shadow_ends_where_what_goes_on_along_the_sides_begins() -> None:
    seen = profile(ALONG, [0.2, 0.25, 0.25])
    found = sunlit_tip(seen, lambda: np.array([ORANGE, (-0.6, 1.45, -2.3)]))
    assert found is not None
    assert found[0] == pytest.approx(9.0, abs=0.3)
    np.testing.assert_allclose(found[1], SKY_LIT, atol=0.01)
    # one side is enough: the other may lie in the shadow
    assert sunlit_tip(seen, lambda: np.array([SKY_LIT, ORANGE])) is not None


def test_a_rim_all_round_is_no_shadow_however_much_it_looks_like_one() -> None:
    seen = profile([(0, SKY_LIT), (9, ORANGE)], [0.2, 0.25])
    assert sunlit_tip(seen, lambda: np.array([SKY_LIT, SKY_LIT])) is None


@pytest.mark.parametrize(
    ("why", "colours"),
    [
        ("a green rim", [(0, (-1.4, -0.9, 0.2)), (9, ORANGE)]),
        ("brighter than the table", [(0, (0.4, 0.0, 0.1)), (9, ORANGE)]),
        ("a dark grey guard, which is at the tip only", [(0, (-1.3, 0.0, 0.05)), (6, ORANGE)]),
        ("lighter than what the sky alone lights", [(0, (-0.5, -0.05, 0.1)), (9, ORANGE)]),
        ("blacker than any shadow", [(0, (-2.6, 0.0, 0.0)), (9, ORANGE)]),
        ("shaded as a form is", [*((y, (-0.8 - y / 9, 0.0, 0.0)) for y in range(9)), (9, ORANGE)]),
        ("nothing farther in", [(0, SKY_LIT)]),
        ("its border farther out", [(-6, SKY_LIT), (9, ORANGE)]),
    ],
)  # fmt: skip
def test_what_is_no_shadow_of_the_sun(
    why: str, colours: list[tuple[float, tuple[float, float, float]]]
) -> None:
    seen = profile(colours, [0.25] * len(colours))
    assert sunlit_tip(seen, lambda: np.array([ORANGE, ORANGE])) is None, why


def test_a_line_of_the_table_in_its_shadow_is_not_the_racquet() -> None:
    joint = (SKY_LIT[0] - 0.6, *SKY_LIT[1:])
    seen = profile([(0, SKY_LIT), (5, joint), (5.75, SKY_LIT), (14, ORANGE)], [0.2] * 4)
    found = sunlit_tip(seen, lambda: np.array([ORANGE, ORANGE]))
    assert found is not None
    assert found[0] == pytest.approx(14.0, abs=0.3)


def test_a_sunlit_butt_s_shadow_has_a_cap_after_it() -> None:
    capped = profile([(0, SKY_LIT), (27, ORANGE), (45, BLUE)], [0.2, 0.25, 0.25])
    found = sunlit_butt(capped)
    assert found is not None
    assert found[0] == pytest.approx(27.0, abs=0.3)
    # a grey cap and its grip look the same but for what comes after, and for the sky's blue
    assert sunlit_butt(profile([(0, GREY), (27, ORANGE), (45, BLUE)], [0.25] * 3)) is None
    assert sunlit_butt(profile([(0, SKY_LIT), (27, ORANGE)], [0.25, 0.25])) is None


def paddle() -> SymmetricShape:
    y = np.arange(0.0, 402.0, 2.0)
    half = np.where(y < 130, 16.0, 16 + 84 * np.sin(np.pi * np.clip((y - 130) / 280, 0, 1)))
    return SymmetricShape(Axis(np.array([10.0, 20.0]), np.array([0.0, 1.0])), y, half, 5.0, 16.0, 120.0)


def test_a_shorter_handle_keeps_its_place_in_the_world() -> None:
    long = paddle()
    short = _less_at_butt(long, 23.5)
    assert short.length_mm == long.length_mm - 24
    assert short.axis.origin_mm == pytest.approx([10.0, 44.0])
    assert short.half_width_mm == pytest.approx(long.half_width_mm[12:])
    assert (short.grip_mm, short.grip_to_mm) == (16.0, 96.0)
    assert _less_at_butt(long, 0.0) is long


def test_a_shorter_head_is_as_wide_and_keeps_its_handle() -> None:
    long = paddle()
    short = _less_at_tip(long, 20.0)
    assert short.length_mm == long.length_mm - 20
    assert short.half_width_mm.max() == pytest.approx(long.half_width_mm.max())
    widest = int(np.argmax(long.half_width_mm))
    assert short.half_width_mm[: widest + 1] == pytest.approx(long.half_width_mm[: widest + 1])
    assert short.half_width_mm[-1] == pytest.approx(long.half_width_mm[-1])
    assert np.all(np.diff(short.half_width_mm[widest:]) <= 0)
    assert _less_at_tip(long, 0.0) is long
