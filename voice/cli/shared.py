"""What the logbook's commands share: the logbook asked for, opened and filled, and the libraries it needs."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from sqlalchemy import Engine


def need_extra() -> None:
    """Raises SetupError if the logbook's libraries are missing."""
    from importlib.util import find_spec

    from voice.errors import SetupError

    if find_spec("sqlalchemy") is None or find_spec("alembic") is None:
        raise SetupError("The logbook's libraries are not installed.", "pip install 'gladhand[logbook]'")


@contextmanager
def logbook_of(home: Path, depot: bool, *, fill: bool = True) -> Iterator[Engine]:
    """The logbook asked for; what was not taken in is told."""
    need_extra()
    from voice.logbook.access import opened

    with opened(home, warn, depot=depot, fill=fill) as engine:
        yield engine


def depot_of(home: Path) -> Engine:
    need_extra()
    from voice.logbook.access import open_depot

    return open_depot(home)


def warn(line: str) -> None:
    typer.echo(line, err=True)
