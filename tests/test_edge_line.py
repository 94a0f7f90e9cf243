"""The exact edge in a band drawn with a known place: a blurred step, with a contact shadow, on both kinds."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import erf

from digitise.band import ACROSS_MM, Band
from digitise.edge import (
    EDGE_HALF_STRENGTH,
    ENOUGH_TABLE,
    FAR_COST,
    FAR_EDGE,
    FAR_FROM_MM,
    OUTSIDE_WORTH,
    SOFT_SHARE,
    edge_strength,
    exact_edge,
    exact_reach_mm,
    weigh,
)
from digitise.table_evidence import Ground
from digitise.tone import log_colour

PX_MM = 0.27
BLUR_PX = 0.8
ROWS = 120


def drawn_band(
    edge_mm: float,
    inside: float,
    outside: float,
    contact: float = 0.0,
    px_mm: float = PX_MM,
    reach_mm: float = 5.0,
) -> Band:
    """A straight band whose light steps at ``edge_mm``; ``contact`` darkens the table towards the edge."""
    offset_mm = np.arange(-reach_mm, 7.0 + ACROSS_MM / 2, ACROSS_MM)
    share_out = (1 + erf((offset_mm - edge_mm) / (BLUR_PX * px_mm * np.sqrt(2)))) / 2
    table = outside * (1 - contact * np.exp(-np.maximum(offset_mm - edge_mm, 0) / 4.0))
    light = np.tile(((1 - share_out) * inside + share_out * table)[None, :, None], (ROWS, 1, 3))
    base = np.column_stack([np.arange(ROWS, dtype=float), np.zeros(ROWS)])
    normal = np.tile([[0.0, 1.0]], (ROWS, 1))
    return Band(light.astype(np.float32), base, normal, offset_mm)


def column_near(band: Band, place_mm: float) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    return np.full(ROWS, int(np.argmin(np.abs(band.offset_mm - place_mm))), np.int64)


@pytest.mark.parametrize("edge_mm", [-0.4, -0.11, 0.0, 0.07, 0.33])
@pytest.mark.parametrize(("inside", "outside"), [(0.05, 0.6), (0.7, 0.1)])
def test_a_blurred_step_is_found_to_a_tenth_of_a_pixel(edge_mm: float, inside: float, outside: float) -> None:
    """In linear light a blur does not move a step, whichever side is the brighter."""
    band = drawn_band(edge_mm, inside, outside)
    found = exact_edge(band, column_near(band, edge_mm + 0.3), PX_MM)
    assert found == pytest.approx(np.full(ROWS, edge_mm), abs=0.1 * PX_MM)


@pytest.mark.parametrize("px_mm", [0.4, 0.53, 0.65, 0.8])
@pytest.mark.parametrize("edge_mm", [-0.4, 0.07, 0.33])
def test_photos_of_few_pixels_are_looked_at_in_a_wider_band(px_mm: float, edge_mm: float) -> None:
    """The lines beside the edge are longer there."""
    band = drawn_band(edge_mm, 0.05, 0.6, px_mm=px_mm, reach_mm=max(4.0, exact_reach_mm(px_mm)))
    found = exact_edge(band, column_near(band, edge_mm - 0.3), px_mm)
    assert found == pytest.approx(np.full(ROWS, edge_mm), abs=0.1 * px_mm)


@pytest.mark.parametrize(("px_mm", "narrow_mm"), [(0.8, 4.0), (1.2, 6.0)])
def test_a_band_too_narrow_for_lines_on_both_sides_leaves_the_edge_where_it_was(
    px_mm: float, narrow_mm: float
) -> None:
    """At 0.8 mm a pixel they need 4.2 mm on either side, at 1.2 mm 6.2 mm."""
    wide = drawn_band(0.33, 0.05, 0.6, px_mm=px_mm, reach_mm=exact_reach_mm(px_mm))
    narrow = wide.within((narrow_mm, narrow_mm))
    assert exact_edge(wide, column_near(wide, 0.0), px_mm) == pytest.approx(
        np.full(ROWS, 0.33), abs=0.1 * px_mm
    )
    kept = column_near(narrow, 0.0)
    assert exact_edge(narrow, kept, px_mm) == pytest.approx(narrow.offset_mm[kept])


def test_a_contact_shadow_moves_the_edge_by_less_than_a_fifth_of_a_pixel() -> None:
    """The table turns a third darker over some millimetres towards the rim; the step stays where it is."""
    band = drawn_band(0.2, 0.05, 0.6, contact=0.35)
    found = exact_edge(band, column_near(band, 0.5), PX_MM)
    assert found == pytest.approx(np.full(ROWS, 0.2), abs=0.2 * PX_MM)


def test_strength_is_largest_at_the_step_and_nothing_on_even_ground() -> None:
    """A step of log colour d without texture counts d' / (d' + half strength); even light counts 0."""
    band = drawn_band(0.0, 0.05, 0.6)
    strength = edge_strength(np.log(band.light), band.offset_mm > 3.0, 0.5)
    assert band.offset_mm[int(np.argmax(strength[5]))] == pytest.approx(0.0, abs=0.5)
    assert strength.max() > 0.9
    assert strength[:, band.offset_mm > 3.0].max() == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize(("width_mm", "step"), [(0.125, 0.75), (0.5, 0.75), (4.0, 0.125 * SOFT_SHARE)])
def test_soft_edges_count_by_how_little_of_them_is_seen_narrowly(width_mm: float, step: float) -> None:
    """Ramps of log colour, 1 high, at their middle.

    Means of two places see 3/4 of one that is over within two places, more than SHARP of what the wide ones
    see. Of a ramp 4 mm wide they see 0.5 mm, an eighth, and the wide ones 2 mm: a quarter of that, less than
    SOFT.
    """
    offset_mm = np.arange(-10.0, 10.0 + ACROSS_MM / 2, ACROSS_MM)
    colour = np.zeros((ROWS, len(offset_mm), 3))
    colour[..., 0] = np.clip(offset_mm / width_mm, -0.5, 0.5)
    strength = edge_strength(colour, offset_mm > 6.0, 0.5)[5, len(offset_mm) // 2]
    assert strength == pytest.approx(step / (step + EDGE_HALF_STRENGTH), abs=1e-4)


def test_a_strong_edge_far_outside_speaks_against_places_inside_it_as_long_as_the_outline_is_rough() -> None:
    """A face like the table in shadow, a rim's strong edge 2 mm outside the line: it costs what the edge has
    beyond FAR_EDGE, at all places farther in than FAR_FROM_MM from it, and nothing at the edge or outside."""
    edge_mm = 2.0
    band = drawn_band(edge_mm, 0.05, 0.6)
    ground = ground_of(band, 0.6)
    settled, rough = (weigh(band, ground, PX_MM, 4.0, rough=rough) for rough in (False, True))
    table = float(rough.outside[5, band.offset_mm >= edge_mm][0])
    less_table = table - ENOUGH_TABLE * np.tanh(table / ENOUGH_TABLE)
    cost = settled.outside - rough.outside
    strongest = settled.strength.max()
    inside = band.offset_mm < edge_mm - FAR_FROM_MM - 0.5
    assert strongest > 0.85
    np.testing.assert_allclose(cost[:, inside], FAR_COST * (strongest - FAR_EDGE) - less_table, atol=0.1)
    np.testing.assert_allclose(cost[:, band.offset_mm > edge_mm + 4.5], 0.0, atol=0.02)


def ground_of(band: Band, light: float) -> Ground:
    """A table of this light everywhere."""
    table = log_colour(np.full((1, 1, 3), light, np.float32))[0, 0]
    return Ground(np.tile(table, (ROWS, 1)), np.ones(band.light.shape[:2], bool), np.full(3, 0.02))


def test_table_outside_is_worth_its_width_to_a_rough_line_and_no_more_than_enough_to_a_near_one() -> None:
    """Where all is table nothing else counts."""
    band = drawn_band(0.0, 0.6, 0.6)
    settled, rough = (weigh(band, ground_of(band, 0.6), PX_MM, 4.0, rough=rough) for rough in (False, True))
    outside_mm = band.offset_mm[-1] - band.offset_mm + ACROSS_MM
    np.testing.assert_allclose(rough.outside[5], OUTSIDE_WORTH * outside_mm, rtol=1e-4)
    want = ENOUGH_TABLE * np.tanh(OUTSIDE_WORTH * outside_mm / ENOUGH_TABLE)
    np.testing.assert_allclose(settled.outside[5], want, rtol=1e-4)


def test_no_more_table_than_enough_counts_between_outlines() -> None:
    """A rough line on the table beside a racquet has much table outside, but only enough to compare it by."""
    band = drawn_band(0.0, 0.6, 0.6)
    settled, rough = (weigh(band, ground_of(band, 0.6), PX_MM, 4.0, rough=rough) for rough in (False, True))
    outside_mm = band.offset_mm[-1] - band.offset_mm + ACROSS_MM
    enough = ENOUGH_TABLE * np.tanh(OUTSIDE_WORTH * outside_mm / ENOUGH_TABLE)
    np.testing.assert_allclose(rough.fair[5], enough, rtol=1e-4)
    np.testing.assert_array_equal(settled.fair, settled.outside)


def test_what_speaks_against_a_place_counts_in_full_between_outlines() -> None:
    """The far edge of a rim of 2 mm, as above."""
    band = drawn_band(2.0, 0.05, 0.6)
    settled, rough = (weigh(band, ground_of(band, 0.6), PX_MM, 4.0, rough=rough) for rough in (False, True))
    cost = settled.fair - rough.fair
    inside = band.offset_mm < 2.0 - FAR_FROM_MM - 0.5
    np.testing.assert_allclose(cost[:, inside], FAR_COST * (settled.strength.max() - FAR_EDGE), atol=0.1)
