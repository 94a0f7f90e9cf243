"""The ``digitise`` command: one module a command, and how errors reach the person.

What is not needed is not loaded: typer reads the command line in ``parser``, a command's module imports only
typer and the standard library at its top, and the rest inside its function.
"""

from __future__ import annotations

import atexit
import gc
import os
import sys
import traceback
from pathlib import Path

from digitise.refusal import Refused
from model.errors import ModelError

EXPECTED_ERROR = 1
PARTIAL = 3  # answered, but only in part: an outline in much or grave doubt, a racquet short of its target
FAULT = 70  # EX_SOFTWARE of sysexits.h: the program's fault, not the input's
INTERRUPTED = 130  # 128 + SIGINT, as shells report it
BROKEN_PIPE = 141  # 128 + SIGPIPE
DEBUG_VARIABLE = "DIGITISE_DEBUG"

_SELDOM = 100_000  # new objects between two searches for garbage: modules being loaded are none


def main() -> None:
    """Run the command line; always ends in SystemExit with the status the shell sees.

    Once all has been said and tidied up, the process ends without taking the interpreter apart, object by
    object, which takes a tenth of a second.
    """
    status = FAULT

    def leave() -> None:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(status)

    gc.set_threshold(_SELDOM)
    atexit.register(leave)  # the first to register comes last
    status = run()
    sys.exit(status)


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
            sys.stderr.write(f"{_sentence(error)}\n")
        return EXPECTED_ERROR if _is_expected(error) else FAULT
    return status


def _run_app() -> int:
    words = sys.argv[1:]
    if len(words) == 2 and words[0] == "check" and not words[1].startswith("-"):
        # somebody waits with the racquet on the table, and typer takes as long to load as a card to find
        from digitise.commands.verdict import verdict_on

        sys.stdout.write(f"{verdict_on(Path(words[1]))}\n")
        return 0
    from digitise.commands.parser import parser_for

    try:
        parser_for(words)(prog_name="digitise")
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
