"""The priors file."""

from __future__ import annotations

from importlib import resources

import pytest

from model.errors import ModelError
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
