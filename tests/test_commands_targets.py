"""What a command was given to read is still there afterwards, whatever it was told to write."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image
from typer import Typer
from typer.testing import CliRunner, Result

from digitise.commands.after import after
from digitise.commands.place import place
from digitise.commands.search import search
from digitise.commands.sheet import sheet
from digitise.commands.targets import (
    beside,
    check_ending,
    check_targets,
    is_same,
    keep_inputs,
    racquet_name,
)
from digitise.commands.tradeoff import tradeoff
from digitise.commands.whatif import whatif
from model.errors import ModelError
from model.storage import read_racquet, write_racquet
from tests.model_samples import paddle_file
from tests.page_browser import PHOTO


def digitise(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "digitise", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)


def model_command(*words: str | Path) -> Result:
    app = Typer()
    for command in (after, place, search, sheet, tradeoff, whatif):
        app.command()(command)
    return CliRunner().invoke(app, [str(word) for word in words])


def test_a_picture_is_named_after_its_racquet_file(tmp_path: Path) -> None:
    assert beside(tmp_path / "club.racquet.json", ".png", []) == tmp_path / "club.racquet.png"
    assert beside(tmp_path / "club.json", ".png", []) == tmp_path / "club.png"


def test_a_picture_keeps_off_what_is_read(tmp_path: Path) -> None:
    photo = tmp_path / "club.png"
    assert beside(tmp_path / "club.json", ".png", [photo]) == tmp_path / "club.traced.png"
    photo.write_text("a photo")
    (tmp_path / "club.traced.png").symlink_to(photo)
    found = beside(tmp_path / "club.json", ".png", [photo])
    assert found == tmp_path / "club.traced.traced.png"


def test_one_file_by_two_names_is_one(tmp_path: Path) -> None:
    photo, link = tmp_path / "photo.jpg", tmp_path / "link.jpg"
    photo.write_text("a photo")
    link.symlink_to(photo)
    assert is_same(photo, link)
    assert is_same(tmp_path / "none.jpg", tmp_path / "none.jpg")
    assert not is_same(photo, tmp_path / "none.jpg")
    with pytest.raises(ModelError, match=r"link\.jpg would be written over .*photo\.jpg.* another --svg"):
        keep_inputs(link, [None, photo], "--svg")
    keep_inputs(tmp_path / "other.jpg", [None, photo])
    keep_inputs(None, [None, photo])


def test_a_file_still_to_be_made_is_one_through_a_linked_folder_too(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    one, other = tmp_path / "real" / "new.csv", tmp_path / "link" / "new.csv"
    assert is_same(one, other)
    with pytest.raises(ModelError, match=r"of --out and --csv have one name, .*link/new\.csv: give each its"):
        check_targets({"--out": one, "--map": None, "--csv": other})
    one.touch()
    with pytest.raises(ModelError, match=r"link/new\.csv would be written over .*real/new\.csv, .* --csv"):
        check_targets({"--csv": other}, [None, one])
    os.link(one, tmp_path / "hard.csv")
    with pytest.raises(ModelError, match="have one name"):
        check_targets({"--out": one, "--csv": tmp_path / "hard.csv"})


def test_what_can_not_be_written_is_told_with_its_option(tmp_path: Path) -> None:
    check_targets({"--out": tmp_path / "new.json", "--csv": None})
    with pytest.raises(ModelError, match=r"was: it is a folder; give --map the name of a file in it$"):
        check_targets({"--out": tmp_path / "new.json", "--map": tmp_path})
    with pytest.raises(ModelError, match=r"was: there is no folder .*none; make it, or give another --out$"):
        check_targets({"--out": tmp_path / "none" / "new.json"})


@pytest.mark.parametrize(
    ("command", "option", "inputs"),
    [
        ("search club.racquet.json --limit twist>=+5%", "--csv", "club.racquet.json tape.toml"),
        ("search club.racquet.json --limit twist>=+5%", "--out", "tape.toml"),
        ("place club.racquet.json --strip 3g:76mm@3", "--map", "club.racquet.json tape.toml"),
        ("place club.racquet.json --strip 3g:76mm@3", "--out", "tape.toml"),
        ("after club.racquet.json --strip 3g:76mm@3 --weight 234", "--out", "tape.toml"),
        ("whatif club.racquet.json sister.racquet.json", "--csv", "sister.racquet.json tape.toml"),
        ("whatif club.racquet.json sister.racquet.json", "--picture", "sister.racquet.json tape.toml"),
        ("tradeoff club.racquet.json", "--csv", "club.racquet.json tape.toml"),
        ("tradeoff club.racquet.json", "--picture", "club.racquet.json tape.toml"),
        ("sheet club.racquet.json --strip 3g:76mm@3", "OUT", "club.racquet.json tape.toml"),
    ],
)
def test_nothing_read_is_written_over(
    command: str, option: str, inputs: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By a link with a picture's ending, for pictures need one."""
    monkeypatch.chdir(tmp_path)
    write_racquet("club.racquet.json", paddle_file())
    write_racquet("sister.racquet.json", paddle_file())
    Path("tape.toml").write_text("# mine\n")
    link = Path("link.svg")
    for read in inputs.split():
        link.symlink_to(read)
        where = [link] if option == "OUT" else [option, link]
        before = link.read_bytes()
        ran = model_command(*command.split(), *where, "--materials", "tape.toml")
        assert isinstance(ran.exception, ModelError)
        told = f"link.svg would be written over {read}, which is read: give another {option}"
        assert str(ran.exception) == told
        assert link.is_symlink()
        assert link.read_bytes() == before
        link.unlink()


