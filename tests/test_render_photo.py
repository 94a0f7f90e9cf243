"""The renderer's photos: tone, noise, tags, truth files and scenes that must be refused."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageOps
from shapely import contains_xy
from shapely.geometry import Polygon

from tests.render import Scene, random_scene, render, write
from tests.render.camera import build_camera
from tests.render.compose import light_picture
from tests.render.placing import card_footprint, footprint
from tests.render.samples import SAMPLES
from tests.render.sensor import SensorSpec, encode, expose
from tests.render.spoil import FAILURES
from tests.render.tone import albedo, stored_bytes, to_linear, to_srgb

SMALL = 0.12  # megapixels: 400 × 300


def upright(photo: bytes) -> NDArray[np.uint8]:
    """Pixels as a viewer shows them."""
    return np.asarray(ImageOps.exif_transpose(Image.open(io.BytesIO(photo))).convert("RGB"))


def test_tone_curve_at_the_standard_s_own_points() -> None:
    """IEC 61966-2-1: 18 % grey is stored as 118, half of full scale is 21.4 % of light."""
    grey = np.full((1, 1, 3), 0.18, np.float32)
    assert stored_bytes(grey)[0, 0, 0] == round(255 * (1.055 * 0.18 ** (1 / 2.4) - 0.055)) == 118
    assert to_linear(np.array([0.5]))[0] == pytest.approx(((0.5 + 0.055) / 1.055) ** 2.4)
    values = np.linspace(0, 1, 101)
    assert to_srgb(to_linear(values)) == pytest.approx(values, abs=1e-9)
    assert albedo("#ffffff") == pytest.approx((1.0, 1.0, 1.0))


def test_blur_happens_in_linear_light() -> None:
    """Half way across a blurred black and white edge lies half the light, stored as 188, not 128."""
    step = np.zeros((21, 40, 3), np.float32)
    step[:, 20:] = 1.0
    pixels = expose(step, SensorSpec(2.0, 0.0, 0.0, 0.0), 1)
    assert pixels[10, 19:21, 0].astype(float).mean() == pytest.approx(188, abs=3)


def test_noise_has_the_stated_variance() -> None:
    """Variance of linear light is shot · L + read²."""
    level, shot, read = 0.3, 4e-4, 0.003
    picture = np.full((300, 300, 3), level, np.float32)
    pixels = expose(picture, SensorSpec(0.0, read, shot, 0.0), 3)
    light = to_linear(pixels / 255)
    rounding = (1 / 255 / 12**0.5 * 2.4 * (level ** (1.4 / 2.4)) / 1.055) ** 2
    assert light.mean() == pytest.approx(level, rel=2e-3)
    assert light.var() == pytest.approx(shot * level + read**2 + rounding, rel=0.05)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_orientation_tag_gives_back_the_same_upright_picture(orientation: int) -> None:
    """Stored pixels are turned so that a viewer that obeys the tag shows the upright one."""
    pixels = np.full((32, 48, 3), 40, np.uint8)
    pixels[:16, :16] = (220, 30, 30)
    pixels[16:, 32:] = (30, 30, 220)
    photo = encode(pixels, SensorSpec(jpeg_quality=95, orientation=orientation), 26.0)
    stored = Image.open(io.BytesIO(photo))
    assert stored.getexif()[0x0112] == orientation
    assert stored.getexif().get_ifd(0x8769)[0xA405] == 26
    assert stored.size == ((32, 48) if orientation >= 5 else (48, 32))
    shown = upright(photo).astype(int)
    assert shown.shape == pixels.shape
    assert np.abs(shown - pixels).mean() < 6


def test_without_tags_there_are_none() -> None:
    """A photo that came through a messenger has no EXIF at all."""
    photo = encode(np.zeros((16, 16, 3), np.uint8), SensorSpec(exif=False), 26.0)
    assert dict(Image.open(io.BytesIO(photo)).getexif()) == {}


def bare(scene: Scene) -> Scene:
    """The same table and light without the racquets."""
    return replace(scene, racquets=())


def test_the_racquet_darkens_the_table_round_it_and_never_brightens_it() -> None:
    """Linear light outside the silhouette with and without the racquet."""
    scene = random_scene(11, "solid", table="light", light="lamp", megapixels=SMALL, extras=0)
    scene = replace(scene, cards=())
    with_racquet, _, seen = light_picture(scene)
    without, _, _ = light_picture(bare(scene))
    assert seen is not None
    near = Polygon(seen.buffer(6).exterior)
    y, x = np.mgrid[0 : with_racquet.shape[0], 0 : with_racquet.shape[1]]
    outside = ~contains_xy(Polygon(seen.buffer(1.5).exterior), x, y)
    ring = outside & contains_xy(near, x, y)
    ratio = with_racquet[..., 1] / without[..., 1]
    assert ratio[outside].max() <= 1.0 + 1e-5
    assert ratio[ring].mean() < 0.95
    assert ratio[ring].min() < 0.6


def test_a_photo_is_the_same_every_time(tmp_path: Path) -> None:
    """Same seed, same bytes."""
    scene = random_scene(4, "perforated", megapixels=0.05)
    first = write(render(scene), tmp_path, "a").read_bytes()
    again = write(render(random_scene(4, "perforated", megapixels=0.05)), tmp_path, "b").read_bytes()
    assert first == again


@pytest.mark.parametrize("construction", ["solid", "perforated", "strung"])
def test_truth_matches_camera_and_pixels(tmp_path: Path, construction: str) -> None:
    """Projecting the truth's own numbers gives its pixel coordinates; figures fit together."""
    scene = random_scene(21, construction, table="dark", card="white", megapixels=SMALL)  # type: ignore[arg-type]
    write(render(scene), tmp_path, "x")
    truth = json.loads((tmp_path / "x.truth.json").read_text())
    camera, racquet, card = truth["camera"], truth["racquet"], truth["card"]

    def project(points: NDArray[np.float64]) -> NDArray[np.float64]:
        seen = points @ np.array(camera["R"]).T + camera["t"]
        flat = seen[:, :2] / seen[:, 2:]
        flat = flat * (1 + camera["k1"] * (flat**2).sum(axis=1, keepdims=True))
        out: NDArray[np.float64] = flat * camera["fx"] + [camera["cx"], camera["cy"]]
        return out

    ring = np.array(racquet["outline_mm"])
    world = np.column_stack([ring, np.zeros(len(ring))]) @ np.array(racquet["pose"]["R"]).T
    assert project(world + racquet["pose"]["t"]) == pytest.approx(np.array(racquet["outline_px"]), abs=2e-3)
    corners = np.column_stack([card["corners_mm"], np.full(4, card["thickness_mm"])])
    placed = corners @ np.array(card["pose"]["R"]).T + card["pose"]["t"]
    assert project(placed) == pytest.approx(np.array(card["corners_px"]), abs=1e-3)
    assert card["in_frame"] is True
    mass = racquet["mass"]
    assert sum(mass["parts_g"].values()) == pytest.approx(mass["weight_g"])
    arm = (mass["balance_mm"] - 50) ** 2 * mass["weight_g"] / 1e5
    assert mass["swing_weight_kgcm2"] == pytest.approx(mass["recoil_weight_kgcm2"] + arm)
    shown = upright((tmp_path / "x.jpg").read_bytes())
    assert shown.shape[:2] == (truth["image"]["height"], truth["image"]["width"])
    middle = np.mean(card["corners_px"], axis=0).round().astype(int)
    assert shown[middle[1], middle[0]].mean() > 2 * np.median(shown)  # a white card on a dark table


