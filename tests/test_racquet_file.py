"""The racquet file's keys and schema."""

from __future__ import annotations

import json
from importlib import resources

import pytest
from pydantic import ValidationError

from model.racquet_file import CardRecord, PhotoRecord, RacquetFile, ScaleRecord, Value, racquet_schema
from tests.model_samples import paddle_file


def test_the_shipped_schema_is_the_codes() -> None:
    shipped = resources.files("model").joinpath("data/racquet.schema.json").read_text("utf-8")
    assert shipped == racquet_schema()


def test_keys_that_others_read() -> None:
    raw = json.loads(paddle_file().model_dump_json())
    assert (raw["format"], raw["version"], raw["construction"]) == ("racquet-model", 2, "solid")
    assert set(raw["figures"]) == {
        "weight_g",
        "balance_mm",
        "swing_weight_kgcm2",
        "twist_weight_kgcm2",
        "recoil_weight_kgcm2",
        "spin_weight_kgcm2",
    }
    assert raw["figures"]["swing_weight_kgcm2"]["axis_mm"] == 50.0
    assert all({"value", "sd"} <= set(figure) for figure in raw["figures"].values())
    assert raw["outline"]["length_mm"] == {"value": 410.0, "sd": 0.8}
    assert raw["outline"]["outer_mm"][0] != raw["outline"]["outer_mm"][-1]
    assert raw["landmarks"]["handle_top_mm"] == {"value": 130.0, "sd": 2.0}
    assert raw["landmarks"]["face_centre_mm"] == [0.0, 270.0]
    assert raw["landmarks"]["widest_mm"] == pytest.approx(280.0, abs=101)
    assert {part["name"] for part in raw["parts"]} == {"face", "edge", "handle", "butt_cap"}
    assert raw["placements"] == []
    assert raw["photo"] is None


def test_photo_and_scale_records() -> None:
    card = CardRecord(corners_px=[[0.0, 0.0], [280.0, 0.0], [280.0, 176.0], [0.0, 176.0]])
    scale = ScaleRecord(
        card=card,
        camera_height_mm=Value(value=900.0, sd=5.0),
        mm_per_px=Value(value=0.3, sd=0.001),
        relative_sd=0.002,
    )
    photo = PhotoRecord(file_name="club.jpg", sha256="0" * 64, width_px=4000, height_px=3000)
    file = paddle_file().model_copy(update={"photo": photo, "scale": scale})
    assert RacquetFile.model_validate_json(file.model_dump_json()) == file


@pytest.mark.parametrize(
    "change",
    [
        {"sha256": "abc"},
        {"width_px": 0},
        {"width_px": 10.5},
        {"file_name": None},
        {"colour": "red"},
    ],
)
def test_wrong_entries_are_refused(change: dict[str, object]) -> None:
    good = {"file_name": "club.jpg", "sha256": "0" * 64, "width_px": 4000, "height_px": 3000}
    with pytest.raises(ValidationError):
        PhotoRecord.model_validate({**good, **change})
