"""The priors file."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

import pytest

from model.errors import ModelError
from model.measured import Measured
from model.priors import Construction, prior_for


@pytest.mark.parametrize(("construction", "axis"), [("solid", 50), ("perforated", 50), ("strung", 100)])
def test_default_swing_axes(construction: str, axis: float) -> None:
    assert prior_for(construction).swing_axis_mm == axis


@pytest.mark.parametrize("construction", list(Construction))
def test_every_part_can_weigh_something_and_is_doubted(construction: str) -> None:
    for part in prior_for(construction).parts:
        assert part.density > 0
        assert part.log_sd > 0


def test_every_part_is_introduced_by_its_reason() -> None:
    lines = resources.files("model").joinpath("data/priors.toml").read_text("utf-8").splitlines()
    heads = [
        line for line in lines if line.count(".") >= 2 and line.startswith("[") and "butt_cap" not in line
    ]
    assert len(heads) == 3 + 4 + 5 + 4
    assert all("#" in line for line in heads)


def test_unknown_construction() -> None:
    with pytest.raises(ModelError, match="solid, perforated, strung"):
        prior_for("wooden")


def own(folder: Path, monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    path = folder / "priors.toml"
    path.write_text(text, "utf-8")
    monkeypatch.setenv("DIGITISE_PRIORS", str(path))


def test_a_persons_own_entries_go_before_the_shipped_ones(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shipped = prior_for("solid")
    own(tmp_path, monkeypatch, "[solid]\nface_mm = [16, 0.5]\n[solid.parts.edge]\ndensity = 0.05\n")
    mine = prior_for("solid")
    assert mine.face_thickness_mm == Measured(16.0, 0.5)
    assert {p.name: p.density for p in mine.parts} == {
        p.name: 0.05 if p.name == "edge" else p.density for p in shipped.parts
    }
    assert mine.handle_thickness_mm == shipped.handle_thickness_mm
    monkeypatch.delenv("DIGITISE_PRIORS")
    assert prior_for("solid") == shipped


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[solid.parts.rudder]\ndensity = 1\n", "has 'rudder' in solid.parts: use one of face, edge"),
        ("[solid.parts.edge]\ndensity = 0\n", "a number above zero at solid.parts.edge.density, not 0"),
        ("[solid.parts.edge]\ndensity = 'much'\n", "a number above zero"),
        ("[solid]\nface_mm = 14\n", r"like \[14.0, 2.0\], at solid.face_mm"),
        ("[solid.parts.edge]\nshape = 'face'\n", "can't change solid.parts.edge.shape"),
        ("[solid]\nmodel_share = 1.5\n", "a share of at most 1 at solid.model_share, not 1.5"),
        ("[strung]\nair_share = 20\n", "a share of at most 1 at strung.air_share, not 20"),
        ("solid = 3\n", "in solid"),
        ("[solid", "can't be read"),
    ],
)
def test_own_entries_that_can_not_be(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, text: str, words: str
) -> None:
    own(tmp_path, monkeypatch, text)
    with pytest.raises(ModelError, match=words) as caught:
        prior_for("solid")
    assert "\n" not in str(caught.value)
