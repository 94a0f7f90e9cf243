"""Racquet files on the disk."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest

from model.errors import RacquetFileError
from model.storage import parse_racquet, read_racquet, read_racquets, write_bytes, write_racquet, write_text
from tests.model_samples import paddle_file

FILE = paddle_file()


def raw() -> dict[str, Any]:
    loaded: dict[str, Any] = json.loads(FILE.model_dump_json())
    return loaded


def test_round_trip(tmp_path: Path) -> None:
    path = tmp_path / "club.racquet.json"
    write_racquet(path, FILE)
    assert read_racquet(path) == FILE
    assert os.listdir(tmp_path) == ["club.racquet.json"]


def test_a_failed_write_keeps_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "club.racquet.json"
    path.write_text("old")

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("model.storage.os.fsync", full)
    with pytest.raises(RacquetFileError, match="No space left on device"):
        write_racquet(path, FILE)
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["club.racquet.json"]


def test_an_interrupted_write_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(handle: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("model.storage.os.fsync", stopped)
    with pytest.raises(KeyboardInterrupt):
        write_racquet(tmp_path / "club.racquet.json", FILE)
    assert os.listdir(tmp_path) == []


def test_files_of_one_name_keep_apart_by_their_folders(tmp_path: Path) -> None:
    paths = [
        tmp_path / where for where in ("a/club.racquet.json", "b/club.racquet.json", "b/two.racquet.json")
    ]
    for path in paths:
        path.parent.mkdir(exist_ok=True)
        write_racquet(path, FILE)
    assert list(read_racquets(paths)) == ["a/club", "b/club", "two"]
    with pytest.raises(RacquetFileError, match="a/club is given twice"):
        read_racquets([paths[0], paths[0]])


def test_a_missing_folder_is_said(tmp_path: Path) -> None:
    with pytest.raises(RacquetFileError, match="can't be written: No such file"):
        write_racquet(tmp_path / "nowhere" / "club.racquet.json", FILE)


def test_the_file_has_an_ordinary_mode(tmp_path: Path) -> None:
    plain, path = tmp_path / "plain", tmp_path / "club.racquet.json"
    plain.write_text("")
    write_racquet(path, FILE)
    assert path.stat().st_mode == plain.stat().st_mode
    path.chmod(0o600)
    write_racquet(path, FILE)
    assert path.stat().st_mode & 0o777 == 0o600


def test_files_of_version_1_are_read() -> None:
    """As the first version wrote them: readings of two kinds, no repeats, no traced size."""
    old = {key: value for key, value in raw().items() if key != "traced_size"}
    old |= {
        "version": 1,
        "readings": [
            {"kind": "weight", "value": 228.0, "sd": 0.5, "used": True},
            {"kind": "balance", "value": 238.0, "sd": 1.0, "used": True},
        ],
    }
    assert parse_racquet(json.dumps(old), "club.racquet.json") == FILE


def damaged(**changes: Any) -> str:
    return json.dumps({**raw(), **changes})


def with_outline(**changes: Any) -> str:
    return damaged(outline={**raw()["outline"], **changes})


def with_figure(name: str, value: float) -> str:
    return damaged(figures={**raw()["figures"], name: {**raw()["figures"][name], "value": value}})


def with_covariance(**changes: Any) -> str:
    return damaged(figures_covariance={**raw()["figures_covariance"], **changes})


def test_a_covariance_of_nothing_uncertain_or_rounded_is_read() -> None:
    """All of it known exactly, two figures that err as one, and what rounding leaves of no variance."""
    zero = [[0.0] * 5 for _ in range(5)]
    as_one = [[4.0 if i == j == 0 else 1.0 if i == j else 0.0 for j in range(5)] for i in range(5)]
    as_one[0][1] = as_one[1][0] = 2.0 * (1 + 1e-12)
    rounded = [[-1e-20 if i == j else 0.0 for j in range(5)] for i in range(5)]
    for matrix in (zero, as_one, rounded):
        assert parse_racquet(with_covariance(matrix=matrix), "c").figures_covariance.matrix == matrix


def test_what_rounding_leaves_unlike_in_a_covariance_is_evened() -> None:
    """A weight and a balance known to 1e-5: their covariance is 2e-14 one way round and 4e-14 the other."""
    matrix = [[1e-10 if i == j else 0.0 for j in range(5)] for i in range(5)]
    matrix[0][1], matrix[1][0] = 2e-14, 4e-14
    read = parse_racquet(with_covariance(matrix=matrix), "c").figures_covariance.matrix
    assert read[0][1] == read[1][0] == pytest.approx(3e-14)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is damaged at line 1"),
        (FILE.model_dump_json()[:500], "is damaged"),
        ("[" * 100_000, "is damaged"),
        ("[]", "is not a racquet file"),
        ("{}", "is not a racquet file"),
        (damaged(version=3), "has version 3, and this program reads versions 1 to 2"),
        (damaged(version=True), "has version True"),
        (damaged(version=None), "has version None"),
        (damaged(construction="wooden"), "wrong entry at construction"),
        (damaged(parts="many"), "wrong entry at parts"),
        (damaged(colour="red"), "wrong entry at colour"),
        (with_outline(outer_mm=[[0, 0], [1, "x"], [2, 2]]), r"wrong entry at outline.outer_mm.1.1"),
        (with_outline(outer_mm=[[-5, 0], [5, 10], [5, 0], [-5, 10]]), "unusable outline: .* crosses"),
        (with_outline(length_mm={"value": 410, "sd": -1}), r"wrong entry at outline.length_mm.sd"),
        (with_outline(length_mm={"value": 0, "sd": 1}), "outline.length_mm: must be more than zero, not 0"),
        (with_outline(length_mm={"value": float("nan"), "sd": 1}), "is damaged"),
        (with_figure("weight_g", 0.0), "figures: weight_g must be more than zero, not 0"),
        (
            with_figure("twist_weight_kgcm2", -1.0),
            "figures: twist_weight_kgcm2 must be more than zero, not -1",
        ),
        (
            damaged(thickness={**raw()["thickness"], "face_mm": {"value": -14, "sd": 0.3}}),
            "thickness.face_mm: must be more than zero, not -14",
        ),
        (damaged(parts=[{"name": "face", "mass_g": {"value": -1, "sd": 1}}]), "parts.0.mass_g: must be more"),
        (with_covariance(order=["a"]), "figures_covariance.order: must be weight_g, balance_mm, recoil"),
        (with_covariance(matrix=[[-1.0] * 5] * 5), "figures_covariance.matrix: must be a covariance"),
        (with_covariance(matrix=[[1.0, 0, 0, 0, 1]] + [[0.0] * 5] * 4), "must be a covariance: symmetric"),
        (with_covariance(matrix=[[1.0, 2, 0, 0, 0], [2.0, 1, 0, 0, 0]] + [[0.0] * 5] * 3), "covariance"),
        (FILE.model_dump_json().replace("410.0", "1e999"), "wrong entry"),
    ],
)
def test_bad_files_are_refused_in_one_sentence(text: str, words: str) -> None:
    with pytest.raises(RacquetFileError, match=words) as caught:
        parse_racquet(text, "club.racquet.json")
    assert str(caught.value).startswith("club.racquet.json ")
    assert "\n" not in str(caught.value)


def test_files_that_can_not_be_read(tmp_path: Path) -> None:
    with pytest.raises(RacquetFileError, match="there is no file"):
        read_racquet(tmp_path / "none.racquet.json")
    with pytest.raises(RacquetFileError, match="can't be read"):
        read_racquet(tmp_path)
    picture = tmp_path / "club.jpg"
    picture.write_bytes(b"\xff\xd8\xff\xe0")
    with pytest.raises(RacquetFileError, match="not a text file"):
        read_racquet(picture)


def test_a_failed_write_names_the_file_that_was_to_be(tmp_path: Path) -> None:
    """Not the hidden one beside it that is written first."""
    missing = tmp_path / "no" / "x.pdf"
    with pytest.raises(FileNotFoundError) as failed:
        write_bytes(missing, b"a sheet")
    assert failed.value.filename == str(missing)
    (tmp_path / "folder").mkdir()
    with pytest.raises(IsADirectoryError) as failed_too:
        write_text(tmp_path / "folder", "words")
    assert failed_too.value.filename == str(tmp_path / "folder")
    assert os.listdir(tmp_path) == ["folder"]
