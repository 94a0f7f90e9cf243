"""Points that parallels meet in: exact lines, lines a little off, and how well they tell the table's tilt."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitise.camera import Camera
from digitise.lens_prior import known_pulls, lens_prior
from digitise.vanishing import PARALLEL_RAD, vanishing_points
from tests.card_drawing import F35_MM, View

SIZE = (4032, 3024)
PRIOR = lens_prior(F35_MM, *SIZE)


def seen_lines(camera: Camera, turn_deg: float, at_mm: np.ndarray, off_rad: np.ndarray) -> np.ndarray:
    """Pixels (n, 4) of lines 500 mm long on the table, at distances ``at_mm`` (n,) aside."""
    turns = np.radians(turn_deg) + off_rad
    along = np.column_stack([np.cos(turns), np.sin(turns), np.zeros(len(turns))])
    aside = np.array([-np.sin(np.radians(turn_deg)), np.cos(np.radians(turn_deg)), 0.0])
    middle = at_mm[:, None] * aside
    return np.column_stack([camera.project(middle - 250 * along), camera.project(middle + 250 * along)])


def leaning(lean_x: float, lean_y: float) -> Camera:
    return View(SIZE, 700.0, (20, 10), 33.0, lean_x, lean_y).camera()


@given(st.floats(-15, 15), st.floats(-15, 15), st.floats(0, 180))
@settings(max_examples=60, deadline=None)
def test_the_point_of_exact_parallels_lies_on_the_table(lean_x: float, lean_y: float, turn: float) -> None:
    camera = leaning(lean_x, lean_y)
    at_mm = np.array([-230.0, -90.0, 40.0, 210.0])
    prior = replace(
        PRIOR, vanishing=vanishing_points(seen_lines(camera, turn, at_mm, np.zeros(4)), np.zeros(4), PRIOR)
    )
    assert len(prior.vanishing) == 1
    assert known_pulls(camera, prior)[6] == pytest.approx(0, abs=1e-5)
    # a camera leaning a degree more across the lines is many standard deviations off
    assert np.abs(known_pulls(leaning(lean_x + 1, lean_y + 1), prior)[6]) < 1.5 * np.radians(1) * 2**0.5 / (
        prior.vanishing[0].sd
    )


def test_two_families_are_told_apart_and_three_lines_are_none() -> None:
    camera = leaning(2.0, -3.0)
    at_mm = np.array([-200.0, -80.0, 0.0, 200.0])
    both = np.concatenate([seen_lines(camera, turn, at_mm, np.zeros(4)) for turn in (10.0, 100.0)])
    assert len(vanishing_points(both, np.zeros(8), PRIOR)) == 2
    assert len(vanishing_points(both[:7], np.zeros(7), PRIOR)) == 1
    assert vanishing_points(both[:3], np.zeros(3), PRIOR) == ()


def test_lines_as_close_together_as_a_racquets_are_left_out() -> None:
    # 700 mm up this lens's picture is 1,120 mm from corner to corner: 500 mm are 0.45 of that
    camera = leaning(0.0, 0.0)
    stripes = seen_lines(camera, 40.0, np.array([-80.0, -30.0, 20.0, 90.0]), np.zeros(4))
    assert vanishing_points(stripes, np.zeros(4), PRIOR) == ()
    # 240 mm apart instead of 170, or longer by a third, they are a table's
    apart = seen_lines(camera, 40.0, np.array([-110.0, -30.0, 20.0, 130.0]), np.zeros(4))
    assert len(vanishing_points(apart, np.zeros(4), PRIOR)) == 1
    longer = np.vstack([stripes, seen_lines(leaning(0.0, 0.0), 40.0, np.array([0.0]), np.zeros(1))])
    longer[-1, :2] += 0.35 * (longer[-1, :2] - longer[-1, 2:])
    assert len(vanishing_points(longer, np.zeros(5), PRIOR)) == 1


def test_lines_a_little_off_stay_within_their_standard_deviation() -> None:
    camera = leaning(1.5, 2.5)
    at_mm = np.linspace(-220, 220, 6)
    rng = np.random.default_rng(8)
    pulls = []
    for _ in range(300):
        off = rng.normal(0, PARALLEL_RAD, 6)
        prior = replace(
            PRIOR, vanishing=vanishing_points(seen_lines(camera, 60.0, at_mm, off), np.zeros(len(off)), PRIOR)
        )
        pulls.append(known_pulls(camera, prior)[6])
    # the spread that is claimed is at least the one there is, and not half as much again
    assert 0.6 < np.std(pulls) < 1.0


def test_a_line_that_strays_to_the_next_one_is_left_out() -> None:
    camera = leaning(1.0, 1.0)
    # the only one on its side: where it runs decides where the others seem to meet
    at_mm, off = np.array([-250.0, -180.0, -110.0, -15.0, 230.0]), np.array([0, 0, 0, 0, 0.01])
    lines = seen_lines(camera, 30.0, at_mm, off)
    pulls = []
    for sd in (1e-5, 4e-4):
        points = vanishing_points(lines, np.array([2e-5, 1e-5, 3e-5, 2e-5, sd]), PRIOR)
        pulls.append(abs(known_pulls(camera, replace(PRIOR, vanishing=points))[6]) * points[0].sd)
    assert pulls[0] > 0.01
    assert pulls[1] < 0.001


def test_a_line_that_is_hardly_known_hardly_counts() -> None:
    camera = leaning(1.0, 1.0)
    at_mm, off = np.array([-200.0, -50.0, 0.0, 200.0, 230.0]), np.array([0, 0, 0, 0, 0.004])
    lines = seen_lines(camera, 45.0, at_mm, off)
    known = np.full(5, 4e-3)
    off_rad = []
    for sd in (4e-3, 1.1e-2):  # less than three times the others': it is not taken for a stray one
        points = vanishing_points(lines, np.append(known[:4], sd), PRIOR)
        prior = replace(PRIOR, vanishing=points)
        off_rad.append(abs(known_pulls(camera, prior)[6]) * points[0].sd)
    assert off_rad[1] < 0.4 * off_rad[0]


def test_one_line_that_belongs_elsewhere_hardly_counts() -> None:
    camera = leaning(1.0, 1.0)
    at_mm = np.linspace(-220, 220, 7)
    off = np.array([0, 0, 0, 0.06, 0, 0, 0])
    prior = replace(
        PRIOR, vanishing=vanishing_points(seen_lines(camera, 20.0, at_mm, off), np.zeros(len(off)), PRIOR)
    )
    assert abs(known_pulls(camera, prior)[6]) < 1.0
