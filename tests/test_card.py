from __future__ import annotations

import re
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt
import pytest

from digitise import card
from digitise.camera import Camera
from digitise.card import find_card
from digitise.card_pose import card_pose
from digitise.card_shape import ID1
from digitise.card_tint import tint_window
from digitise.lens_prior import lens_prior
from digitise.refusal import Reason, Refused
from digitise.tone import FloatArray
from tests.card_drawing import (
    F35_MM,
    View,
    corners_px,
    drawn,
    gradient_card,
    grained_table,
    gridded_table,
    striped_card,
)

SIZE = (1200, 900)
LENS = lens_prior(F35_MM, *SIZE)
PLAIN = View()
TURNED = View(turned_deg=100, lean_x_deg=-3, lean_y_deg=2, at_mm=(-90, 60))
NAVY = np.array([0.02, 0.025, 0.05])

Light = npt.NDArray[np.float64] | float


def off_px(corners: FloatArray, camera: Camera) -> FloatArray:
    """Found minus true corners (4, 2); which of the card's two equal ends comes first is free."""
    true = corners_px(camera)
    return min((corners - np.roll(true, k, axis=0) for k in (0, 2)), key=lambda d: float(np.abs(d).max()))


def by_place(points_px: FloatArray) -> FloatArray:
    """The points from left to right."""
    return np.asarray(points_px[np.argsort(points_px[:, 0])])


@pytest.mark.parametrize(
    ("card", "table", "view", "most_px"),
    [
        (0.75, 0.3, PLAIN, 0.03),
        (0.75, 0.3, View(turned_deg=-60, at_mm=(10, 100)), 0.05),  # the wall shows on one side
        (0.75, 0.03, TURNED, 0.04),
        (0.75, gridded_table(SIZE), PLAIN, 0.1),
        (NAVY, 0.6, PLAIN, 0.25),  # may merge with its shadow: less is promised
        (NAVY, grained_table(SIZE), PLAIN, 0.4),
        (striped_card(), 0.3, TURNED, 0.05),
        (striped_card(), 0.03, PLAIN, 0.05),  # looks like two bars
        (gradient_card(), 0.03, PLAIN, 0.06),
        (gradient_card(), gridded_table(SIZE), PLAIN, 0.3),
    ],
)
def test_corners_of_a_drawn_card(card: Light, table: Light, view: View, most_px: float) -> None:
    camera = view.camera()
    found = find_card(drawn(camera, SIZE, card, table), LENS)
    off = off_px(found.corners_px, camera)
    assert np.sqrt(np.mean(np.sum(off**2, axis=1))) < most_px
    # 8 numbers, of which priors hold most down: far below 8 on average, and never far above
    assert off.ravel() @ np.linalg.solve(found.corner_cov_px2, off.ravel()) < 20
    assert found.confidence > 0.5


def test_the_order_of_the_corners() -> None:
    for turned_deg in (80.0, 170.0):
        camera = View(turned_deg=turned_deg).camera()
        corners = find_card(drawn(camera, SIZE, 0.75, 0.3), LENS).corners_px
        sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
        assert min(sides[0], sides[2]) > 1.4 * max(sides[1], sides[3])
        assert corners[1, 0] > corners[0, 0]
        x, y = corners.T
        assert np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) < 0  # counter-clockwise as seen, y down


def test_a_quarter_turn_of_the_picture_turns_the_corners() -> None:
    photo = drawn(PLAIN.camera(), SIZE, 0.75, 0.3)
    upright = find_card(photo, LENS).corners_px
    upright_lens = lens_prior(F35_MM, *SIZE[::-1])
    turned = find_card(np.ascontiguousarray(np.rot90(photo)), upright_lens).corners_px
    back = np.column_stack([SIZE[0] - 1 - turned[:, 1], turned[:, 0]])
    assert by_place(back) == pytest.approx(by_place(upright), abs=0.05)


def test_edges_are_found_in_light_not_in_stored_values() -> None:
    """Half-way in stored values, a white card on black is 0.7 px too large on each side."""
    camera = View(at_mm=(0, 0), lean_x_deg=0, lean_y_deg=0, turned_deg=0).camera()
    photo = drawn(camera, SIZE, 0.75, 0.01, sigma_px=1.2, noise=0.5)
    true = corners_px(camera)
    row = photo[int(true[:, 1].mean()), :, 1].astype(float)
    half_way = (row.max() + row.min()) / 2
    inside = np.flatnonzero(row > half_way)
    left, right = inside[0], inside[-1]
    width = (right + (row[right] - half_way) / (row[right] - row[right + 1])) - (
        left - (row[left] - half_way) / (row[left] - row[left - 1])
    )
    true_width = true[:, 0].max() - true[:, 0].min()
    assert width - true_width > 2 * 0.5
    corners = find_card(photo, LENS).corners_px
    assert corners[:, 0].max() - corners[:, 0].min() == pytest.approx(true_width, abs=0.1)