def test_a_racquet_file_may_take_its_pieces_in(tmp_path: Path) -> None:
    path = tmp_path / "club.racquet.json"
    write_racquet(path, paddle_file())
    ran = model_command("place", path, "--strip", "3g:76mm@3", "--out", path)
    assert ran.exit_code == 0, ran.output
    assert len(read_racquet(path).placements) == 1


def test_ones_own_materials_are_kept_though_not_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = tmp_path / "own.toml"
    own.write_text("# mine\n")
    monkeypatch.setenv("DIGITISE_MATERIALS", str(own))
    write_racquet(tmp_path / "club.racquet.json", paddle_file())
    ran = model_command(
        "search", tmp_path / "club.racquet.json", "--limit", "twist at least +5%", "--csv", own
    )
    assert "own.toml would be written over" in str(ran.exception)
    assert own.read_text() == "# mine\n"


def test_a_folder_is_no_photo() -> None:
    assert racquet_name(Path("a/club.v2.jpg")) == Path("a/club.v2.racquet.json")
    with pytest.raises(ModelError, match="is a folder: give a photo in it"):
        racquet_name(Path())


@pytest.mark.parametrize("command", ["trace", "correct"])
def test_a_folder_for_a_photo_is_bad_input(command: str, tmp_path: Path) -> None:
    for folder in (".", tmp_path):
        ran = digitise(command, folder)
        assert (ran.returncode, ran.stdout) == (1, "")
        assert ran.stderr == f"{folder} is a folder: give a photo in it\n"


def test_trace_leaves_its_photo_alone(tmp_path: Path) -> None:
    """The drawing would have had the photo's own name."""
    photo = tmp_path / "z.png"
    with Image.open(PHOTO) as picture:
        picture.save(photo)
    before = photo.read_bytes()
    ran = digitise("trace", photo, "--out", tmp_path / "z.json")
    assert photo.read_bytes() == before
    assert f"Picture: {tmp_path / 'z.traced.png'}" in ran.stdout
    assert read_racquet(tmp_path / "z.json").outline.length_mm.value == pytest.approx(417, abs=4)


def test_trace_refuses_to_write_over_its_photo(tmp_path: Path) -> None:
    photo = tmp_path / "club.jpg"
    shutil.copy(PHOTO, photo)
    before = photo.read_bytes()
    ran = digitise("trace", photo, "--out", photo)
    assert (ran.returncode, ran.stdout) == (1, "")
    assert "would be written over" in ran.stderr
    assert photo.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["club.jpg"]


def test_lens_refuses_to_write_over_a_photo(tmp_path: Path) -> None:
    photo = tmp_path / "sheet.jpg"
    shutil.copy(PHOTO, photo)
    ran = digitise("lens", photo, "--out", photo)
    assert ran.returncode == 1
    assert "would be written over" in ran.stderr


