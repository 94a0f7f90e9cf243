"""A table's lines, drawn through a bent lens that leans: what they tell of both."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from digitise.camera import TABLE, Camera
from digitise.card_segments import sketched
from digitise.lens_lines import by_lines, lines_in
from digitise.lens_prior import known_pulls, lens_prior
from digitise.tone import to_stored
from tests.card_drawing import F35_MM, View

SIZE = (2016, 1512)
PRIOR = lens_prior(F35_MM, *SIZE)
LEANING = View(SIZE, 700.0, (30, -20), 17.0, 3.0, -2.0)


def tiled(
    camera: Camera, pitch_mm: float = 60.0, joint_mm: float = 2.5, both_ways: bool = True
) -> np.ndarray:
    """Light tiles with dark joints, seen by ``camera``: each pixel asks where on the table it looks."""
    width, height = SIZE
    grid = np.stack(np.meshgrid(np.arange(width), np.arange(height)), axis=-1).reshape(-1, 2).astype(float)
    world = camera.to_plane(grid, TABLE)
    away = np.abs((world / pitch_mm + 0.5) % 1 - 0.5) * pitch_mm
    nearest = away.min(axis=1) if both_ways else away[:, 0]
    # a pixel is about half a millimetre wide there
    joint = np.clip((joint_mm / 2 - nearest) / 0.45 + 0.5, 0, 1).reshape(height, width)
    light = np.asarray(cv2.GaussianBlur(0.45 - 0.3 * joint, (0, 0), 0.8), float)
    grain = np.random.default_rng(2).normal(0, 1.0, light.shape)
    grey = np.clip(np.rint(255 * to_stored(light) + grain), 0, 255).astype(np.uint8)
    return np.repeat(grey[..., None], 3, axis=2)


@pytest.mark.parametrize("k1", [-0.018, 0.0, 0.012])
def test_tiles_tell_the_bend_and_the_lean(k1: float) -> None:
    camera = replace(LEANING.camera(), k1=k1)
    photo = tiled(camera)
    prior = by_lines(photo, lines_in(sketched(photo)), PRIOR)
    assert prior.k1 == pytest.approx(k1, abs=0.0012)
    assert abs(prior.k1 - k1) < 2 * prior.k1_sd < 0.005
    assert len(prior.vanishing) == 2
    # the true camera has the joints' directions on its table, within a twentieth of a degree
    out_of_table = known_pulls(camera, prior)[6:] * [each.sd for each in prior.vanishing]
    assert np.degrees(np.abs(out_of_table)).max() < 0.05
    assert max(each.sd for each in prior.vanishing) < np.radians(0.12)


def test_lines_one_way_tell_one_direction() -> None:
    photo = tiled(LEANING.camera(), both_ways=False)
    assert len(by_lines(photo, lines_in(sketched(photo)), PRIOR).vanishing) == 1


def test_a_table_without_lines_tells_nothing() -> None:
    grain = np.random.default_rng(4).normal(110, 6, (SIZE[1], SIZE[0], 1))
    photo = np.repeat(np.clip(grain, 0, 255).astype(np.uint8), 3, axis=2)
    assert by_lines(photo, lines_in(sketched(photo)), PRIOR) is PRIOR


def test_wavy_lines_hardly_count() -> None:
    """Lines that were made as wavy as a lens could bend them, each its own way."""
    width, height = SIZE
    x, y = np.meshgrid(np.arange(width), np.arange(height))
    t = 2 * x / width - 1
    grey = np.full((height, width), 170.0)
    for row, bow in zip(range(120, 1500, 180), (9, -7, 8, -9, 6, -8, 7, -6), strict=True):
        grey -= 80 * np.clip(3 - np.abs(y - row - bow * t**2), 0, 1)
    photo = np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, axis=2)
    prior = by_lines(photo, lines_in(sketched(photo)), PRIOR)
    assert abs(prior.k1) < 2 * prior.k1_sd
    assert prior.k1_sd > 0.004


def test_a_calibrated_lens_stays_as_it_was_measured() -> None:
    calibrated = replace(PRIOR, k1=-0.0175, k1_sd=0.0004)
    camera = replace(LEANING.camera(), k1=-0.018)
    photo = tiled(camera)
    prior = by_lines(photo, lines_in(sketched(photo)), calibrated)
    assert prior.k1 == pytest.approx(-0.0175, abs=0.0006)
    assert prior.k1_sd <= calibrated.k1_sd
