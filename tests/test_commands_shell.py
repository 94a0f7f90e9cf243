"""The command line's shell: help, version, and how every kind of ending reaches the person."""

from __future__ import annotations

import errno
import os
import re
import signal
import subprocess
import sys
import textwrap
import tomllib
from importlib.metadata import distributions
from pathlib import Path

import pytest
import typer

from digitise import commands
from digitise.commands import parser
from digitise.commands.card import card
from digitise.refusal import Reason, Refused
from model.errors import ModelError, RacquetFileError

HEAVY = ("cv2", "matplotlib", "numpy", "PIL", "pydantic", "rich", "scipy", "shapely", "skimage")


def python(code: str, **variables: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", textwrap.dedent(code)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        env=os.environ | variables,
    )


def digitise(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "digitise", *arguments],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def run_raising(error: BaseException, monkeypatch: pytest.MonkeyPatch) -> int:
    """The exit status of the real shell round a command that raises ``error``."""
    app = typer.Typer(pretty_exceptions_enable=False, rich_markup_mode=None)

    @app.command()
    def fail() -> None:
        raise error

    monkeypatch.setattr(parser, "parser_for", lambda words: app)
    monkeypatch.setattr(sys, "argv", ["digitise"])
    monkeypatch.setattr(sys, "excepthook", sys.excepthook)  # typer sets its own; put it back afterwards
    return commands.run()


def test_help_names_every_command() -> None:
    shown = digitise("--help")
    assert shown.returncode == 0
    assert shown.stderr == ""
    for command in parser.NAMES:
        assert re.search(rf"^ +{command}  +\w", shown.stdout, re.MULTILINE), shown.stdout


@pytest.mark.parametrize("command", parser.NAMES)
def test_each_command_has_help(command: str) -> None:
    shown = digitise(command, "--help")
    assert (shown.returncode, shown.stderr) == (0, "")
    assert f"digitise {command}" in shown.stdout


def test_help_loads_no_heavy_library() -> None:
    """The reason why it answers at once, held without a clock."""
    ran = python(
        f"""
        import sys
        from digitise.commands import run
        sys.argv = ["digitise", "--help"]
        run()
        loaded = [name for name in {HEAVY!r} if name in sys.modules]
        sys.exit(f"loaded: {{loaded}}" if loaded else 0)
        """
    )
    assert ran.returncode == 0, ran.stderr


def test_version() -> None:
    shown = digitise("--version")
    with (Path(__file__).parents[1] / "pyproject.toml").open("rb") as file:
        named = tomllib.load(file)["project"]
    installed = [found for found in distributions() if found.name == named["name"]]
    expected = f"digitise {named['version']}\n" if installed else "digitise, not installed\n"
    assert (shown.returncode, shown.stdout) == (0, expected)


@pytest.mark.parametrize("words", [[], ["--help"], ["stretch"]])
def test_without_a_commands_name_all_are_read(words: list[str]) -> None:
    read = parser.parser_for(words).registered_commands
    assert tuple(command.callback.__name__ for command in read if command.callback) == parser.NAMES


def test_a_commands_name_brings_it_alone() -> None:
    (only,) = parser.parser_for(["card", "--help"]).registered_commands
    assert only.callback is card


def test_no_arguments_show_the_help() -> None:
    shown = digitise()
    assert "trace" in shown.stdout + shown.stderr
    assert "Traceback" not in shown.stderr


def test_unknown_command_is_a_usage_error() -> None:
    shown = digitise("stretch")
    assert shown.returncode == 2
    assert "stretch" in shown.stderr
    assert shown.stdout == ""


