"""Options shared by several commands are spread out for typer and come back as one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

import typer
from typer.testing import CliRunner

from digitise.commands.grouped import grouped

Colour = Annotated[str, typer.Option("--colour", help="What it is painted.")]


@dataclass(frozen=True)
class Paint:
    """A group of two options."""

    colour: Colour = "red"
    coats: Annotated[int, typer.Option("--coats", min=1)] = 1


TWICE = Paint(coats=2)


@grouped
def paint(
    what: Annotated[str, typer.Argument()],
    how: Paint = TWICE,
    dry: Annotated[bool, typer.Option("--dry")] = False,
) -> None:
    """Paint something."""
    typer.echo(f"{what} {how} {dry}")


def run(*words: str) -> tuple[int, str]:
    app = typer.Typer(rich_markup_mode=None)
    app.command()(paint)
    result = CliRunner().invoke(app, list(words))
    return result.exit_code, result.output.strip()


def test_defaults_are_the_instances() -> None:
    assert run("door") == (0, "door Paint(colour='red', coats=2) False")


def test_what_is_given_comes_back_in_the_group() -> None:
    given = run("door", "--colour", "blue", "--coats", "3", "--dry")
    assert given == (0, "door Paint(colour='blue', coats=3) True")
    assert run("door", "--coats", "0")[0] == 2


def test_the_help_page_shows_them_in_their_place() -> None:
    code, text = run("--help")
    assert code == 0
    places = [text.index(word) for word in ("Paint something.", "--colour", "--coats", "--dry")]
    assert places == sorted(places)
    assert "What it is painted." in text
