"""The command line: parses options, calls a room, prints. It holds no logic of its own.

In: arguments.
Out: printed lines and an exit code: 0 done, 1 stopped or a fault was found, 2 cannot start.
May use: everything.
"""

from __future__ import annotations

import atexit
import contextlib
import importlib
import io
import os
import sys
from collections.abc import Sequence
from typing import Annotated, Any

import typer

from voice import __version__
from voice.data import durable
from voice.errors import OBEYED, DataError, DeviceError, GladhandError, SetupError, tell

MODULES = (
    "walk",
    "records",
    "repairs",
    "routes",
    "limits",
    "cargo",
    "day",
    "models",
    "soundcheck",
    "attune",
    "learn",
    "logbook",
    "depot",
    "desk",
)

# The engines run beside each other; threads of numpy's own would take the cores from the others (a reading of 0.19 s
# took 0.26). It must be said before numpy is imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

_UsageError: type[Exception] = next(each for each in typer.BadParameter.__mro__ if each.__name__ == "UsageError")
LONGEST_ARGUMENT = 4096  # characters: a path of Linux (PATH_MAX, linux/limits.h); no name is as long
_INTERRUPTED = 130  # what typer makes of Ctrl-C

app = typer.Typer(
    name="gladhand",
    help="Hands-free pre-trip vehicle inspection by voice, without a network. Reports findings against published "
    "limits; a qualified person decides about the vehicle.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"gladhand {__version__}")
        raise typer.Exit


@app.callback()
def _main(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version and stop.")
    ] = False,
) -> None:
    """Options that come before a command."""


for _name in MODULES:
    importlib.import_module(f"voice.cli.{_name}").register(app)


def main() -> None:
    """Runs a command; an expected failure is one sentence on stderr. Exit 0 done, 1 stopped, 2 cannot start."""
    atexit.register(_quiet)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")  # a terminal that is not UTF-8 gets escapes
    try:
        _check_arguments(sys.argv[1:])
        code = app(prog_name="gladhand", standalone_mode=False)
        if code == _INTERRUPTED:
            raise KeyboardInterrupt
        if isinstance(code, int) and code:
            sys.exit(code)
    except _UsageError as error:
        sys.exit(_usage(error))
    except GladhandError as error:
        tell(error)
        sys.exit(2 if isinstance(error, SetupError | DataError | DeviceError) else 1)
    except (KeyboardInterrupt, typer.Abort):
        tell("stopped.")
        sys.exit(1)
    except BrokenPipeError:
        # Whoever read it has gone. What is still in the buffer must not be tried again at the end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)
    except OSError as error:
        # An output that cannot be written, an input that cannot be read: whichever command it is.
        message, hint = durable.trouble(f"{error.filename or 'A file'} cannot be used", error)
        tell(f"{message} {hint}")
        sys.exit(2)


def _quiet() -> None:
    """What libraries print while Python is taken down (of nanobind: what a thread still held) tells the user nothing.
    Registered first, it is called last, when all has been said."""
    with contextlib.suppress(OSError, ValueError):
        sys.stderr.flush()
        os.dup2(os.open(os.devnull, os.O_WRONLY), 2)


def _usage(error: Any) -> int:
    """Says what is wrong with the options in one sentence, or shows the help where nothing was asked. Exit code."""
    if type(error).__name__ == "NoArgsIsHelpError":
        error.show()
        return 2
    message = " ".join(error.format_message().replace("Value error, ", "").split())
    path = error.ctx.command_path if error.ctx is not None else "gladhand"
    end = "" if message.endswith(("?", ".")) else "."
    tell(f"{message}{end} '{path} --help' says what it takes.")
    return 2


def _check_arguments(arguments: Sequence[str]) -> None:
    """No argument may hold what a terminal would obey, nor be longer than a path can be; so whatever repeats one is
    harmless. Raises SetupError."""
    for argument in arguments:
        if len(argument) > LONGEST_ARGUMENT:
            raise SetupError(
                f"An argument has {len(argument):,} characters; no name and no path has more than "
                f"{LONGEST_ARGUMENT:,}: {argument:.40}...",
                "Give the name or the path alone.",
            )
        if OBEYED.search(argument):
            raise SetupError(f"An argument has a character that cannot be shown: {argument:.80}", "Leave it out.")


__all__ = ["app", "main"]
