"""The ``digitise`` command: one module a command, and how errors reach the person.

Command modules import only typer and the standard library at their top, the rest inside the
function, so that ``digitise --help`` answers at once.
"""

from __future__ import annotations

import os
import sys
import traceback
from typing import Annotated

import typer

from digitise.commands.after import after
from digitise.commands.calibrate import calibrate
from digitise.commands.card import card
from digitise.commands.check import check
from digitise.commands.correct import correct
from digitise.commands.figures import figures
from digitise.commands.lens import lens
from digitise.commands.match import match
from digitise.commands.outline import outline
from digitise.commands.place import place
from digitise.commands.search import search
from digitise.commands.sheet import sheet
from digitise.commands.tape import tape
from digitise.commands.trace import trace
from digitise.commands.tradeoff import tradeoff
from digitise.commands.whatif import whatif
from digitise.refusal import Refused
from model.errors import ModelError

EXPECTED_ERROR = 1
FAULT = 70  # EX_SOFTWARE of sysexits.h: the program's fault, not the input's
INTERRUPTED = 130  # 128 + SIGINT, as shells report it
BROKEN_PIPE = 141  # 128 + SIGPIPE
DEBUG_VARIABLE = "DIGITISE_DEBUG"

app = typer.Typer(
    name="digitise",
    help="From one photo of a racquet beside a card to its mass model, and what strips of tape do to it.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,  # rich takes longer to load than the rest of the help page
    pretty_exceptions_enable=False,
)
app.command()(trace)
app.command()(check)
app.command()(card)
app.command()(lens)
app.command()(calibrate)
app.command()(correct)
app.command()(outline)
app.command()(figures)
app.command()(place)
app.command()(search)
app.command()(tradeoff)
app.command()(match)
app.command()(whatif)
app.command()(sheet)
app.command()(after)
app.command()(tape)


def _print_version(asked: bool) -> None:
    if asked:
        from importlib.metadata import PackageNotFoundError, version

        try:
            typer.echo(f"digitise {version('racquet-digitise')}")
        except PackageNotFoundError:  # run from a checkout
            typer.echo("digitise, not installed")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    pass


def main() -> None:
    """Run the command line; always ends in SystemExit with the status the shell sees."""
    sys.exit(run())


def run() -> int:
    """Run the command line from ``sys.argv`` and give its exit status; errors go to standard error."""
    try:
        status = _run_app()
        sys.stdout.flush()
    except BrokenPipeError:
        return _leave_broken_pipe()
    except KeyboardInterrupt:
        return INTERRUPTED
    except Exception as error:
        if os.environ.get(DEBUG_VARIABLE):
            traceback.print_exception(error)
        else:
            typer.echo(_sentence(error), err=True)
        return EXPECTED_ERROR if _is_expected(error) else FAULT
    return status


def _run_app() -> int:
    try:
        app(prog_name="digitise")
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else 0
    return 0


def _is_expected(error: Exception) -> bool:
    return isinstance(error, Refused | ModelError | OSError | MemoryError) or _lacks_opencv(error)


def _lacks_opencv(error: Exception) -> bool:
    """OpenCV missing, or its screenful kind without the graphics libraries that one needs."""
    return isinstance(error, ImportError) and ("cv2" in f"{error.name} {error}" or "libGL" in str(error))


def _sentence(error: Exception) -> str:
    """What the person is told: one line, the kind of error only where it is our fault."""
    if _lacks_opencv(error):
        return (
            f"OpenCV cannot be loaded ({error}); in this environment run: "
            "pip uninstall -y opencv-python opencv-contrib-python; "
            "pip install --force-reinstall opencv-python-headless"
        )
    if isinstance(error, MemoryError):
        return "There is not enough memory for a picture of this size; give a smaller copy of the photo."
    if isinstance(error, OSError) and error.strerror:
        return f"{error.filename or 'A file'} cannot be read or written: {error.strerror}."
    if _is_expected(error):
        return " ".join(str(error).split())
    kind = type(error).__name__
    return (
        f"digitise failed by a fault of its own ({kind}: {' '.join(str(error).split())}); "
        f"set {DEBUG_VARIABLE}=1 and run it again to see where."
    )


def _leave_broken_pipe() -> int:
    """The reader of our output has gone: say no more, not even when Python closes its streams."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return BROKEN_PIPE
