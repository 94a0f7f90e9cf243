"""Calibrating a lens from rendered photos of the printed sheet, and using what it says."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from digitise.card_size import card_size
from digitise.lens import LensFile, calibrated_prior, check_replaceable, read_lens, write_lens
from digitise.lens_fit import LEAST_PHOTOS, SheetView, fit_lens, sheet_view
from digitise.lens_prior import lens_prior
from digitise.photo import Photo, sensor_points, upright_point
from digitise.reference import Asked, find_reference
from model.errors import ModelError
from model.record_base import Value
from tests.reference_scenes import beside_sheet, photographed
from tests.render import Scene
from tests.render.camera import CameraSpec, build_camera
from tests.render.cards import CardSpec
from tests.render.sensor import SensorSpec
from tests.render.tables import TableSpec
from tests.test_sheet import printed

SIZE = (2016, 1512)
TRUE = CameraSpec(*SIZE, f35_mm=26.4, k1=-0.018, centre_offset_px=(5.0, -7.0))
LEANS = ((2.0, 0.0), (32.0, 20.0), (30.0, 110.0), (33.0, 200.0), (28.0, 290.0), (25.0, 60.0))


def sheet_scene(tilt_deg: float, azimuth_deg: float, orientation: int = 1) -> Scene:
    """The A4 sheet filling most of the picture, from one side."""
    sheet = printed("a4")
    card = CardSpec("sheet", 0, 0, 0.0, *sheet.size_mm, 0.0, 0.1, ink=sheet.ink())
    camera = replace(TRUE, height_mm=330.0, tilt_deg=tilt_deg, tilt_azimuth_deg=azimuth_deg, roll_deg=90.0)
    return Scene(
        seed=int(azimuth_deg),
        camera=camera,
        cards=(card,),
        table=TableSpec("wood", 1, 0.0, 0),
        sensor=SensorSpec(blur_px=0.6, orientation=orientation),
    )


@pytest.fixture(scope="module")
def lens(tmp_path_factory: pytest.TempPathFactory) -> LensFile:
    folder = tmp_path_factory.mktemp("sheets")
    views = []
    for number, lean in enumerate(LEANS):
        scene = sheet_scene(*lean, orientation=(1, 3)[number % 2])
        views.append(sheet_view(photographed(scene, folder, f"sheet-{number}")[0]))
    # half of the files are stored upside down: on their sensor the principal point lies the other way
    return fit_lens([upside_down(view) if n % 2 else view for n, view in enumerate(views)])


def upside_down(view: SheetView) -> SheetView:
    return replace(view, seen_px=np.array(SIZE) - 1 - view.seen_px)


def test_the_lens_is_found(lens: LensFile) -> None:
    camera = build_camera(TRUE)
    for found, true, most in (
        (lens.focal_px, camera.focal_px, 0.01 * camera.focal_px),
        (lens.centre_x_px, camera.cx_px, 4.0),
        (lens.centre_y_px, camera.cy_px, 4.0),
        (lens.k1, camera.k1, 0.004),
    ):
        assert found.value == pytest.approx(true, abs=most)
        assert abs(found.value - true) < 3.5 * found.sd
    assert lens.rms_px < 0.15
    assert (lens.photos, lens.f35_mm) == (len(LEANS), 26)


def test_the_file_keeps_it(lens: LensFile, tmp_path: Path) -> None:
    path = tmp_path / "phone.lens.json"
    write_lens(path, lens)
    assert read_lens(path) == lens
    check_replaceable(path)  # an older lens file may be written over


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("{", "damaged"),
        ("[]", "not a lens file"),
        ('{"format": "digitise-lens", "version": 1}', "wrong entry"),
    ],
)
def test_files_that_are_none(content: str, words: str, tmp_path: Path) -> None:
    path = tmp_path / "x.json"
    path.write_text(content, "utf-8")
    with pytest.raises(ModelError, match=words):
        read_lens(path)
    with pytest.raises(ModelError, match="there is no file"):
        read_lens(tmp_path / "y.json")


MADE = LensFile(
    width_px=4000,
    height_px=3000,
    focal_px=Value(value=2900.0, sd=12.0),
    centre_x_px=Value(value=2010.0, sd=3.0),
    centre_y_px=Value(value=1490.0, sd=2.0),
    k1=Value(value=-0.01, sd=0.001),
    f35_mm=26.0,
    photos=6,
    markers=120,
    rms_px=0.2,
)


def photo(
    width: int, height: int, orientation: int = 1, f35: float | None = 26.0, zoom: float | None = None
) -> Photo:
    upright = (height, width) if orientation < 5 else (width, height)
    pixels = np.zeros((*upright, 3), np.uint8)
    return Photo(pixels, f35, zoom, None, "p", "0" * 64, (), orientation)


def test_a_photo_of_half_the_size_has_half_the_focal_length() -> None:
    prior = calibrated_prior(photo(2000, 1500), MADE)
    assert (prior.focal_px, prior.focal_sd_px, prior.k1, prior.k1_sd) == (1450.0, 6.0, -0.01, 0.001)
    # pixel centres are whole numbers: the middle of 4000 is 1999.5, that of 2000 is 999.5
    assert prior.centre_px == pytest.approx((2010.5 / 2 - 0.5, 1490.5 / 2 - 0.5))
    assert prior.centre_sd_px == 1.5
    assert prior.known


@pytest.mark.parametrize(
    ("orientation", "centre_px"),
    [(1, (2010, 1490)), (3, (1989, 1509)), (6, (1509, 2010)), (8, (1490, 1989))],
)
def test_the_principal_point_turns_with_the_picture(orientation: int, centre_px: tuple[float, float]) -> None:
    prior = calibrated_prior(photo(4000, 3000, orientation), MADE)
    assert prior.centre_px == pytest.approx(centre_px)


def test_a_picture_turned_without_a_word_has_its_middle() -> None:
    prior = calibrated_prior(photo(3000, 4000), MADE)
    plain = lens_prior(26.0, 3000, 4000)
    assert (prior.centre_px, prior.centre_sd_px) == (plain.centre_px, plain.centre_sd_px)
    assert prior.focal_px == 2900


@pytest.mark.parametrize("orientation", range(1, 9))
def test_points_go_back_to_the_sensor(orientation: int) -> None:
    size = (9, 6)
    points = [(0.0, 0.0), (8.0, 0.0), (2.0, 5.0), (3.5, 1.25)]
    upright = np.array([upright_point(point, size, orientation) for point in points])
    assert sensor_points(upright, size, orientation) == pytest.approx(np.array(points))


@pytest.mark.parametrize(
    ("other", "words"),
    [
        (photo(4000, 2250), "other proportions"),
        (photo(4000, 3000, zoom=2.0), "digital zoom of 2"),
        (photo(4000, 3000, f35=52.0), "records 52 mm"),
    ],
)
def test_a_photo_of_another_camera_is_refused(other: Photo, words: str) -> None:
    with pytest.raises(ModelError, match=words):
        calibrated_prior(other, MADE)


def test_the_lens_tightens_a_photo_without_exif(lens: LensFile, tmp_path: Path) -> None:
    scene = beside_sheet(4, 210, 148, exif=False)
    camera = replace(
        scene.camera, width_px=SIZE[0], height_px=SIZE[1], f35_mm=TRUE.f35_mm, k1=TRUE.k1,
        centre_offset_px=TRUE.centre_offset_px, roll_deg=scene.camera.roll_deg,
    )  # fmt: skip
    if scene.camera.width_px < scene.camera.height_px:
        camera = replace(camera, roll_deg=camera.roll_deg + 90)
    shot, rendered = photographed(replace(scene, camera=camera), tmp_path)
    plain, calibrated = (find_reference(shot, Asked(card_size("a5"), lens=f)) for f in (None, lens))
    true = rendered.truth["camera"]["height_mm"]
    assert not plain.estimate.focal_known
    assert calibrated.estimate.focal_known
    assert calibrated.estimate.camera.height_mm == pytest.approx(true, rel=0.01)
    assert calibrated.estimate.height_sd_mm < 0.15 * plain.estimate.height_sd_mm


def test_too_few_or_mixed_photos_are_refused() -> None:
    view = SheetView("a.jpg", SIZE, 26.0, np.zeros((20, 2)), np.zeros((20, 2)))
    with pytest.raises(ModelError, match=f"take at least {LEAST_PHOTOS}"):
        fit_lens([view] * (LEAST_PHOTOS - 1))
    with pytest.raises(ModelError, match=r"b\.jpg was taken with another lens"):
        fit_lens([*[view] * LEAST_PHOTOS, replace(view, file_name="b.jpg", f35_mm=52.0)])


def test_level_photos_do_not_tell_the_focal_length() -> None:
    """From straight above, a farther camera with a longer lens shows the same: exact points say so."""
    x, y = np.meshgrid(np.linspace(-90, 90, 5), np.linspace(-130, 130, 4))
    sheet = np.column_stack([x.ravel(), y.ravel()])
    rng = np.random.default_rng(1)
    views = []
    for number in range(6):
        spec = replace(TRUE, height_mm=400.0 + 10 * number, tilt_deg=0.5, tilt_azimuth_deg=60.0 * number)
        seen = build_camera(spec).project(np.column_stack([sheet, np.zeros(20)]))
        views.append(SheetView(f"{number}.jpg", SIZE, 26.0, sheet, seen + rng.normal(0, 0.05, seen.shape)))
    with pytest.raises(ModelError, match=r"only 0 of the photos lean by 10° or more, and 3 are needed"):
        fit_lens(views)
