"""Readings from TOML and CSV files."""

from __future__ import annotations

from pathlib import Path

import pytest

from model.errors import ReadingError
from model.reading_files import read_readings
from model.reading_text import parse_reading

WANT = [
    parse_reading("weight", "231"),
    parse_reading("balance", "238, not used"),
    parse_reading("pendulum", "pivot 30mm, 20 swings, 20.9s"),
    parse_reading("pendulum", "pivot 50mm, 20 swings, 20.4s"),
]


def write(path: Path, text: str) -> Path:
    path.write_text(text, "utf-8")
    return path


def test_toml(tmp_path: Path) -> None:
    text = (
        'weight = 231\nbalance = "238, not used"\n'
        'pendulum = ["pivot 30mm, 20 swings, 20.9s", "pivot 50mm, 20 swings, 20.4s"]\n'
    )
    assert read_readings(write(tmp_path / "club.toml", text)) == WANT


def test_csv_with_a_byte_order_mark_and_blank_lines(tmp_path: Path) -> None:
    text = (
        "\ufeffKind, Reading, Used\nweight, 231g,\nbalance,238,no\n,,\n"
        'pendulum,"pivot 30mm, 20 swings, 20.9s",yes\npendulum,"pivot 50mm, 20 swings, 20.4s"\n'
    )
    assert read_readings(write(tmp_path / "club.csv", text)) == WANT


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("a.toml", "weight = 'heavy'", "in .*a.toml, weight: .*heavy"),
        ("a.toml", "weight = ", "is not TOML"),
        ("a.toml", "weight = true", "must be a text or a list of texts"),
        ("a.toml", "", "holds no readings"),
        ("a.toml", "colour = 'red'", "there is no kind of reading 'colour'"),
        ("a.csv", "weight,231\n", "must begin with the line kind,reading"),
        ("a.csv", "kind,reading\npendulum,pivot 30mm, 20 swings, 21s\n", "line 2: .*quotes"),
        ("a.csv", "kind,reading\nweight,231\nweight,blue\n", "line 3: .*blue"),
        ("a.txt", "weight 231", "must be a .toml or a .csv"),
    ],
)
def test_what_is_wrong_is_said_with_its_place(tmp_path: Path, name: str, text: str, words: str) -> None:
    with pytest.raises(ReadingError, match=words) as caught:
        read_readings(write(tmp_path / name, text))
    assert "\n" not in str(caught.value)


def test_a_missing_file(tmp_path: Path) -> None:
    with pytest.raises(ReadingError, match="can't be read: No such file"):
        read_readings(tmp_path / "none.toml")