def in_picture(scene: Scene, points_mm: NDArray[np.float64]) -> float:
    """Share of table points that lie in the picture."""
    camera = build_camera(scene.camera)
    pixels = camera.project(np.column_stack([points_mm, np.zeros(len(points_mm))]))
    size = [camera.width_px - 1, camera.height_px - 1]
    return float(((pixels >= 0) & (pixels <= size)).all(axis=1).mean())


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_good_scenes_hold_racquet_and_card_apart_and_whole(seed: int) -> None:
    """Both in the picture, at least 8 mm apart."""
    scene = random_scene(seed, megapixels=SMALL)
    racquet, card = footprint(scene.racquets[0]), card_footprint(scene.cards[0])
    assert racquet.distance(card) >= 8.0
    assert in_picture(scene, np.asarray(racquet.exterior.coords)) == 1.0
    assert in_picture(scene, np.asarray(card.exterior.coords)) == 1.0


@pytest.mark.parametrize("failure", FAILURES)
def test_spoiled_scenes_have_the_fault_they_name(failure: str) -> None:
    """Each fault is really there and the truth says so."""
    scene = random_scene(33, "solid", megapixels=0.05, failure=failure)
    truth = render(scene).truth
    assert truth["expect_failure"] == failure
    assert len(scene.cards) == (0 if failure in ("no_card", "blank_table") else 1)
    assert len(scene.racquets) == {"blank_table": 0, "second_racquet": 2}.get(failure, 1)
    if failure == "extreme_tilt":
        assert truth["camera"]["tilt_deg"] >= 30
    if failure in ("card_cut", "racquet_cut"):
        racquet = in_picture(scene, np.asarray(footprint(scene.racquets[0]).exterior.coords))
        card = in_picture(scene, np.asarray(card_footprint(scene.cards[0]).exterior.coords))
        assert card < 0.6 if failure == "card_cut" else racquet < 0.8
        assert (racquet if failure == "card_cut" else card) == 1.0
    if failure == "second_racquet":
        assert footprint(scene.racquets[0]).distance(footprint(scene.racquets[1])) > 10


def test_the_sample_photos_truth_is_what_the_samples_say() -> None:
    """The files beside the sample photos are those of the scenes in the code."""
    folder = Path(__file__).parents[1] / "sample_images"
    for name, make in SAMPLES.items():
        scene = make()
        truth = json.loads((folder / f"{name}.truth.json").read_text())
        spec = scene.racquets[0].spec
        assert truth["racquet"]["mass"]["weight_g"] == pytest.approx(spec.weight_g)
        assert truth["racquet"]["mass"]["balance_mm"] == pytest.approx(spec.balance_mm)
        assert truth["racquet"]["face_thickness_mm"] == spec.face_thickness_mm
        camera = build_camera(scene.camera)
        assert truth["camera"]["fx"] == pytest.approx(camera.focal_px)
        with Image.open(folder / f"{name}.jpg") as photo:
            assert sorted(photo.size) == [3024, 4032]
            assert photo.getexif()[0x0112] == scene.sensor.orientation
