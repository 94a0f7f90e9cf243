"""The commands about references, as a person runs them."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image

from digitise.sheet import PAPERS
from model.storage import write_racquet
from tests.card_drawing import View, drawn
from tests.model_samples import paddle_file
from tests.printed_sheet import read_sheet
from tests.reference_scenes import photo_of
from tests.render import render
from tests.test_lens import sheet_scene


def digitise(*arguments: str | Path, folder: Path | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "digitise", *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=400,
        check=False,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(path for path in sys.path if path)},
        cwd=folder,
    )


def test_card_writes_the_sheet(tmp_path: Path) -> None:
    ended = digitise("card", "--paper", "letter", "--out", tmp_path / "sheet.pdf")
    assert ended.returncode == 0, ended.stderr
    assert "--ruler-measured" in ended.stdout
    paper = PAPERS["letter"]
    assert read_sheet((tmp_path / "sheet.pdf").read_bytes()).size_mm == pytest.approx(
        (paper.width_mm, paper.height_mm), abs=1e-3
    )
    assert [path.name for path in tmp_path.iterdir()] == ["sheet.pdf"]


def test_card_has_a_name_of_its_own(tmp_path: Path) -> None:
    assert digitise("card", folder=tmp_path).returncode == 0
    assert [path.name for path in tmp_path.iterdir()] == ["reference-a4.pdf"]


def test_unknown_paper_is_a_usage_error(tmp_path: Path) -> None:
    ended = digitise("card", "--paper", "a7", folder=tmp_path)
    assert ended.returncode == 2
    assert "a4, letter" in ended.stderr
    assert list(tmp_path.iterdir()) == []


def test_lens_refuses_a_photo_without_the_sheet(tmp_path: Path) -> None:
    view = View()
    photo = tmp_path / "photo.png"
    Image.fromarray(drawn(view.camera(), view.size_px, 0.75, 0.3)).save(photo)
    ended = digitise("lens", photo, "--out", tmp_path / "x.lens.json")
    assert ended.returncode == 1
    assert "does not show enough of the printed sheet" in ended.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["photo.png"]


def test_lens_refuses_to_write_over_what_is_no_lens_file(tmp_path: Path) -> None:
    club = tmp_path / "club.racquet.json"
    write_racquet(club, paddle_file())
    before = club.read_bytes()
    ended = digitise("lens", "none.jpg", "--out", club, folder=tmp_path)
    assert ended.returncode == 1
    assert "club.racquet.json is there already and can't be read as a lens file" in ended.stderr
    assert club.read_bytes() == before


def test_lens_refuses_a_photo_given_twice(tmp_path: Path) -> None:
    photo, copy = (photo_of(render(sheet_scene(2.0, 0.0)), tmp_path, name) for name in ("one", "again"))
    ended = digitise("lens", photo.file_name, copy.file_name, folder=tmp_path)
    assert ended.returncode == 1
    assert f"{copy.file_name} is the same photo as {photo.file_name}" in ended.stderr


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--ruler-measured", "15"), "measure the long line"),
        (("--lens", "none.json"), "there is no file none.json"),
        (("--card-size", "a9"), "two sides in mm such as 100x70"),
    ],
)
def test_what_is_wrong_with_an_option_is_said_before_the_photo_is_read(
    options: tuple[str, str], words: str, tmp_path: Path
) -> None:
    ended = digitise("check", "none.jpg", *options, folder=tmp_path)
    assert ended.returncode == 1
    assert words in ended.stderr


@pytest.mark.parametrize(
    "options", [("--ruler-measured", "150", "--cards", "2"), ("--card-near", "5,5", "--cards", "2")]
)
def test_options_that_exclude_each_other(options: tuple[str, ...], tmp_path: Path) -> None:
    ended = digitise("check", "none.jpg", *options, folder=tmp_path)
    assert ended.returncode == 2
    assert "leave" in ended.stderr


def test_of_several_photos_the_one_that_is_wrong_is_named_at_once(tmp_path: Path) -> None:
    view = View()
    good, again, bad = (tmp_path / name for name in ("good.png", "again.png", "bad.png"))
    Image.fromarray(drawn(view.camera(), view.size_px, 0.75, 0.3)).save(good)
    again.write_bytes(good.read_bytes())
    bad.write_bytes(b"no picture")
    for second, words in (
        (again, "again.png is the same photo as good.png"),
        (bad, "bad.png is not a picture"),
    ):
        ended = digitise("trace", good, second)
        assert ended.returncode == 1
        assert words in ended.stderr
    assert len(list(tmp_path.iterdir())) == 3
