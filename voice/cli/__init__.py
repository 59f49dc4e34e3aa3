"""The command line. Each module registers its commands; heavy imports wait until a command runs."""

from __future__ import annotations

import importlib
import importlib.util
import os
import sys
from typing import Annotated

import typer

from voice import __version__, durable
from voice.cli.told import complain
from voice.errors import DataError, DeviceError, GladhandError, SetupError

MODULES = ("walk", "records", "routes", "limits", "models", "soundcheck", "learn", "logbook")

# The engines run beside each other; threads of numpy's own would take the cores from the others (a reading of 0.19 s
# took 0.26). It must be said before numpy is imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

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
    if importlib.util.find_spec(f"voice.cli.{_name}") is None:
        continue
    importlib.import_module(f"voice.cli.{_name}").register(app)


def main() -> None:
    """Runs a command; an expected failure is one sentence on stderr. Exit 0 done, 1 stopped, 2 cannot start."""
    try:
        app()
    except GladhandError as error:
        complain(error)
        sys.exit(2 if isinstance(error, SetupError | DataError | DeviceError) else 1)
    except KeyboardInterrupt:
        complain("stopped. Nothing acknowledged is lost; go on with 'gladhand resume'.")
        sys.exit(1)
    except BrokenPipeError:
        sys.exit(1)
    except OSError as error:  # a file that some command reads or writes on the way
        message, hint = durable.trouble(f"{error.filename or 'A file'} cannot be read or written", error)
        complain(f"{message} {hint}")
        sys.exit(1)


__all__ = ["app", "main"]
