from __future__ import annotations

import math

import numpy as np
import pytest

from digitise.camera import Camera, Plane, focal_px_from_equivalent
from digitise.card_effects import side_effects
from digitise.card_lines import closed, outlines
from digitise.card_pose import MAX_TILT_DEG, card_pose, fit_pose
from digitise.card_shape import ID1
from digitise.card_sides import CardSide, FoundCard
from digitise.lens_prior import lens_prior
from digitise.refusal import Reason, Refused
from digitise.tone import FloatArray
from tests.card_drawing import View, corners_px

SIZE_PX = (4000, 3000)
PHONE = View(size_px=SIZE_PX, height_mm=750.0, at_mm=(120.0, 60.0), turned_deg=40.0)


def sides_of(
    corners: FloatArray, moved_px: FloatArray, turned_px: FloatArray, sd_px: float = 0.03
) -> tuple[CardSide, ...]:
    """Exact sides of the corners, then moved outward and turned at their ends."""
    lines = closed(
        [
            line.shifted(moved - turned, moved + turned)
            for line, moved, turned in zip(outlines(corners), moved_px, turned_px, strict=True)
        ]
    )
    assert lines is not None
    return tuple(
        CardSide(
            points_px=line.start + np.linspace(0.06, 0.94, 240)[:, None] * (line.end - line.start),
            start_px=line.start,
            end_px=line.end,
            outward=line.outward,
            offset_sd_px=sd_px,
            turn_sd_px=sd_px,
            residual_rms_px=0.05,
            used_share=1.0,
            sigma_px=0.8,
            step_light=0.4,
            noise_light=0.01,
            highest_light=0.6,
        )
        for line in lines
    )


def found(camera: Camera) -> FoundCard:
    corners = corners_px(camera)
    sides = sides_of(corners, np.zeros(4), np.zeros(4))
    return FoundCard(corners, np.eye(8), sides, 0.8, 1.0)


def without_effects(camera: Camera) -> tuple[CardSide, ...]:
    """Sides where they are expected to be seen: each beyond the top face's edge by its mean effect."""
    corners = corners_px(camera)
    exact = sides_of(corners, np.zeros(4), np.zeros(4))
    return sides_of(corners, np.array(expected_px(camera, exact)[0]), np.zeros(4))


def expected_px(camera: Camera, sides: tuple[CardSide, ...]) -> tuple[list[float], list[float], list[float]]:
    """Mean effect, its sd and its turn, with the wall's seen width worked out from the foot's corners."""
    foot = camera.project(np.column_stack([ID1.corners_mm, np.zeros(4)]))
    wall = [
        max(0.0, float(((foot[i] + foot[(i + 1) % 4]) / 2 - (s.start_px + s.end_px) / 2) @ s.outward))
        for i, s in enumerate(sides)
    ]
    px_per_mm = float(np.linalg.norm(sides[0].end_px - sides[0].start_px)) / ID1.long_mm
    effects = side_effects(sides, np.array(wall), px_per_mm)
    return [e.outward_px for e in effects], [e.sd_px for e in effects], [e.turn_sd_px for e in effects]


@pytest.mark.parametrize(
    "view",
    [
        PHONE,
        View(SIZE_PX, 600.0, (-150.0, 20.0), -110.0, 4.0, -3.0),
        View(SIZE_PX, 900.0, (60.0, -180.0), 175.0, -6.0, 5.0),
        View(SIZE_PX, 700.0, (10.0, 5.0), 0.0, 0.0, 0.0),
    ],
)
def test_exact_sides_give_the_camera_back(view: View) -> None:
    camera = view.camera()
    sides = without_effects(camera)
    estimate = fit_pose(sides, corners_px(camera), lens_prior(26.0, *SIZE_PX))
    assert estimate is not None
    assert estimate.camera.height_mm == pytest.approx(camera.height_mm, rel=2e-3)
    # a lean is pulled a little towards level, in proportion to its prior
    assert estimate.camera.tilt_deg == pytest.approx(camera.tilt_deg, rel=0.03, abs=0.05)
    assert estimate.corners_px() == pytest.approx(corners_px(camera), abs=0.1)
    assert estimate.residual_rms_px < 0.03
    assert estimate.pull < 0.5


def test_the_fit_disagrees_with_a_card_of_another_shape() -> None:
    camera = View(SIZE_PX, 750.0, (0.0, 0.0), 40.0, 0.0, 0.0).camera()  # straight above: no wall to blame
    corners = corners_px(camera)
    longer = corners.copy()
    longer[[1, 2]] += 0.02 * (corners[1] - corners[0])
    sides = sides_of(longer, np.zeros(4), np.zeros(4))
    estimate = fit_pose(sides, longer, lens_prior(26.0, *SIZE_PX))
    assert estimate is not None
    # a lean of acos(1 / 1.02) = 11 degrees would explain the ratio but not that the sides stay parallel
    assert estimate.residual_rms_px > 0.3
    assert estimate.pull > 3


