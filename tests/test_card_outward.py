"""What lies beside a card's sides: layers of light against worked values, planted offsets found again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from digitise.card_layers import OWN, SHARED, YCC_OF_RGB, Setting, seen_profiles
from digitise.card_outward import measured_outward
from digitise.card_shape import ID1
from digitise.card_sides import CardSide, SideProfile
from digitise.tone import FloatArray, to_stored
from tests.card_drawing import corners_px
from tests.test_card_pose import PHONE, sides_of

ACROSS = np.arange(-6.0, 6.25, 0.5)
HIDDEN = np.full(4, -0.8)


def setting(wall: FloatArray) -> Setting:
    return Setting(across=ACROSS, wall=wall, per_mm=4.0, thick_mm=0.76)


def scene(
    face: tuple[float, float, float],
    table: tuple[float, float, float],
    core: float,
    shadow_mm: tuple[float, float] = (0.5, 0.3),
    offsets: tuple[float, ...] = (0.0,) * 4,
) -> FloatArray:
    """Parameters of a card of one colour on a table of one colour, half of whose light is direct."""
    shared = np.zeros(SHARED)
    shared[0], shared[1:3], shared[4], shared[5:8], shared[8] = (
        np.log(0.8),
        shadow_mm,
        np.log(0.1),
        np.log(core),
        np.log(0.9),
    )
    own = np.zeros((4, OWN))
    own[:, 0], own[:, 1:4], own[:, 5:8] = offsets, np.log(face), np.log(table)
    return np.concatenate([shared, own.ravel()])


def sides(profiles: FloatArray) -> tuple[CardSide, ...]:
    plain = sides_of(corners_px(PHONE.camera()), np.zeros(4), np.zeros(4))
    return tuple(
        replace(side, profile=SideProfile(ACROSS, 1.0, values))
        for side, values in zip(plain, profiles, strict=True)
    )


def test_far_from_the_edge_stand_the_colours_of_face_and_table() -> None:
    seen = seen_profiles(scene((0.6, 0.5, 0.2), (0.1, 0.2, 0.05), 0.6), setting(HIDDEN)).values
    assert seen.shape == (4, len(ACROSS), 3)
    assert seen[:, 0] == pytest.approx(
        np.tile(YCC_OF_RGB @ to_stored(np.array([0.6, 0.5, 0.2])), (4, 1)), abs=1e-3
    )
    # 6 units are 1.5 mm: the sky over the table there is all but a tenth as wide as over an open one
    table = to_stored(np.array([0.1, 0.2, 0.05]))
    assert seen[0, -1, 0] == pytest.approx(YCC_OF_RGB[0] @ table, rel=0.04)


def test_a_hidden_wall_and_no_shade_leave_a_step_half_way_up_in_light() -> None:
    parameters = scene((0.7, 0.7, 0.7), (0.2, 0.2, 0.2), 0.5, shadow_mm=(0.0, 0.0))
    parameters[3], parameters[9] = 10.0, -20.0  # all light direct, no contact shade
    seen = seen_profiles(parameters, setting(HIDDEN)).values
    middle = int(np.flatnonzero(ACROSS == 0)[0])
    assert seen[:, middle, 0] == pytest.approx(np.full(4, to_stored(np.array(0.45))), abs=2e-3)


def test_a_shadow_falls_on_the_side_it_points_to() -> None:
    lit = scene((0.5,) * 3, (0.3,) * 3, 0.5, shadow_mm=(0.6, 0.0))
    seen = seen_profiles(lit, setting(HIDDEN)).values
    beside = ACROSS == 1.5
    assert seen[1, beside, 0] < 0.9 * seen[3, beside, 0]


def test_several_parameter_sets_at_once_give_what_each_gives_alone() -> None:
    both = np.stack([scene((0.6,) * 3, (0.1,) * 3, 0.5), scene((0.1,) * 3, (0.5,) * 3, 0.2)])
    at = setting(np.array([0.4, -0.5, 0.1, 0.7]))
    together = seen_profiles(both, at).values
    assert together[0] == pytest.approx(seen_profiles(both[0], at).values)
    assert together[1] == pytest.approx(seen_profiles(both[1], at).values)


@pytest.mark.parametrize("wall", [(0.4, -0.5, 0.1, 0.7), (-0.3, 0.9, 0.2, -0.1)])
def test_slopes_are_what_small_changes_make(wall: tuple[float, ...]) -> None:
    at = setting(np.array(wall))
    parameters = scene((0.5, 0.3, 0.2), (0.1, 0.15, 0.2), 0.4, (0.45, -0.35), (0.11, -0.23, 0.07, 0.31))
    parameters += np.random.default_rng(4).normal(0, 0.02, len(parameters))
    slopes = seen_profiles(parameters, at).slopes
    for index in range(SHARED + OWN):
        change = np.zeros(len(parameters))
        # a side's own parameters move that side only, so those of all four can move at once
        change[index if index < SHARED else slice(index, None, OWN)] = 1e-6
        ahead, behind = (seen_profiles(parameters + way * change, at).values for way in (1, -1))
        assert slopes[index] == pytest.approx((ahead - behind) / 2e-6, abs=1e-6)


@pytest.mark.parametrize(
    ("face", "table", "core"),
    [
        ((0.6, 0.6, 0.6), (0.15, 0.12, 0.08), 0.6),  # a white card on wood
        ((0.2, 0.3, 0.5), (0.08, 0.1, 0.15), 0.8),  # a blue one with a bright core on a dark mat
        ((0.03, 0.03, 0.06), (0.13, 0.06, 0.03), 0.03),  # a dark one on dark wood, dark all through
    ],
)
def test_planted_offsets_are_found_within_their_sd(
    face: tuple[float, float, float], table: tuple[float, float, float], core: float
) -> None:
    planted = (-0.4, 0.2, 0.0, -0.8)
    wall = np.array([0.5, -0.6, -0.2, 0.3])
    at = setting(wall)
    profiles = seen_profiles(scene(face, table, core, offsets=planted), at).values
    found = measured_outward(sides(profiles), wall, ID1)
    assert found is not None
    sd = np.sqrt(np.diag(found.covariance_px2))
    # a true edge inside the measured line means a side measured too far out
    assert np.abs(found.offset_px + np.array(planted)) == pytest.approx(np.zeros(4), abs=0.2)
    assert (np.abs(found.offset_px + np.array(planted)) < 2 * sd).all()
    assert (sd < 0.6).all()


def test_without_profiles_nothing_is_claimed() -> None:
    plain = sides_of(corners_px(PHONE.camera()), np.zeros(4), np.zeros(4))
    assert measured_outward(plain, np.zeros(4), ID1) is None