def test_the_pose_of_a_drawn_card() -> None:
    camera = TURNED.camera()
    estimate = card_pose(find_card(drawn(camera, SIZE, 0.75, 0.3), LENS), LENS)
    assert estimate.camera.height_mm == pytest.approx(camera.height_mm, rel=2e-3)
    assert estimate.camera.tilt_deg == pytest.approx(camera.tilt_deg, abs=0.1)
    assert estimate.residual_rms_px < 0.03


def test_blur_is_reported() -> None:
    # the pixel itself adds a variance of 1/12, reading between pixels some more
    found = find_card(drawn(PLAIN.camera(), SIZE, 0.75, 0.3, sigma_px=1.6), LENS)
    assert found.edge_sigma_px == pytest.approx(np.hypot(1.6, 0.45), rel=0.12)


def with_rectangle(
    photo: npt.NDArray[np.uint8], side_mm: tuple[float, float], at_px: tuple[float, float]
) -> None:
    """Lay a sharp-cornered yellow rectangle on the table, in the card's scale (2.65 px per mm), in place."""
    box = cv2.boxPoints((at_px, (side_mm[0] * 2.65, side_mm[1] * 2.65), 20.0))
    cv2.fillConvexPoly(photo, np.rint(16 * box).astype(np.int32), (230, 210, 90), cv2.LINE_AA, 4)


@pytest.mark.parametrize("side_mm", [(76.0, 76.0), (150.0, 72.0)])
def test_other_rectangles_are_passed_over(side_mm: tuple[float, float]) -> None:
    camera = View(at_mm=(90, -25)).camera()
    photo = drawn(camera, SIZE, 0.3, 0.2)
    with_rectangle(photo, side_mm, (850.0, 500.0))
    assert np.abs(off_px(find_card(photo, LENS).corners_px, camera)).max() < 0.3


@pytest.mark.parametrize("side_mm", [(76.0, 76.0), (87.0, 54.0)])
def test_other_rectangles_alone_are_no_card(side_mm: tuple[float, float]) -> None:
    """The last one has the card's ratio to 1.5 %, but its corners are sharp."""
    photo = drawn(PLAIN.camera(), SIZE, 0.3, 0.2, with_card=False)
    with_rectangle(photo, side_mm, (600.0, 450.0))
    with pytest.raises(Refused, match="card") as refusal:
        find_card(photo, LENS)
    assert refusal.value.reason is Reason.NO_CARD


@pytest.mark.parametrize("table", [0.3, gridded_table(SIZE), grained_table(SIZE)])
def test_a_table_alone_has_no_card(table: Light) -> None:
    with pytest.raises(Refused, match="lay a bank-size card flat") as refusal:
        find_card(drawn(PLAIN.camera(), SIZE, 0.75, table, with_card=False), LENS)
    assert refusal.value.reason is Reason.NO_CARD


def test_a_second_card_is_a_runner_up() -> None:
    camera = View(at_mm=(110, 0)).camera()
    photo = drawn(camera, SIZE, 0.75, 0.3)
    other = View(at_mm=(-70, -20), turned_deg=-50).camera()
    both = np.where(
        drawn(other, SIZE, 0.75, 0.3)[..., :1] > photo[..., :1], drawn(other, SIZE, 0.75, 0.3), photo
    ).astype(np.uint8)
    found = find_card(both, LENS)
    assert len(found.runners_up) == 1
    assert found.confidence >= found.runners_up[0].confidence > 0.5
    seen = np.array([found.corners_px.mean(axis=0), found.runners_up[0].corners_px.mean(axis=0)])
    true = np.array([corners_px(c).mean(axis=0) for c in (camera, other)])
    assert by_place(seen) == pytest.approx(by_place(true), abs=0.5)
    for place in true:  # and asked for, either is found, from a little beside its middle
        chosen = find_card(both, LENS, near_px=(float(place[0]) + 30, float(place[1]) - 20))
        assert chosen.corners_px.mean(axis=0) == pytest.approx(place, abs=0.5)
        assert chosen.runners_up == ()


