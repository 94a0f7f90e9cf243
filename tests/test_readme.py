"""The README's commands: CI runs its test command, and every option it shows exists."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text("utf-8")


COMMANDS = (
    "calibrate",
    "trace",
    "check",
    "card",
    "lens",
    "correct",
    "outline",
    "figures",
    "place",
    "search",
    "tradeoff",
    "match",
    "whatif",
    "sheet",
    "after",
    "tape",
)


def code_blocks(text: str) -> list[str]:
    return re.findall(r"^```sh\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)


def section(heading: str) -> str:
    found = re.search(rf"^## {heading}$(.*?)(?=^## |\Z)", README, re.MULTILINE | re.DOTALL)
    assert found is not None, heading
    return found[1]


def shown_commands() -> list[list[str]]:
    """Every ``digitise`` command line in the README's code blocks, as words."""
    joined = "\n".join(code_blocks(README)).replace("\\\n", " ").replace("&&\n", "\n")
    lines = [line.removeprefix(".venv/bin/") for line in joined.splitlines()]
    return [shlex.split(line) for line in lines if line.startswith("digitise ")]


@pytest.mark.skipif(shutil.which("bash") is None, reason="CI's script needs bash")
def test_ci_runs_the_readmes_test_command() -> None:
    printed = subprocess.run(
        ["bash", str(ROOT / ".ci" / "run"), "--test-command"], capture_output=True, text=True, check=True
    )
    (command,) = code_blocks(section("Run the tests"))
    assert printed.stdout == command
    assert "'.[test]'" in command
    assert "pytest" in command.splitlines()[-1]


def test_try_it_is_one_command_that_ends_in_the_figures() -> None:
    (command,) = code_blocks(section("Try it"))
    lines = command.replace("\\\n", " ").splitlines()
    assert all(line.endswith("&&") for line in lines[:-1])
    assert lines[-1] == ".venv/bin/digitise figures club.racquet.json"


def test_every_command_is_shown() -> None:
    assert {words[1] for words in shown_commands()} == set(COMMANDS)


def options_of(command: str) -> set[str]:
    """Every option that a command's help shows."""
    ran = subprocess.run(
        [sys.executable, "-m", "digitise", command, "--help"], capture_output=True, text=True, check=True
    )
    return set(re.findall(r"--[a-z0-9-]+", ran.stdout))


@pytest.mark.parametrize("command", COMMANDS)
def test_shown_options_exist(command: str) -> None:
    options = {
        word for words in shown_commands() if words[1] == command for word in words if word.startswith("--")
    }
    assert options <= options_of(command)


def test_what_correct_takes_for_a_photo_is_said_whole() -> None:
    """Of the options that trace has: those named are there, and those left out are not."""
    bullet = re.search(r"^- Where `trace` found no card.*?(?=^- )", README, re.MULTILINE | re.DOTALL)
    assert bullet is not None
    named = set(re.findall(r"--[a-z0-9-]+", bullet[0]))
    readings = {"--weight", "--balance", "--length", "--width"}
    assert named == (options_of("trace") & options_of("correct")) - readings - {"--help"}


def test_shown_sample_photos_exist() -> None:
    photos = {word for words in shown_commands() for word in words if word.startswith("sample_images/")}
    assert photos
    assert all((ROOT / photo).is_file() for photo in photos)


def test_the_main_job_runs_as_shown(tmp_path: Path) -> None:
    """The commands of "Try it", less the installing, with the sample photo's path made whole."""
    (command,) = code_blocks(section("Try it"))
    lines = [line.removesuffix("&&") for line in command.replace("\\\n", " ").splitlines()]
    jobs = [shlex.split(line)[1:] for line in lines if line.startswith(".venv/bin/digitise ")]
    for words in jobs:
        arguments = [str(ROOT / word) if word.startswith("sample_images/") else word for word in words]
        ran = subprocess.run(
            [sys.executable, "-m", "digitise", *arguments],
            cwd=tmp_path,
            env=os.environ | {"PYTHONPATH": str(ROOT)},
            capture_output=True,
            text=True,
            check=False,
        )
        assert (ran.returncode, ran.stderr) == (0, "")
    for figure in ("weight", "balance", "swing weight", "twist weight", "recoil weight", "spin weight"):
        assert re.search(rf"^ *{figure}.* \d+\.\d+ +\d+\.\d+ ", ran.stdout, re.MULTILINE), figure
    assert {path.name for path in tmp_path.iterdir()} == {"club.racquet.json", "club.racquet.png"}
