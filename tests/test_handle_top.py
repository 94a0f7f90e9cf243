"""Where the handle ends by the lines across it, on strips drawn for it."""

from __future__ import annotations

import numpy as np
import pytest

from digitise.handle_top import (
    ALONG_MM,
    COLLAR_SD_MM,
    HALF_STEP,
    LEAST_SD_MM,
    SHAFT_MM,
    UNDER_ROOT_MM,
    UNDER_ROOT_SD_MM,
    VOTES_PLAIN,
    VOTES_THICK,
    Vote,
    cross_lines,
    end_density,
    most_likely,
    under_root,
)
from digitise.landmarks import HandleMarks
from digitise.tone import FloatArray

PLACES_MM = np.arange(80.0, 160.0, ALONG_MM)
NONE = np.zeros((0, 2))
AT_END, _ = VOTES_PLAIN


def strip(*steps: tuple[float, float]) -> FloatArray:
    """Log colour (n, 9, 3) over PLACES_MM whose brightness changes by so much at each place."""
    light = sum(
        (size * np.greater_equal(PLACES_MM, place) for place, size in steps), np.zeros(len(PLACES_MM))
    )
    return np.stack([np.repeat(light[:, None], 9, axis=1), *np.zeros((2, len(PLACES_MM), 9))], axis=2)


def width_says(top_mm: float, sd_mm: float, collar: tuple[float, float] | None = None) -> HandleMarks:
    return HandleMarks(32.0, 36.0, top_mm, sd_mm, collar)


def both(first_mm: float, first_sd_mm: float, second_mm: float, second_sd_mm: float) -> float:
    """The mean of two normal laws' product."""
    first, second = first_sd_mm**-2, second_sd_mm**-2
    return (first * first_mm + second * second_mm) / (first + second)


def answer(
    lines: list[tuple[float, float]], marks: HandleMarks, votes: tuple[Vote, ...] = VOTES_PLAIN
) -> tuple[float, float]:
    return most_likely(*end_density(np.array(lines).reshape(-1, 2), marks, votes))


def test_a_step_across_the_handle_is_a_line_as_strong_as_its_size() -> None:
    lines = cross_lines(PLACES_MM, strip((120.0, 1.0)), 120.0)
    assert len(lines) == 1
    # Samples lie at 119.5 and 120.0: the step is half-way between.
    assert lines[0, 0] == pytest.approx(119.75, abs=ALONG_MM / 2)
    assert lines[0, 1] == pytest.approx(1 / (1 + HALF_STEP))


def test_a_groove_aslant_and_holes_on_few_columns_are_no_lines() -> None:
    colour = strip()
    for column in range(9):
        start = round((20 + 4 * column) / ALONG_MM)
        colour[start : start + round(2 / ALONG_MM), column, 0] = -1.0
    colour[::7, 2:4, 0] -= 2.0
    assert len(cross_lines(PLACES_MM, colour, 120.0)) == 0


def test_without_lines_the_width_decides() -> None:
    at_mm, sd_mm = answer([], width_says(120.0, 4.0))
    assert at_mm == pytest.approx(120.0, abs=0.3)
    # A normal law of 4 mm and a little of what may be anywhere: never surer than the width.
    assert 4.0 < sd_mm < 6.0


def test_a_line_near_by_is_the_end_and_it_is_sure() -> None:
    at_mm, sd_mm = answer([(124.0, 0.9)], width_says(120.0, 4.0))
    assert at_mm == pytest.approx(both(124.0 - AT_END.before_mm, AT_END.sd_mm, 120.0, 4.0), abs=0.2)
    assert LEAST_SD_MM < sd_mm < 4.0


def test_of_a_collar_s_two_edges_the_upper_one_is_the_end() -> None:
    at_mm, _ = answer([(112.0, 0.9), (120.5, 0.5)], width_says(118.0, 4.0))
    assert at_mm == pytest.approx(120.5 - AT_END.before_mm, abs=0.6)


def test_a_thick_face_s_root_hides_the_end_of_the_wrap() -> None:
    at_mm, _ = answer([(112.0, 0.9)], width_says(118.0, 4.0), VOTES_THICK)
    root = VOTES_THICK[1]
    assert at_mm == pytest.approx(both(112.0 - root.before_mm, root.sd_mm, 118.0, 4.0), abs=0.5)


def test_under_a_thick_face_s_neck_the_grip_goes_on_and_its_end_is_less_sure() -> None:
    hidden = under_root(width_says(118.0, 4.0))
    assert (hidden.top_mm, hidden.top_sd_mm) == (118.0 + UNDER_ROOT_MM, UNDER_ROOT_SD_MM)
    assert under_root(width_says(118.0, 25.0)).top_sd_mm == 25.0


def test_two_places_alike_are_less_sure_than_one() -> None:
    _, one = answer([(120.0, 0.9)], width_says(120.0, 4.0))
    _, two = answer([(114.0, 0.9), (126.0, 0.9)], width_says(119.3, 4.0))
    assert two > 2 * one


def test_a_line_far_from_where_the_width_ends_is_not_the_end() -> None:
    at_mm, _ = answer([(141.0, 0.95)], width_says(120.0, 4.0))
    assert at_mm == pytest.approx(120.0, abs=1.0)


def test_a_frame_s_shaft_may_go_on_as_wide_as_its_grip() -> None:
    """The width tells of the neck at 250 mm alone; a clear line 60 mm before it is the end of the wrap."""
    lines = np.array([(190.0, 0.9)])
    top_mm, sd_mm = most_likely(*end_density(lines, width_says(250.0, 4.0), VOTES_PLAIN, SHAFT_MM))
    assert top_mm == pytest.approx(190.0 - AT_END.before_mm, abs=0.5)
    plain_mm, _ = answer([(190.0, 0.9)], width_says(250.0, 4.0))
    assert plain_mm == pytest.approx(250.0, abs=0.5)
    without_mm, without_sd_mm = most_likely(*end_density(NONE, width_says(250.0, 4.0), VOTES_PLAIN, SHAFT_MM))
    assert without_mm == pytest.approx(250.0, abs=1.0)
    assert 20.0 < sd_mm < without_sd_mm  # it may yet be the neck's beginning


def test_where_the_width_falls_behind_a_collar_is_the_end_without_any_line() -> None:
    at_mm, _ = answer([], width_says(126.0, 4.0, (120.0, 1.0)))
    assert at_mm == pytest.approx(both(120.0, COLLAR_SD_MM, 126.0, 4.0), abs=0.2)


def test_places_are_probabilities() -> None:
    _, density = end_density(NONE, width_says(120.0, 4.0), VOTES_PLAIN)
    assert density.sum() == pytest.approx(1.0)
    assert (density > 0).all()