def test_calibrate_refuses_to_write_over_what_it_learns_from(paddle_path: Path, tmp_path: Path) -> None:
    readings, sister = tmp_path / "more.toml", tmp_path / "sister.racquet.json"
    readings.write_text('pendulum = "pivot 30mm, 20 swings, 20.92s"\n')
    shutil.copy(paddle_path, sister)
    for option, path in (("--readings", readings), ("--like", sister)):
        before = path.read_bytes()
        ran = digitise("calibrate", paddle_path, option, path, "--out", path)
        assert ran.returncode == 1
        assert "would be written over" in ran.stderr
        assert path.read_bytes() == before


@pytest.mark.parametrize("option", ["--svg", "--dxf"])
def test_outline_refuses_to_write_over_the_racquet_file(option: str, paddle_path: Path) -> None:
    before = paddle_path.read_bytes()
    ran = digitise("outline", paddle_path, option, paddle_path)
    assert ran.returncode == 1
    assert paddle_path.read_bytes() == before


def test_outline_leaves_photo_and_drawing_alone(paddle_path: Path, tmp_path: Path) -> None:
    """The linked picture would have had the photo's name, the racquet file the drawing's."""
    photo, drawing = tmp_path / "club.jpg", tmp_path / "club.svg"
    shutil.copy(PHOTO, photo)
    before = photo.read_bytes()
    ran = digitise("outline", paddle_path, "--svg", drawing, "--picture", "link", "--photo", photo)
    assert ran.returncode == 0, ran.stderr
    assert photo.read_bytes() == before
    assert 'href="club.svg.jpg"' in drawing.read_text("utf-8")
    with Image.open(tmp_path / "club.svg.jpg") as picture:
        assert picture.format == "JPEG"
    drawn = drawing.read_bytes()
    ran = digitise("outline", paddle_path, "--from-svg", drawing, "--out", drawing)
    assert ran.returncode == 1
    assert "would be written over" in ran.stderr
    assert drawing.read_bytes() == drawn
    assert json.loads(paddle_path.read_text("utf-8"))["format"] == "racquet-model"


@pytest.mark.parametrize("axis", ["9999", "-500", "nan"])
def test_trace_writes_nothing_for_a_swing_axis_off_the_racquet(axis: str, tmp_path: Path) -> None:
    ran = digitise("trace", PHOTO, "--swing-axis", axis, "--out", tmp_path / "club.racquet.json")
    assert (ran.returncode, ran.stdout) == (1, "")
    assert f"the swing axis {axis} mm is nowhere near this racquet of 41" in ran.stderr
    assert list(tmp_path.iterdir()) == []


def test_an_ending_says_what_is_in_the_file() -> None:
    check_ending(Path("sheet.PDF"), ".pdf")
    for name in ("c.png", "c", "c.pdf.gz", "."):
        with pytest.raises(ModelError, match=r"can't be written by --out: end its name with \.pdf"):
            check_ending(Path(name), ".pdf")


@pytest.mark.parametrize(
    ("words", "ending"),
    [
        (("card", "--out", "c.png"), ".pdf"),
        (("calibrate", "--how", "pendulum", "--out", "how.png"), ".svg"),
        (("outline", "club.racquet.json", "--svg", "z.dxf"), ".svg"),
        (("outline", "club.racquet.json", "--dxf", "z.svg"), ".dxf"),
    ],
)
def test_nothing_is_written_under_a_wrong_name(
    words: tuple[str, ...], ending: str, paddle_path: Path, tmp_path: Path
) -> None:
    wrong = tmp_path / words[-1]
    ran = digitise(*(str(paddle_path) if word == "club.racquet.json" else word for word in words[:-1]), wrong)
    assert (ran.returncode, ran.stdout) == (1, "")
    assert ran.stderr == f"{wrong} can't be written by {words[-2]}: end its name with {ending}\n"
    assert not wrong.exists()


@pytest.mark.parametrize(
    "words",
    [
        ("card", "--out", "x.pdf"),
        ("calibrate", "--how", "pendulum", "--out", "x.svg"),
        ("outline", "club.racquet.json", "--svg", "x.svg"),
        ("outline", "club.racquet.json", "--dxf", "x.dxf"),
    ],
)
def test_what_can_not_be_written_is_named_as_given(
    words: tuple[str, ...], paddle_path: Path, tmp_path: Path
) -> None:
    lost = tmp_path / "no" / words[-1]
    ran = digitise(*(str(paddle_path) if word == "club.racquet.json" else word for word in words[:-1]), lost)
    assert ran.returncode == 1
    assert ran.stderr == f"{lost} cannot be read or written: No such file or directory.\n"
