"""Where a person's own files are looked for."""

from __future__ import annotations

from pathlib import Path

import pytest

from model.own_file import own_path


def test_the_variable_goes_before_the_configuration_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DIGITISE_PRIORS", "/own/p.toml")
    monkeypatch.setenv("XDG_CONFIG_HOME", "/conf")
    assert own_path("DIGITISE_PRIORS", "priors.toml") == Path("/own/p.toml")
    monkeypatch.setenv("DIGITISE_PRIORS", "")
    assert own_path("DIGITISE_PRIORS", "priors.toml") == Path("/conf/digitise/priors.toml")
    monkeypatch.delenv("XDG_CONFIG_HOME")
    monkeypatch.setenv("HOME", "/home/somebody")
    assert own_path("DIGITISE_PRIORS", "priors.toml") == Path("/home/somebody/.config/digitise/priors.toml")