@pytest.mark.parametrize(
    ("error", "sentence"),
    [
        (
            Refused(Reason.NO_CARD, "No card was found; lay one beside it."),
            "No card was found; lay one beside it.",
        ),
        (ModelError("The weight is\nnegative."), "The weight is negative."),
        (RacquetFileError("It is version 9."), "It is version 9."),
        (
            FileNotFoundError(errno.ENOENT, "No such file", "a.json"),
            "a.json cannot be read or written: No such file.",
        ),
        (
            OSError(errno.ENOSPC, "No space left on device", "b.json"),
            "b.json cannot be read or written: No space left on device.",
        ),
        (
            MemoryError(),
            "There is not enough memory for a picture of this size; give a smaller copy of the photo.",
        ),
    ],
)
def test_expected_error_is_one_sentence(
    error: Exception, sentence: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run_raising(error, monkeypatch) == 1
    assert capsys.readouterr() == ("", sentence + "\n")


def test_fault_of_our_own_is_one_line(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.delenv("DIGITISE_DEBUG", raising=False)
    assert run_raising(ZeroDivisionError("division by zero"), monkeypatch) == 70
    shown = capsys.readouterr().err
    assert shown.count("\n") == 1
    assert "ZeroDivisionError: division by zero" in shown
    assert "DIGITISE_DEBUG=1" in shown


@pytest.mark.parametrize(("error", "status"), [(ZeroDivisionError(), 70), (ModelError("No."), 1)])
def test_debugging_shows_where(
    error: Exception, status: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("DIGITISE_DEBUG", "1")
    assert run_raising(error, monkeypatch) == status
    shown = capsys.readouterr().err
    assert shown.startswith("Traceback")
    assert "in fail" in shown


@pytest.mark.parametrize(
    "error",
    [
        ModuleNotFoundError("No module named 'cv2'", name="cv2"),
        ImportError("libGL.so.1: cannot open shared object file: No such file or directory"),
    ],
)
def test_unusable_opencv_says_what_to_install(
    error: ImportError, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run_raising(error, monkeypatch) == 1
    assert "opencv-python-headless" in capsys.readouterr().err


def test_command_may_end_with_its_own_status(monkeypatch: pytest.MonkeyPatch) -> None:
    assert run_raising(typer.Exit(3), monkeypatch) == 3


@pytest.mark.skipif(not hasattr(signal, "SIGPIPE"), reason="no pipes to break on this system")
@pytest.mark.parametrize("lines", [1, 100_000])
def test_reader_that_goes_away_is_no_news(lines: int) -> None:
    """Short output breaks when Python flushes at its end, long output while it is written."""
    code = textwrap.dedent(
        f"""
        import sys, time, typer
        from digitise import commands
        from digitise.commands import parser
        app = typer.Typer(pretty_exceptions_enable=False)
        parser.parser_for = lambda words: app
        @app.command()
        def speak() -> None:
            sys.stdin.read()
            for _ in range({lines}):
                print("a line of output")
        sys.argv = ["digitise"]
        commands.main()
        """
    )
    with subprocess.Popen(
        [sys.executable, "-c", code],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as speaker:
        assert speaker.stdin is not None
        assert speaker.stdout is not None
        assert speaker.stderr is not None
        speaker.stdout.close()
        speaker.stdin.close()
        assert speaker.stderr.read() == ""
        assert speaker.wait(60) in (1, 141)


def test_interrupt_is_quiet() -> None:
    code = """
        import os, signal, sys, typer
        from digitise import commands
        from digitise.commands import parser
        app = typer.Typer(pretty_exceptions_enable=False)
        parser.parser_for = lambda words: app
        @app.command()
        def wait() -> None:
            signal.signal(signal.SIGINT, signal.default_int_handler)  # a background job's is off
            os.kill(os.getpid(), signal.SIGINT)
            signal.pause()
        sys.argv = ["digitise"]
        commands.main()
        """
    ran = python(code)
    assert ran.returncode in (1, 130)
    assert "Traceback" not in ran.stderr


@pytest.mark.parametrize("status", [0, 3])
def test_what_is_to_be_done_at_the_end_is_done(status: int) -> None:
    """The interpreter is not taken apart, but hooks run, and what was said is said in full."""
    ran = python(
        f"""
        import atexit, typer
        from digitise import commands
        from digitise.commands import parser
        app = typer.Typer()
        parser.parser_for = lambda words: app
        @app.command()
        def speak() -> None:
            atexit.register(print, "tidied up")
            print("spoken", end=" and ")
            raise typer.Exit({status})
        import sys
        sys.argv = ["digitise"]
        commands.main()
        """
    )
    assert (ran.returncode, ran.stdout, ran.stderr) == (status, "spoken and tidied up\n", "")
