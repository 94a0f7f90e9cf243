"""What the command line may say: the commands by name, read by typer."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import import_module
from typing import Annotated

import typer

NAMES = (
    "trace",
    "check",
    "card",
    "lens",
    "calibrate",
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
"""The commands in the order of the help page; NAME is the function ``NAME`` of ``digitise.commands.NAME``."""


def parser_for(words: Sequence[str]) -> typer.Typer:
    """The parser of a command line of these words: of all commands, unless the first word is one's name."""
    app = typer.Typer(
        name="digitise",
        help="From one photo of a racquet beside a card to its mass model, and what strips of tape do to it.",
        no_args_is_help=True,
        add_completion=False,
        rich_markup_mode=None,  # rich takes longer to load than the rest of the help page
        pretty_exceptions_enable=False,
    )
    app.callback()(_options)
    for name in NAMES if not words or words[0] not in NAMES else words[:1]:
        app.command()(getattr(import_module(f"digitise.commands.{name}"), name))
    return app


def _print_version(asked: bool) -> None:
    if asked:
        from importlib.metadata import PackageNotFoundError, version

        try:
            typer.echo(f"digitise {version('racquet-digitise')}")
        except PackageNotFoundError:  # run from a checkout
            typer.echo("digitise, not installed")
        raise typer.Exit


def _options(
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    pass
