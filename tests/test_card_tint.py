"""Cards told by their tint: lines off, ratios that shade leaves alone, what unlike light moves a step by."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from digitise.camera import Camera, Plane
from digitise.card import card_at, find_card
from digitise.card_pose import card_pose
from digitise.card_shape import ID1
from digitise.card_tint import step_outward_px, tint_of, tint_window, without_light_lines
from digitise.lens_prior import lens_prior
from digitise.refusal import Reason, Refused
from digitise.tone import FloatArray, to_linear, to_stored
from tests.card_drawing import F35_MM, View, corners_px, drawn

SIZE = (1800, 1350)
LENS = lens_prior(F35_MM, *SIZE)
VIEW = View(size_px=SIZE, turned_deg=32)
NAVY = np.array([0.012, 0.014, 0.075])


def mat(camera: Camera, base: tuple[float, float, float]) -> FloatArray:
    """A printed mat, light lines every 27 pixels, in the shade of a card: at its foot half the sky is hidden,
    (1 + u / sqrt(u² + h²)) / 2 at u from a wall of height h."""
    width, height = SIZE
    table = np.empty((height, width, 3))
    table[:] = base
    table[:, 7::27], table[11::27] = (0.45, 0.5, 0.6), (0.45, 0.5, 0.6)
    grid = np.stack(np.meshgrid(np.arange(width), np.arange(height)), axis=-1).reshape(-1, 2).astype(float)
    beyond = np.abs(camera.to_plane(grid, Plane(0.0))) - np.array([ID1.long_mm, ID1.short_mm]) / 2
    away = np.hypot(*np.maximum(beyond, 0).T)
    sky = (1 + away / np.hypot(away, ID1.thickness_mm)) / 2
    return np.asarray(table * sky.reshape(height, width, 1) ** 2)


BLUE, BLACK = (0.025, 0.05, 0.135), (0.042, 0.042, 0.048)


@pytest.mark.parametrize("base", [BLUE, BLACK])
def test_a_navy_card_on_a_mat_is_found_by_its_tint(base: tuple[float, float, float]) -> None:
    """Half a pixel is a sixth of a millimetre here; lengths by it are right to half a hundredth."""
    camera = VIEW.camera()
    photo = drawn(camera, SIZE, NAVY, mat(camera, base), noise=2.0)
    found = find_card(photo, LENS)
    true = corners_px(camera)
    off = min((found.corners_px - np.roll(true, k, axis=0) for k in (0, 2)), key=lambda d: np.abs(d).max())
    assert all(side.tint_blur_px > 0 and side.profile is None for side in found.sides)
    assert np.abs(off).max() < 1.2
    pose = card_pose(found, LENS)
    sides = np.linalg.norm(np.diff(pose.camera.to_plane(true, Plane(ID1.thickness_mm)), axis=0), axis=1)
    np.testing.assert_allclose(np.sort(sides)[[0, -1]], [ID1.short_mm, ID1.long_mm], rtol=0.005)


def test_where_its_corners_are_known_it_is_measured_the_same_way() -> None:
    camera = VIEW.camera()
    photo = drawn(camera, SIZE, NAVY, mat(camera, BLUE), noise=2.0)
    found = card_at(photo, LENS, corners_px(camera) + 2.0)
    assert found is not None
    np.testing.assert_allclose(found.corners_px, find_card(photo, LENS).corners_px, atol=0.3)


def test_a_mat_alone_shows_no_card_by_its_tint_either() -> None:
    camera = VIEW.camera()
    with pytest.raises(Refused) as refusal:
        find_card(drawn(camera, SIZE, NAVY, mat(camera, BLUE), noise=2.0, with_card=False), LENS)
    assert refusal.value.reason is Reason.NO_CARD


def test_light_lines_go_and_edges_stay() -> None:
    photo = np.full((2250, 2250, 3), 90, np.uint8)
    photo[:, 1130:] = 40
    lined = photo.copy()
    lined[::40] = lined[:, ::40] = 200
    lined[1::40] = 200
    np.testing.assert_array_equal(without_light_lines(lined)[4:-4, 4:-4], photo[4:-4, 4:-4])


@given(st.floats(0.4, 1.0), st.sampled_from([0.2, 0.6, 1.0]))
def test_shade_leaves_a_tint_as_it_is(shade: float, green: float) -> None:
    """In a plain picture no blur mixes anything; bytes and the noise floor leave a few hundredths."""
    light = shade * np.array([0.5, green, 0.9])
    photo = np.rint(255 * np.tile(to_stored(light), (8, 8, 1))).astype(np.uint8)
    tint = tint_of(photo, 1.0)[4, 4]
    np.testing.assert_allclose(tint, np.log([0.5 / green, 0.9 / green]), atol=0.06)


def test_a_window_holds_tint_and_no_light() -> None:
    photo = np.rint(255 * np.tile(to_stored(np.array([0.2, 0.4, 0.1])), (500, 500, 1))).astype(np.uint8)
    window = tint_window(photo, np.array([[200.0, 200], [300, 200], [300, 260], [200, 260]]), 20.0)
    assert window is not None
    assert window.tint_blur_px == 0.2  # of 500 pixels
    assert not window.values[..., 0].any()
    linear = to_linear(photo[0, 0] / 255.0)
    expected = 0.3 * np.log((linear[[0, 2]] + 0.004) / (linear[1] + 0.004))
    np.testing.assert_allclose(window.values[30, 30, 1:], expected, rtol=1e-4)


def test_light_alike_on_both_sides_moves_no_step() -> None:
    """Red and blue change places, so the table counts as its own mirror image; 0.65 of it is in shade."""
    card, table = np.array([0.3, 0.2, 0.1]), np.array([0.1, 0.2, 0.3]) / 0.65
    assert step_outward_px(card, table, 2.0) == pytest.approx(0.0, abs=0.02)


@pytest.mark.parametrize("lighter", [0.25, 4.0, 16.0])
def test_a_lighter_table_s_tint_reaches_into_the_card(lighter: float) -> None:
    """Half-way in log(b/g) from 1/4 to 4 is b = g: with c for the card's share of the mixture
    c + 16 l (1 - c) / 4 = 4 c + l (1 - c) for a table l times as light, so c = l / (1 + l)."""
    card = np.array([4.0, 4.0, 1.0])  # red over green stays 1 in every mixture
    table = lighter * np.array([1.0, 1.0, 4.0]) / 0.65
    share = lighter / (1 + lighter)
    assert step_outward_px(card, table, 2.0) == pytest.approx(-2.0 * norm.ppf(share), abs=0.12)
