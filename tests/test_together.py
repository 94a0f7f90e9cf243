"""Several photos of one racquet: averaging, its sds and its checks, on made outlines and rendered photos."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from digitise.axis import Axis
from digitise.band import ring_normals
from digitise.camera import Camera
from digitise.card_pose import CameraEstimate
from digitise.card_shape import ID1
from digitise.contour import Contour
from digitise.doubt import UNSUITED
from digitise.landmarks import half_widths, handle_marks
from digitise.photo import Photo
from digitise.reference import Reference
from digitise.resting import Body, Resting
from digitise.spread import EDGE_SD_MM, outline_spread
from digitise.together import SAME_RACQUET_MM, agreement, check_different, combined
from digitise.tone import FloatArray
from digitise.trace import Thickness, Traced, trace_photo
from model.errors import ModelError
from tests.reference_scenes import photographed
from tests.render import random_scene
from tests.render.placing import framed

HEIGHT_MM = 700.0


def paddle_ring(count: int = 1000) -> FloatArray:
    """A blade on a handle, counter-clockwise from the tip, point i mirroring point -i."""
    y = np.concatenate([np.linspace(0, 130, 60), np.linspace(131, 400, 160)])
    head = 100 * np.sqrt(np.clip(1 - ((y - 275) / 126) ** 2, 0, None))
    half = np.where(y < 150, 17.0 + np.clip(y - 140, 0, None), head)
    half[-1] = 0.0
    left = np.column_stack([-half, y])[::-1]
    right = np.column_stack([half, y])[:-1]
    closed = np.concatenate([left, right])
    length = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    at = np.linspace(0, length[-1], count, endpoint=False)
    return np.column_stack([np.interp(at, length, closed[:, k]) for k in (0, 1)])


RING = paddle_ring()
SIZE = np.ptp(RING, axis=0)


def made(
    grown: float, sd_mm: float, moved: tuple[float, float, float] = (0, 0, 0), strength: float = 1.0
) -> Traced:
    """A traced outline that came out ``grown`` times too large, a little shifted and turned."""
    x, y, turn = moved
    cos, sin = math.cos(turn), math.sin(turn)
    ring = grown * RING @ np.array([[cos, sin], [-sin, cos]]) + [x, y]
    count = len(ring)
    contour = Contour(
        Resting(Axis(np.zeros(2), np.array([0.0, 1.0])), 7.0, 0.0),
        ring,
        np.full(count, strength),
        np.zeros(count),
        np.zeros(count, bool),
    )
    camera = Camera(3000.0, 2000.0, 1500.0, np.diag([1.0, -1.0, -1.0]), np.array([0.0, 200.0, HEIGHT_MM]))
    sds = np.full(10, 1e-7)
    sds[6] = sd_mm / SIZE[1] * HEIGHT_MM  # how high it was held is all that is unsure of the camera
    estimate = CameraEstimate(camera, np.diag(sds**2), 0.0, 0.0, True)
    marks = handle_marks(*half_widths(RING))
    body = Body(400.0, marks.top_mm, 14.0, 30.0, 30.0, 34.0, 3.0, None, 0.58)
    others = (replace(body, face_thickness_mm=14.8),)
    spread = outline_spread(estimate, contour, body, others)
    reference = Reference(ID1, (), estimate, 1.0, 1.0)
    return Traced(reference, estimate, contour, (), marks, body, spread, 0.1, (), others)


def test_sizes_are_weighted_by_inverse_variance() -> None:
    a, b = made(1.004, 1.0), made(0.998, 2.0, moved=(2.0, -1.5, 0.01))
    joint = combined([a, b], ["A", "B"])
    weight_a, weight_b = 1 / 1.0**2, 1 / 2.0**2
    mean = (weight_a * 1.004 + weight_b * 0.998) / (weight_a + weight_b)
    assert joint.best == 0
    assert joint.traced.spread.length_mm / SIZE[1] == pytest.approx(mean, abs=4e-4)
    assert joint.traced.spread.width_mm / SIZE[0] == pytest.approx(mean, abs=4e-4)
    edge, shared = 2 * EDGE_SD_MM**2 / 2, a.spread.shared_mm[0, 0]
    whole = 1 / (weight_a + weight_b) + edge + shared**2
    assert joint.traced.spread.length_sd_mm == pytest.approx(math.sqrt(whole), rel=0.03)
    assert joint.traced.contour.ring_mm[:, 1].min() == pytest.approx(0, abs=1e-9)


def test_three_alike_cut_the_own_sd_by_root_three_and_not_the_shared() -> None:
    one = made(1.0, 1.2)
    joint = combined([one, made(1.001, 1.2), made(0.999, 1.2)], ["A", "B", "C"]).traced.spread
    shared = one.spread.shared_mm
    whole = one.spread.own_mm2 / 3 + shared.T @ shared
    assert joint.length_sd_mm == pytest.approx(math.sqrt(whole[0, 0]), rel=0.02)
    assert joint.width_sd_mm == pytest.approx(math.sqrt(whole[1, 1]), rel=0.02)


def test_a_grip_of_the_wrong_width_is_told_of_several_photos_too() -> None:
    thin, right = (
        replace(made(1.0, 1.0), thickness=Thickness(14.0, 0.5, handle_mm, 0.5)) for handle_mm in (60.0, 30.0)
    )
    for traced, told in ((thin, True), (right, False)):
        doubts = combined([traced, traced], ["A", "B"]).traced.doubts
        assert any(doubt.reason == UNSUITED for doubt in doubts) is told


@pytest.mark.parametrize("best_is_drawn", [True, False])
def test_what_one_photo_shows_an_edge_of_is_not_drawn(best_is_drawn: bool) -> None:
    drawn = np.isin(np.arange(len(RING)), np.arange(100, 130))
    sds = (1.0, 1.2) if best_is_drawn else (1.2, 1.0)
    guessed, clear = made(1.0, sds[0]), made(1.0, sds[1])
    guessed = replace(guessed, contour=replace(guessed.contour, drawn=drawn))
    assert not np.any(combined([guessed, clear], ["A", "B"]).traced.contour.drawn)
    both = combined([guessed, guessed], ["A", "B"]).traced.contour.drawn
    np.testing.assert_array_equal(both, drawn)


def test_where_an_edge_is_faint_the_other_photo_decides() -> None:
    clear, faint = made(1.0, 1.0), made(1.0, 1.0)
    bump = np.exp(-0.5 * ((RING[:, 1] - 300) / 15) ** 2) * (RING[:, 0] > 0)
    contour = faint.contour
    bent = contour.ring_mm + 3.0 * bump[:, None] * ring_normals(RING)
    strength = np.where(bump > 0.02, 0.02, 1.0)
    faint = replace(faint, contour=replace(contour, ring_mm=bent, strength=strength))
    joint = combined([clear, faint], ["A", "B"]).traced.contour
    assert np.abs(joint.ring_mm - RING + [0, RING[:, 1].min()]).max() < 0.3
    assert joint.strength.min() == 1.0


def test_more_spread_than_claimed_is_said_and_raises_the_sd() -> None:
    sizes = (1.0, 1.012, 0.988)
    joint = combined([made(size, 0.8) for size in sizes], ["A", "B", "C"])
    assert joint.chance < 1e-3
    assert joint.traced.spread.length_sd_mm > 3 * 0.8 / math.sqrt(3)
    (note,) = joint.traced.reference.notes
    assert f"spread by {0.012 * SIZE[1]:.1f} mm where 0.8 mm is claimed, more than they should" in note
    calm = combined([made(size, 8.0) for size in sizes], ["A", "B", "C"])
    assert calm.chance > 0.1
    assert "as alike as they should be" in calm.traced.reference.notes[0]


def test_the_chance_is_right() -> None:
    """Of photos whose sds are right, one in ten has a chance below 0.1."""
    rng = np.random.default_rng(2)
    one = made(1.0, 1.0)
    root = np.linalg.cholesky(one.spread.own_mm2)
    chances = []
    for _ in range(400):
        offs = (root @ rng.normal(size=(2, 3))).T
        shown = [
            replace(one, spread=replace(one.spread, length_mm=SIZE[1] + a, width_mm=SIZE[0] + b))
            for a, b in offs
        ]
        chances.append(agreement([t.spread for t in shown])[0])
    for share in (0.1, 0.5):
        assert np.mean(np.array(chances) < share) == pytest.approx(
            share, abs=3 * math.sqrt(share * (1 - share) / 400)
        )


def test_another_racquet_is_refused() -> None:
    other = made(1.0, 1.0)
    wide = other.contour.ring_mm * [1 + 3 * SAME_RACQUET_MM / 100, 1]
    other = replace(other, contour=replace(other.contour, ring_mm=wide))
    with pytest.raises(ModelError, match=r"outlines in A and B lie \d+\.\d mm apart"):
        combined([made(1.0, 1.0), other], ["A", "B"])


def test_the_same_photo_twice_is_refused() -> None:
    first, second = (Photo(np.zeros((2, 2, 3), np.uint8), None, None, None, n, "0" * 64, ()) for n in "ab")
    check_different([first, replace(second, sha256="1" * 64)])
    with pytest.raises(ModelError, match="b is the same photo as a"):
        check_different([first, second])


def test_three_rendered_photos(tmp_path: Path) -> None:
    scene = random_scene(4, "solid", megapixels=3)
    spec = scene.racquets[0].spec
    found, true = [], {}
    for number, (tilt_deg, azimuth_deg, roll_deg) in enumerate(
        ((2.0, 30.0, 0.0), (4.0, 200.0, 180.0), (3.0, 300.0, 8.0))
    ):
        camera = replace(
            scene.camera,
            tilt_deg=tilt_deg,
            tilt_azimuth_deg=azimuth_deg,
            roll_deg=scene.camera.roll_deg + roll_deg,
        )
        photo, rendered = photographed(
            framed(replace(scene, camera=camera, seed=number)), tmp_path, f"{number}"
        )
        true = rendered.truth["racquet"]
        thickness = Thickness(spec.face_thickness_mm, 0.3, spec.handle_thickness_mm, 1.0)
        found.append(trace_photo(photo, "solid", thickness))
    spread = combined(found, ["A", "B", "C"]).traced.spread
    singles = [one.spread for one in found]
    # What the racquet's own rim and butt leave open no further photo tells: less than the root of three.
    alone = [one.length_sd_mm for one in singles]
    assert spread.length_sd_mm < min(alone)
    assert spread.length_sd_mm < 0.8 * np.median(alone)
    for value, sd, truth in (
        (spread.length_mm, spread.length_sd_mm, true["overall_length_mm"]),
        (spread.width_mm, spread.width_sd_mm, true["max_width_mm"]),
    ):
        assert abs(value - truth) < 3 * sd
        assert value == pytest.approx(truth, rel=0.006)
