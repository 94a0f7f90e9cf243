"""What a photo's file tells of its lens: plain, missing, zoomed, cropped, scaled, turned."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from digitise.camera import focal_px_from_equivalent
from digitise.lens_prior import known_pulls, lens_prior, prior_of
from digitise.photo import read_photo
from tests.card_drawing import View

ORIENTATION, EXIF_IFD, F35, ZOOM, WIDTH, HEIGHT = 274, 0x8769, 41989, 41988, 40962, 40963


def saved(folder: Path, size_px: tuple[int, int], orientation: int = 1, **tags: object) -> Path:
    numbers = {"f35": F35, "zoom": ZOOM, "width": WIDTH, "height": HEIGHT}
    data = Image.Exif()
    data[ORIENTATION] = orientation
    data[EXIF_IFD] = {numbers[name]: value for name, value in tags.items()}
    path = folder / "photo.jpg"
    Image.new("RGB", size_px, (90, 120, 60)).save(path, exif=data.tobytes())
    return path


@pytest.mark.parametrize("orientation", range(9))
def test_a_plain_photo_whatever_its_orientation(orientation: int, tmp_path: Path) -> None:
    photo = read_photo(saved(tmp_path, (1200, 900), orientation, f35=26))
    prior = prior_of(photo)
    assert (photo.orientation, photo.sensor_size_px) == (orientation or 1, (1200, 900))
    assert prior.focal_px == pytest.approx(focal_px_from_equivalent(26, 1200, 900))
    assert prior.centre_px == ((599.5, 449.5) if orientation < 5 else (449.5, 599.5))
    assert prior.known


def test_a_missing_focal_length_is_a_phones_with_a_tenth_of_doubt(tmp_path: Path) -> None:
    prior = prior_of(read_photo(saved(tmp_path, (1200, 900))))
    assert prior.focal_px == pytest.approx(focal_px_from_equivalent(26, 1200, 900))
    assert prior.focal_sd_px / prior.focal_px == pytest.approx(2.5 / 26)
    assert not prior.known


def test_a_zoom_may_be_in_the_focal_length_or_not(tmp_path: Path) -> None:
    photo = read_photo(saved(tmp_path, (1200, 900), f35=26, zoom=IFDRational(2, 1)))
    prior = prior_of(photo)
    assert not prior.known
    for f35 in (26, 52):
        true = focal_px_from_equivalent(f35, 1200, 900)
        assert abs(math.log(true / prior.focal_px)) == pytest.approx(math.log(2) / 2)
        assert abs(true - prior.focal_px) < 1.3 * prior.focal_sd_px
    assert any("may include it or not" in note for note in photo.notes)


def test_cropping_leaves_the_focal_length_in_pixels(tmp_path: Path) -> None:
    photo = read_photo(saved(tmp_path, (1200, 900), f35=26, width=2000, height=1000))
    prior = prior_of(photo)
    assert prior.focal_px == pytest.approx(focal_px_from_equivalent(26, 2000, 1000))
    assert prior.focal_sd_px == pytest.approx(prior.focal_px * math.hypot(0.1, 0.01))
    # the cut-away 800 pixels may have been on either side: a uniform law over them
    plain = lens_prior(None, 1200, 900)
    assert prior.centre_sd_px == pytest.approx(math.hypot(plain.centre_sd_px, 800 / math.sqrt(12)))
    assert not prior.known
    assert any("cropped" in note for note in photo.notes)


def test_a_crop_of_an_upright_photo_compares_with_the_turned_size(tmp_path: Path) -> None:
    photo = read_photo(saved(tmp_path, (1200, 900), 6, f35=26, width=1600, height=900))
    assert (photo.width_px, photo.height_px) == (900, 1200)
    plain = lens_prior(None, 900, 1200)
    assert prior_of(photo).centre_sd_px == pytest.approx(math.hypot(plain.centre_sd_px, 400 / math.sqrt(12)))


def test_scaling_keeps_the_equivalent(tmp_path: Path) -> None:
    prior = prior_of(read_photo(saved(tmp_path, (1200, 900), f35=26, width=4000, height=3000)))
    assert prior.focal_px == pytest.approx(focal_px_from_equivalent(26, 1200, 900))
    assert prior.known


def test_pulls_are_zero_at_the_prior_and_one_an_sd_away() -> None:
    size = (4032, 3024)
    prior = lens_prior(26.0, *size)
    camera = View(size, 700.0, (0, 0), 30.0, 0.0, 0.0).camera()
    assert known_pulls(camera, prior) == pytest.approx(np.zeros(6), abs=1e-9)
    steps = np.zeros(10)
    steps[[0, 7, 8, 9]] = prior.focal_sd_px, prior.centre_sd_px, -prior.centre_sd_px, prior.k1_sd
    assert known_pulls(camera.moved(steps), prior) == pytest.approx([1, 1, -1, 1, 0, 0], abs=1e-9)
