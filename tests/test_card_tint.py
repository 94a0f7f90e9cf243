"""Cards told by their tint: lines off, ratios that shade leaves alone, what unlike light moves a step by."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from digitise.camera import Camera, Plane
from digitise.card import card_at, find_card
from digitise.card_effects import side_effects
from digitise.card_pose import card_pose, fit_pose
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


def mat(camera: Camera) -> FloatArray:
    """A printed mat, light lines every 27 pixels, in the shade of a card: at its foot half the sky is hidden,
    (1 + u / sqrt(u² + h²)) / 2 at u from a wall of height h."""
    width, height = SIZE
    table = np.empty((height, width, 3))
    table[:] = BLUE
    table[:, 7::27], table[11::27] = (0.45, 0.5, 0.6), (0.45, 0.5, 0.6)
    grid = np.stack(np.meshgrid(np.arange(width), np.arange(height)), axis=-1).reshape(-1, 2).astype(float)
    beyond = np.abs(camera.to_plane(grid, Plane(0.0))) - np.array([ID1.long_mm, ID1.short_mm]) / 2
    away = np.hypot(*np.maximum(beyond, 0).T)
    sky = (1 + away / np.hypot(away, ID1.thickness_mm)) / 2
    return np.asarray(table * sky.reshape(height, width, 1) ** 2)


BLUE = (0.025, 0.05, 0.135)


def taken(camera: Camera, with_card: bool = True) -> npt.NDArray[np.uint8]:
    """The photo as a JPEG holds it: colour at half the resolution."""
    photo = drawn(camera, SIZE, NAVY, mat(camera), noise=2.0, with_card=with_card)
    stored = cv2.imencode(".jpg", photo[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 95])[1]
    read = cv2.imdecode(stored, cv2.IMREAD_COLOR)
    assert read is not None
    return np.ascontiguousarray(read[..., ::-1], np.uint8)


@pytest.mark.parametrize("turned_deg", [32.0, -75.0])
def test_a_navy_card_on_a_mat_is_found_by_its_tint(turned_deg: float) -> None:
    """There are 4 pixels to a millimetre; the scale by it is right to a third of a hundredth."""
    camera = replace(VIEW, turned_deg=turned_deg).camera()
    found = find_card(taken(camera), LENS)
    true = corners_px(camera)
    off = min((found.corners_px - np.roll(true, k, axis=0) for k in (0, 2)), key=lambda d: np.abs(d).max())
    assert all(side.tint_blur_px > 0 and side.profile is None for side in found.sides)
    assert np.abs(off).max() < 1.0
    assert found.edge_sigma_px == pytest.approx(1.2, abs=0.5)  # 0.8 of the lens, the rest the coarse colour
    pose = card_pose(found, LENS)
    sides = np.linalg.norm(np.diff(pose.camera.to_plane(true, Plane(ID1.thickness_mm)), axis=0), axis=1)
    np.testing.assert_allclose(np.sort(sides)[[0, -1]], [ID1.short_mm, ID1.long_mm], rtol=0.0033)


def test_where_unlike_light_puts_a_step_is_part_of_what_is_expected() -> None:
    """Half a pixel outward, with 0.3 of it for an sd, whatever the light's own step says of a shadow."""
    sides = find_card(taken(VIEW.camera()), LENS).sides
    known = [replace(side, sigma_px=2.0, tint_outward_px=0.0) for side in sides]
    moved = [replace(side, tint_outward_px=0.5) for side in known]
    plain, shifted = (side_effects(tuple(each), np.zeros(4), 4.0) for each in (known, moved))
    assert [effect.outward_px for effect in plain] == [0.0] * 4
    assert [effect.outward_px for effect in shifted] == [0.5] * 4
    for before, after in zip(plain, shifted, strict=True):
        assert after.sd_px**2 - before.sd_px**2 == pytest.approx(0.15**2)


def test_what_all_steps_of_a_tint_share_widens_the_scale() -> None:
    """0.12 mm on each of two sides are 0.28 % of 86 mm and 0.44 % of 54, together 0.3 to 0.4 % of the height
    of a camera whose lens is known for certain."""
    found = find_card(taken(VIEW.camera()), LENS)
    by_light = [replace(side, tint_blur_px=0.0, step_light=0.5, tint_outward_px=0.0) for side in found.sides]
    sure = replace(LENS, focal_sd_px=1e-3, centre_sd_px=1e-3, k1_sd=1e-9)
    wide, narrow = (fit_pose(sides, found.corners_px, sure) for sides in (found.sides, tuple(by_light)))
    assert wide is not None
    assert narrow is not None
    more_mm2 = wide.height_sd_mm**2 - narrow.height_sd_mm**2
    assert 0.0025 < np.sqrt(more_mm2) / wide.camera.height_mm < 0.0045


def test_where_its_corners_are_known_it_is_measured_the_same_way() -> None:
    camera = VIEW.camera()
    photo = taken(camera)
    found = card_at(photo, LENS, corners_px(camera) + 2.0)
    assert found is not None
    np.testing.assert_allclose(found.corners_px, find_card(photo, LENS).corners_px, atol=0.3)


def test_a_mat_alone_shows_no_card_by_its_tint_either() -> None:
    camera = VIEW.camera()
    with pytest.raises(Refused) as refusal:
        find_card(taken(camera, with_card=False), LENS)
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


def test_sides_of_one_tint_have_no_step_to_move() -> None:
    grey = np.array([0.1, 0.1, 0.1])
    assert step_outward_px(grey, 2 * grey, 2.0) == 0.0


@pytest.mark.parametrize("lighter", [0.25, 4.0, 16.0])
def test_a_lighter_table_s_tint_reaches_into_the_card(lighter: float) -> None:
    """Half-way in log(b/g) from 1/4 to 4 is b = g: with c for the card's share of the mixture
    c + 16 l (1 - c) / 4 = 4 c + l (1 - c) for a table l times as light, so c = l / (1 + l)."""
    card = np.array([4.0, 4.0, 1.0])  # red over green stays 1 in every mixture
    table = lighter * np.array([1.0, 1.0, 4.0]) / 0.65
    share = lighter / (1 + lighter)
    assert step_outward_px(card, table, 2.0) == pytest.approx(-2.0 * norm.ppf(share), abs=0.12)