def test_focal_length_unknown_is_a_wide_prior() -> None:
    known, unknown = lens_prior(24.0, *SIZE_PX), lens_prior(None, *SIZE_PX)
    assert known.focal_px == pytest.approx(focal_px_from_equivalent(24, *SIZE_PX))
    assert known.focal_sd_px == pytest.approx(0.01 * known.focal_px)
    assert known.known
    assert unknown.focal_sd_px / unknown.focal_px == pytest.approx(2.5 / 26)
    assert not unknown.known


def test_height_sd_follows_the_focal_lengths() -> None:
    card = found(PHONE.camera())
    known, unknown = card_pose(card, lens_prior(26.0, *SIZE_PX)), card_pose(card, lens_prior(None, *SIZE_PX))
    # seen size fixes height / focal length, so their relative sds are the same
    assert known.height_sd_mm / known.camera.height_mm == pytest.approx(0.01, rel=0.1)
    assert unknown.height_sd_mm / unknown.camera.height_mm == pytest.approx(2.5 / 26, rel=0.1)
    assert not unknown.focal_known


def test_too_oblique_is_refused_with_the_angle() -> None:
    steep = View(SIZE_PX, 700.0, (0.0, -400.0), 10.0, 32.0, 0.0)
    with pytest.raises(Refused, match=r"oblique.*32°") as refusal:
        card_pose(found(steep.camera()), lens_prior(26.0, *SIZE_PX))
    assert refusal.value.reason is Reason.TOO_OBLIQUE


def test_just_under_the_limit_is_taken() -> None:
    lean = MAX_TILT_DEG - 2
    view = View(SIZE_PX, 700.0, (0.0, -300.0), 10.0, lean, 0.0)
    estimate = card_pose(found(view.camera()), lens_prior(26.0, *SIZE_PX))
    assert estimate.camera.tilt_deg == pytest.approx(lean, abs=0.5)


def test_covariance_is_that_of_many_trials() -> None:
    """Cameras, cards and sides drawn from what the fit believes: its errors spread as it claims."""
    rng = np.random.default_rng(11)
    middle = np.array([(SIZE_PX[0] - 1) / 2, (SIZE_PX[1] - 1) / 2])
    prior = lens_prior(26.0, *SIZE_PX)
    far_px = np.array([[600.0, 500.0]])
    surprises, pulls = [], []
    for _ in range(90):
        lean_x, lean_y = rng.normal(0, 6, 2)
        view = View(SIZE_PX, 750.0, (110.0, -60.0), float(rng.uniform(-180, 180)), lean_x, lean_y)
        level = view.camera()
        centre = middle + rng.normal(0, prior.centre_sd_px, 2)
        camera = Camera(
            prior.focal_px + prior.focal_sd_px * rng.normal(),
            float(centre[0]),
            float(centre[1]),
            level.rotation,
            level.translation_mm,
            prior.k1_sd * rng.normal(),
        )
        long_mm = ID1.long_mm + ID1.long_sd_mm * rng.normal()
        short_mm = ID1.short_mm + ID1.short_sd_mm * rng.normal()
        true_card = ID1.corners_mm * np.array([long_mm / ID1.long_mm, short_mm / ID1.short_mm])
        corners = camera.project(np.column_stack([true_card, np.full(4, ID1.thickness_mm)]))
        mean, sd, turn = expected_px(camera, sides_of(corners, np.zeros(4), np.zeros(4)))
        noise = np.hypot(sd, 0.03) * rng.normal(size=4) + mean
        sides = sides_of(corners, noise, np.hypot(turn, 0.03) * rng.normal(size=4))
        measured = np.array([side.start_px for side in sides])
        estimate = fit_pose(sides, measured, prior)
        assert estimate is not None
        off = (estimate.camera.to_plane(far_px, Plane(16.0)) - camera.to_plane(far_px, Plane(16.0))).ravel()
        covariance = estimate.plane_covariance(far_px, Plane(16.0))
        surprises.append(off @ np.linalg.solve(covariance, off))
        pulls.append(off / np.sqrt(np.diag(covariance)))
    # 2 degrees of freedom: the mean of 90 is 2 with sd 2 / sqrt(90)
    assert np.mean(surprises) == pytest.approx(2.0, abs=4 * 2 / math.sqrt(90))
    assert np.mean(np.abs(pulls) < 1) == pytest.approx(0.683, abs=0.12)


def test_directions_make_up_the_covariance_and_steps_go_along_them() -> None:
    estimate = card_pose(found(PHONE.camera()), lens_prior(26.0, *SIZE_PX))
    ways, size = estimate.directions, len(estimate.covariance)
    scale = np.sqrt(np.diagonal(estimate.covariance))
    np.testing.assert_allclose(
        ways @ ways.T / np.outer(scale, scale), estimate.covariance / np.outer(scale, scale), atol=1e-6
    )
    stayed = estimate.stepped(np.zeros(size), np.eye(size))
    assert stayed.camera.focal_px == estimate.camera.focal_px
    np.testing.assert_allclose(stayed.covariance, ways @ ways.T)
    halved = estimate.stepped(np.eye(size)[-1], np.eye(size) / 4)
    assert halved.camera.focal_px == pytest.approx(estimate.camera.focal_px + ways[0, -1])
    np.testing.assert_allclose(halved.covariance, ways @ ways.T / 4)
