"""The rules by which the house is laid out, held by reading its source."""

from __future__ import annotations

import ast
import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "digitise", "model", "tests", "sample_images"}
MAX_LINES = 400
SOURCES = sorted(path for folder in ("digitise", "model", "tests") for path in (ROOT / folder).rglob("*.py"))


def imported_modules(path: Path) -> set[str]:
    """Every module an ``import`` anywhere in the file names, those inside functions too."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            found.add("." * node.level + (node.module or ""))
    return found


def test_imports_are_found(tmp_path: Path) -> None:
    path = tmp_path / "sample.py"
    path.write_text("import a.b as c\ndef f():\n    from digitise.photo import x\n    from . import y\n")
    assert imported_modules(path) == {"a.b", "digitise.photo", "."}


@pytest.mark.parametrize("path", sorted((ROOT / "model").rglob("*.py")), ids=lambda path: path.name)
def test_model_never_imports_digitise(path: Path) -> None:
    assert not [name for name in imported_modules(path) if name.split(".")[0] in ("digitise", "tests")]


@pytest.mark.parametrize("path", sorted((ROOT / "digitise").rglob("*.py")), ids=lambda path: path.name)
def test_digitise_never_imports_tests(path: Path) -> None:
    assert not [name for name in imported_modules(path) if name.split(".")[0] == "tests"]


def test_top_level_is_fixed() -> None:
    """Of what is tracked: racquet files and photos of one's own may lie about."""
    try:
        listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True)
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("not a git checkout")
    names = {line.split("/")[0] for line in listed.stdout.splitlines()}
    assert {name for name in names if not name.startswith(".")} <= TOP_LEVEL
    assert {name for name in names if name.startswith(".")} <= {".ci", ".gitignore"}


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_file_hides_things_by_its_length(path: Path) -> None:
    assert len(path.read_text("utf-8").splitlines()) <= MAX_LINES


@pytest.mark.parametrize("package", ["digitise", "model"])
def test_developers_guide_names_every_module(package: str) -> None:
    """And no module that is gone."""
    guide = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    start = guide.index(f"`{package}/`", guide.index("## The rooms"))
    table = guide[start : guide.index("\n\n", guide.index("| --- |", start))]
    rows = [line for line in table.splitlines() if line.startswith("| ")][2:]
    named = {name for row in rows for name in re.findall(r"`([a-z_0-9]+)`", row)}
    present = {path.stem for path in (ROOT / package).glob("*.py") if not path.stem.startswith("__")}
    assert named - {"trace"} == present - {"trace"}