def test_a_card_found_by_its_tint_alone_is_measured_by_light_where_that_tells_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    photo = drawn(PLAIN.camera(), SIZE, gradient_card(), 0.3)
    at_once = find_card(photo, LENS)
    searched = card._searched

    def by_tint_only(looker: card._Looker, *rest: Any) -> list[card._Judged]:
        return searched(looker, *rest) if looker.window is tint_window else []

    monkeypatch.setattr(card, "_searched", by_tint_only)
    found = find_card(photo, LENS)
    assert all(side.profile is not None for side in found.sides)  # which tint alone has none of
    assert found.corners_px == pytest.approx(at_once.corners_px, abs=0.02)


def test_each_card_found_by_its_tint_is_measured_by_what_shows_it_best(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    views = View(at_mm=(110, 0)), View(at_mm=(-70, -20), turned_deg=-50)
    photo = np.max([drawn(view.camera(), SIZE, gradient_card(), 0.03) for view in views], axis=0)
    searched, by_light = card._searched, card._measured

    def by_tint_only(looker: card._Looker, *rest: Any) -> list[card._Judged]:
        return searched(looker, *rest) if looker.window is tint_window else []

    def left_one_only(looker: card._Looker, corners: FloatArray, *rest: Any) -> card._Judged | None:
        hidden = looker.window is not tint_window and corners[:, 0].mean() > SIZE[0] / 2
        return None if hidden else by_light(looker, corners, *rest)

    monkeypatch.setattr(card, "_searched", by_tint_only)
    monkeypatch.setattr(card, "_measured", left_one_only)
    found = find_card(photo, LENS, several=True)
    told = [found, *found.runners_up]
    assert [each.confidence for each in told] == sorted((each.confidence for each in told), reverse=True)
    middles = np.array([each.corners_px.mean(axis=0) for each in told])
    for view in views:
        true = corners_px(view.camera()).mean(axis=0)
        (here,) = np.flatnonzero(np.linalg.norm(middles - true, axis=1) < 2.0)  # once each
        on_the_left = true[0] < SIZE[0] / 2
        assert all((side.profile is not None) == on_the_left for side in told[here].sides)


def test_no_card_near_the_place_asked_for() -> None:
    photo = drawn(PLAIN.camera(), SIZE, 0.75, 0.3)
    with pytest.raises(Refused, match=r"near 100,800 .*0\.35 is needed") as refusal:
        find_card(photo, LENS, near_px=(100.0, 800.0))
    assert refusal.value.reason is Reason.NO_CARD


@pytest.mark.parametrize(("x_mm", "turned_deg"), [(190.0, 25.0), (205.0, 70.0), (-200.0, 10.0)])
def test_a_card_cut_off_by_the_border(x_mm: float, turned_deg: float) -> None:
    turn = np.radians(turned_deg)
    at_mm = (x_mm * float(np.cos(turn)), -x_mm * float(np.sin(turn)))
    camera = View(at_mm=at_mm, turned_deg=turned_deg).camera()
    true = corners_px(camera)
    assert ((true[:, 0] < 0) | (true[:, 0] > SIZE[0] - 1)).sum() in (1, 2)
    outside = float(np.maximum(-true, true - np.array(SIZE) + 1).max())
    with pytest.raises(Refused, match="card is cut off") as refusal:
        find_card(drawn(camera, SIZE, 0.75, 0.3), LENS)
    said = re.search(r"(\d+) pixels outside", str(refusal.value))
    assert said is not None
    assert float(said[1]) == pytest.approx(outside, rel=0.2, abs=10)
    assert refusal.value.reason is Reason.CARD_CUT


def test_a_blurred_card_is_refused_with_the_number() -> None:
    with pytest.raises(Refused, match=r"blurred.*pixels") as refusal:
        find_card(drawn(PLAIN.camera(), SIZE, 0.75, 0.3, sigma_px=7.0), LENS)
    assert refusal.value.reason is Reason.BLURRED


def test_a_card_too_small_is_refused_with_its_length() -> None:
    far = View(height_mm=1400.0).camera()
    assert np.linalg.norm(corners_px(far)[1] - corners_px(far)[0]) < 60
    with pytest.raises(Refused, match=r"card is too small.*pixels long") as refusal:
        find_card(drawn(far, SIZE, 0.75, 0.3), LENS)
    assert refusal.value.reason is Reason.TOO_SMALL


def test_the_card_is_the_standards() -> None:
    # ISO/IEC 7810, size ID-1
    assert ID1.ratio == pytest.approx(85.60 / 53.98)
    assert (ID1.corner_radius_mm, ID1.thickness_mm) == (3.18, 0.76)
    assert np.ptp(ID1.corners_mm, axis=0) == pytest.approx([85.60, 53.98])
