"""Readings asked for one by one at a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from model.racquet_file import RacquetFile
    from model.readings import Reading

QUESTIONS = (
    ("weight", "Weight on a scale"),
    ("balance", "Balance point on a straight edge, from the butt"),
    ("length", "Overall length by tape measure"),
    ("width", "Largest width by tape measure"),
    ("pendulum", "Pendulum"),
    ("bifilar", "Turns on two threads"),
    ("machine", "Inertia machine or twist machine"),
    ("component", "A part's own weight"),
)


def ask_readings(racquet: RacquetFile) -> list[Reading]:
    """Ask for each kind of reading in turn; an empty answer goes on to the next.

    What can't be read is said and asked again. Control-D or Control-C ends the questions and
    everything answered so far is dropped.
    """
    from model.errors import ModelError
    from model.reading_clauses import EXAMPLES
    from model.reading_text import parse_reading
    from model.reading_words import brief

    typer.echo("One reading at a time; leave empty what you have not measured.")
    typer.echo("'digitise calibrate --how KIND' draws how a reading is taken.")
    found: list[Reading] = []
    for kind, question in QUESTIONS:
        old = [brief(reading) for reading in racquet.readings if reading.kind == kind and reading.used]
        has = f"; the file has {'; '.join(old)}" if old else ""
        while answer := typer.prompt(
            f"{question} ({EXAMPLES[kind]}{has})", default="", show_default=False
        ).strip():
            try:
                found.append(parse_reading(kind, answer))
                break
            except ModelError as error:
                typer.echo(f"{error}.")
    return found
