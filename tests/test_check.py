"""The verdict on a photo, through the function and through the command."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from digitise.check import GOOD_TILT_DEG, check_photo
from digitise.photo import read_photo
from tests.card_drawing import F35_MM, View, drawn
from tests.test_reference import photo_from

LEVEL = View(height_mm=420.0)


def check(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "digitise", "check", *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
        env=os.environ,
    )


def test_a_good_photo_and_its_numbers() -> None:
    camera = LEVEL.camera()
    verdict = check_photo(photo_from(drawn(camera, LEVEL.size_px, 0.75, 0.3), F35_MM))
    assert verdict.good
    numbers = {
        mark.what: float("".join(c for c in mark.number if c in "0123456789.")) for mark in verdict.marks
    }
    assert numbers["size"] == pytest.approx(85.6 * camera.focal_px / camera.height_mm, rel=0.02)
    assert numbers["tilt"] == pytest.approx(camera.tilt_deg, abs=0.3)
    assert numbers["height"] == pytest.approx(camera.height_mm, rel=0.01)
    # twice the blur's sd, to which a pixel's own width adds a twelfth
    assert numbers["sharpness"] == pytest.approx(2 * np.hypot(0.8, 12**-0.5), rel=0.3)


def test_what_could_be_better_comes_with_the_cure() -> None:
    view = View(height_mm=420.0, lean_x_deg=GOOD_TILT_DEG + 3, lean_y_deg=0.0)
    verdict = check_photo(photo_from(drawn(view.camera(), view.size_px, 0.75, 0.3), None))
    assert not verdict.good
    poor = {mark.what: mark.words() for mark in verdict.marks if not mark.good}
    assert set(poor) == {"tilt", "height"}
    assert "hold the camera level" in poor["tilt"]
    assert "focal length" in poor["height"]


def test_the_command_says_yes_and_writes_nothing(tmp_path: Path) -> None:
    photo = tmp_path / "photo.png"
    Image.fromarray(drawn(LEVEL.camera(), LEVEL.size_px, 0.75, 0.3)).save(photo)
    ended = check(photo)
    assert ended.returncode == 0, ended.stderr
    assert ended.stdout.startswith("Usable")  # a PNG without EXIF data
    assert "card: found at" in ended.stdout
    assert "Only the card, the lens and the sharpness were looked at" in ended.stdout
    assert [path.name for path in tmp_path.iterdir()] == ["photo.png"]
    assert read_photo(photo).f35_mm is None


def test_the_command_says_no_in_one_sentence(tmp_path: Path) -> None:
    photo = tmp_path / "photo.png"
    Image.fromarray(drawn(LEVEL.camera(), LEVEL.size_px, 0.75, 0.3, with_card=False)).save(photo)
    ended = check(photo)
    assert ended.returncode == 1
    assert ended.stdout == ""
    assert len(ended.stderr.strip().splitlines()) == 1
    assert "No card was found" in ended.stderr


@pytest.mark.parametrize("place", ["12", "a,b", "-5,3"])
def test_a_place_that_is_none_is_a_usage_error(place: str, tmp_path: Path) -> None:
    ended = check(tmp_path / "none.jpg", "--card-near", place)
    assert ended.returncode == 2
    assert "1200,800" in ended.stderr


@pytest.fixture(scope="module")
def photo_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("check") / "photo.png"
    Image.fromarray(drawn(LEVEL.camera(), LEVEL.size_px, 0.75, 0.3)).save(path)
    return path


def test_with_and_without_options_the_same_is_said(photo_file: Path) -> None:
    """Without any, the command line is not read by typer."""
    plain, named = check(photo_file), check(photo_file, "--card-size", "card")
    assert plain.returncode == named.returncode == 0
    assert plain.stdout == named.stdout
    assert plain.stdout.count("\n") == 8


def test_what_takes_long_to_load_is_not_loaded(photo_file: Path) -> None:
    """Each of these takes as long as a good part of finding the card."""
    heavy = ("scipy", "shapely", "pydantic", "typer", "numpy.ma")
    script = (
        "import sys; from digitise.commands import run; "
        f"sys.argv = ['digitise', 'check', {str(photo_file)!r}]; run(); "
        f"sys.exit(str([name for name in {heavy!r} if name in sys.modules]))"
    )
    ended = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert ended.stderr.strip() == "[]"
