"""Opens the logbook that a command asks for: this device's or the depot's, with what is new taken in first."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Engine

from voice.errors import SetupError
from voice.logbook.closing import end_overlong
from voice.logbook.database import ENVIRONMENT, depot_url, is_current, open_engine, open_local, shown
from voice.logbook.depot import absorb, depot_keys
from voice.logbook.importer import import_home
from voice.logbook.store import Outcome

Warn = Callable[[str], None]


@contextmanager
def opened(home: Path, warn: Warn, *, depot: bool, fill: bool = True) -> Iterator[Engine]:
    """The logbook asked for, until the end of the block. Raises SetupError.

    warn: is told what was not taken in.
    depot: the depot's instead of this device's.
    fill: this device's gets its own new walks first, the depot's what is in its inbox.
    """
    engine = open_depot(home) if depot else open_local(home)
    try:
        if depot and not is_current(engine):
            raise SetupError(
                f"The depot's logbook {shown(engine.url)} is not of this program's version.",
                "Run 'gladhand logbook init' with the owner's rights.",
            )
        if fill and depot:
            try:
                take_in(engine, home, warn)
            except SetupError as error:  # what is there can be looked at all the same
                warn(f"not taken in: {error}")
        elif fill:
            tell_refused(import_home(engine, home), warn)
        yield engine
    finally:
        engine.dispose()


def open_depot(home: Path) -> Engine:
    """The depot's database. Raises SetupError if none is set up."""
    url = depot_url(home)
    if url is None:
        raise SetupError(
            "No depot is set up on this device.",
            f"Set {ENVIRONMENT}, or put the URL into {home / 'depot.url'} and chmod 600 it.",
        )
    return open_engine(url)


def take_in(engine: Engine, home: Path, warn: Warn) -> list[Outcome]:
    """At the depot: everything that waits in the inbox. Raises SetupError."""
    end_overlong(engine)
    outcomes = absorb(engine, depot_keys(home))
    tell_refused(outcomes, warn)
    return outcomes


def tell_refused(outcomes: Sequence[Outcome], warn: Warn) -> None:
    """A line for each thing that was set aside."""
    for outcome in outcomes:
        if outcome.verdict == "set-aside":
            warn(f"set aside: {outcome.what}: {outcome.reason}")


def counts(outcomes: Sequence[Outcome]) -> list[str]:
    """How many of each kind were taken in, a line for each."""
    lines = []
    for kind in ("inspection", "certification"):
        of_kind = [outcome.verdict for outcome in outcomes if outcome.kind == kind]
        if of_kind or kind == "inspection":
            imported, known, aside = (of_kind.count(verdict) for verdict in ("imported", "known", "set-aside"))
            lines.append(f"{kind}s: {imported} imported, {known} known already, {aside} set aside")
    return lines
