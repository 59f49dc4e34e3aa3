"""gladhand history, sync, prune, reports, logbook: every vehicle's past, on this device and at the depot."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from voice.cli.options import Home, complete_vehicle

if TYPE_CHECKING:
    from datetime import datetime

    from sqlalchemy import Engine

    from voice.judge.limit import LimitSet
    from voice.logbook.store import Outcome

Depot = Annotated[
    bool,
    typer.Option(
        "--depot",
        help="The depot's logbook ($GLADHAND_LOGBOOK_URL, or depot.url in your folder with mode 0600) instead of "
        "this device's.",
    ),
]
Vehicles = Annotated[
    list[str] | None,
    typer.Option("--vehicle", "-v", help="Vehicle id; may be given several times.", autocompletion=complete_vehicle),
]

logbook = typer.Typer(
    help="The logbook: set up, import, look into, hand out rights, export.", no_args_is_help=True, rich_markup_mode=None
)


def register(app: typer.Typer) -> None:
    app.command()(history)
    app.command()(sync)
    app.command()(prune)
    app.command()(reports)
    app.add_typer(logbook, name="logbook")


# --- shared -----------------------------------------------------------------------------------------------------------


def _need_extra() -> None:
    from importlib.util import find_spec

    from voice.errors import SetupError

    if find_spec("sqlalchemy") is None or find_spec("alembic") is None:
        raise SetupError("The logbook's libraries are not installed.", "pip install 'gladhand[logbook]'")


@contextmanager
def _open(home: Path, depot: bool, *, fill: bool = True) -> Iterator[Engine]:
    """The logbook asked for.

    fill: this device's gets its own new walks first, the depot's what is in its inbox.
    """
    _need_extra()
    from voice.errors import SetupError
    from voice.logbook.database import is_current, open_local, shown
    from voice.logbook.importer import import_home

    if not depot:
        engine = open_local(home)
        if fill:
            _tell_refused(import_home(engine, home))
    else:
        engine = _depot(home)
        if not is_current(engine):
            raise SetupError(
                f"The depot's logbook {shown(engine.url)} is not of this program's version.",
                "Run 'gladhand logbook init' with the owner's rights.",
            )
        if fill:
            try:
                _absorb(engine, home)
            except SetupError as error:  # what is there can be looked at all the same
                typer.echo(f"not taken in: {error}", err=True)
    try:
        yield engine
    finally:
        engine.dispose()


def _depot(home: Path) -> Engine:
    _need_extra()
    from voice.errors import SetupError
    from voice.logbook.database import ENVIRONMENT, depot_url, open_engine

    url = depot_url(home)
    if url is None:
        raise SetupError(
            "No depot is set up on this device.",
            f"Set {ENVIRONMENT}, or put the URL into {home / 'depot.url'} and chmod 600 it.",
        )
    return open_engine(url)


def _absorb(engine: Engine, home: Path) -> list[Outcome]:
    from voice.logbook.closing import end_overlong
    from voice.logbook.depot import absorb, depot_keys

    end_overlong(engine)
    outcomes = absorb(engine, depot_keys(home))
    _tell_refused(outcomes)
    return outcomes


def _tell_refused(outcomes: list[Outcome]) -> None:
    for outcome in outcomes:
        if outcome.verdict == "set-aside":
            typer.echo(f"set aside: {outcome.what}: {outcome.reason}", err=True)


def _tell_counts(outcomes: list[Outcome]) -> None:
    for kind in ("inspection", "certification"):
        of_kind = [outcome.verdict for outcome in outcomes if outcome.kind == kind]
        if of_kind or kind == "inspection":
            counts = [of_kind.count(verdict) for verdict in ("imported", "known", "set-aside")]
            typer.echo(f"{kind}s: {counts[0]} imported, {counts[1]} known already, {counts[2]} set aside")


def _limits(home: Path) -> LimitSet:
    from voice.judge.load import limit_files, load_limits

    return load_limits(limit_files(home))


def _now() -> datetime:
    from datetime import UTC, datetime

    return datetime.now(UTC)


def _day(text: str | None) -> datetime | None:
    from datetime import datetime

    from voice.errors import SetupError

    if text is None:
        return None
    try:
        return datetime.fromisoformat(text).astimezone()
    except ValueError as error:
        raise SetupError(f"'{text}' is not a date.", "Write it like 2026-03-31.") from error


# --- commands ---------------------------------------------------------------------------------------------------------


def history(
    vehicle: Annotated[str, typer.Argument(help="Vehicle id.", autocompletion=complete_vehicle)],
    html: Annotated[Path | None, typer.Option("--html", help="Write the page with plots to this file.")] = None,
    last: Annotated[int, typer.Option("--last", min=1, help="How many inspections to list.")] = 15,
    depot: Depot = False,
    home: Home = None,
) -> None:
    """Show a vehicle's inspections, the life of its defects, and its readings against their limits."""
    from voice.data import folders

    folder = folders.home(home)
    with _open(folder, depot) as engine:
        from voice.logbook.database import reading
        from voice.logbook.history import as_tables, gather

        with reading(engine) as session:
            found = gather(session, vehicle, _limits(folder), _now())
    if html is not None:
        from voice.logbook.page import render_history
        from voice.record.seal import replace_file

        replace_file(html, render_history(found, _now()).encode(), mode=0o644)
        typer.echo(html)
        return
    from rich.console import Console

    console = Console()
    for table in as_tables(found, last=last):
        console.print(table)


def sync(
    everything: Annotated[
        bool, typer.Option("--all", help="Hand in also what was handed in before (the depot's disk was lost).")
    ] = False,
    home: Home = None,
) -> None:
    """Hand in finished inspections to the depot and fetch the open defects of this device's vehicles.

    May be stopped and started at any time: nothing is lost, and nothing counts twice.
    """
    from voice.data import folders

    folder = folders.home(home)
    depot = _depot(folder)
    from voice.logbook.database import open_local
    from voice.logbook.sync import sync as run

    local = open_local(folder)
    try:
        report = run(folder, local, depot, everything=everything, told=lambda line: typer.echo(line))
    finally:
        local.dispose()
        depot.dispose()
    for what, reason in report.refused:
        typer.echo(f"set aside: {what}: {reason}", err=True)
    typer.echo(
        f"{report.sent} handed in, {report.known} were there, {report.waiting} not yet looked at by the depot; "
        f"{report.open_defects} open defects on {len(report.vehicles)} vehicles"
    )
    if report.unsigned:
        typer.echo(f"{report.unsigned} not signed off yet, left here")
    if report.refused:
        raise typer.Exit(1)


def prune(
    older_than: Annotated[str, typer.Option("--older-than", help='Like "3 months" or "400 days".')],
    yes: Annotated[bool, typer.Option("--yes", help="Do it. Without this it only says what it would do.")] = False,
    depot: Depot = False,
    home: Home = None,
) -> None:
    """Remove old inspections' text, names and session folders; never one with a defect that is still open."""
    from voice.data import folders

    folder = folders.home(home)
    with _open(folder, depot) as engine:
        from voice.logbook.database import depot_url
        from voice.logbook.history import date
        from voice.logbook.prune import cut_off
        from voice.logbook.prune import prune as run
        from voice.logbook.wording import words

        before = cut_off(older_than, _now())
        linked = not depot and depot_url(folder) is not None
        done = run(engine, before, home=None if depot else folder, depot_known=linked, do=yes)
    text = words().prune
    lines = [
        text.title.format(date=date(before)),
        (text.did if yes else text.would).format(count=len(set(done.remove) | {path.name for path in done.folders})),
    ]
    for template, kept in (
        (text.keep_open, done.keep_open),
        (text.keep_unsent, done.keep_unsent),
        (text.keep_unknown, done.keep_unknown),
    ):
        if kept:
            lines.append(template.format(count=len(kept)))
    lines += [text.stays] if yes else [text.stays, text.dry]
    typer.echo("\n".join(lines))


def reports(
    out: Annotated[Path, typer.Option("--out", "-o", help="Folder to write to; made if it is not there.")],
    vehicle: Vehicles = None,
    record: Annotated[list[str] | None, typer.Option("--record", "-r", help="Inspection id; may be repeated.")] = None,
    since: Annotated[str | None, typer.Option("--since", help="First day, like 2026-03-01.")] = None,
    until: Annotated[str | None, typer.Option("--until", help="Day after the last.")] = None,
    format: Annotated[Literal["pdf", "html"], typer.Option("--format", "-f", help="What to write.")] = "pdf",
    length: Annotated[
        Literal["sheet", "whole"],
        typer.Option("--length", help="PDF: only the sheet that is signed, or with every item and measurement."),
    ] = "sheet",
    paper: Annotated[Literal["letter", "a4"], typer.Option("--paper", help="Sheet.")] = "letter",
    depot: Depot = False,
    home: Home = None,
) -> None:
    """Write the reports of many inspections at once, as PDF to print or keep."""
    from voice.data import folders

    with _open(folders.home(home), depot) as engine:
        from voice.logbook.database import reading
        from voice.logbook.pdf import write_reports

        with reading(engine) as session:
            count = 0
            for file in write_reports(
                session, out, vehicles=vehicle or (), records=record or (), since=_day(since), until=_day(until),
                format=format, length=length, paper=paper,
            ):  # fmt: skip
                typer.echo(file)
                count += 1
    if not count:
        typer.echo("No report fits.", err=True)
        raise typer.Exit(1)


@logbook.command("init")
def init(depot: Depot = False, home: Home = None) -> None:
    """Make the logbook's tables, or bring them up to date. Safe to repeat."""
    from voice.data import folders

    _need_extra()
    from voice.logbook.database import initialise, local_url, open_engine, shown
    from voice.logbook.roles import close

    folder = folders.home(home)
    engine = _depot(folder) if depot else open_engine(local_url(folder))
    name = initialise(engine)
    close(engine)
    typer.echo(f"logbook {name} in {shown(engine.url)} is ready")
    engine.dispose()


logbook.command("upgrade", help="The same as init.")(init)


@logbook.command("import")
def import_(
    paths: Annotated[list[Path] | None, typer.Argument(help="Record files, or folders of them.")] = None,
    depot: Depot = False,
    home: Home = None,
) -> None:
    """Import inspection records; without files, this folder's own. What is refused is set aside with the reason."""
    from voice.data import folders

    folder = folders.home(home)
    with _open(folder, depot, fill=False) as engine:
        from voice.logbook.importer import import_files, import_repairs_file, record_files, session_records

        files = record_files(paths) if paths else session_records(folder)
        outcomes = list(import_files(engine, files, folder))
        if not paths:
            outcomes += import_repairs_file(engine, folder)
    _tell_refused(outcomes)
    _tell_counts(outcomes)
    if any(outcome.verdict == "set-aside" for outcome in outcomes):
        raise typer.Exit(1)


@logbook.command("absorb")
def absorb_(
    watch: Annotated[
        float | None, typer.Option("--watch", min=1, help="Go on, looking again every so many seconds.")
    ] = None,
    again: Annotated[
        bool, typer.Option("--again", help="First let what was set aside wait once more, as after trusting a device.")
    ] = False,
    home: Home = None,
) -> None:
    """At the depot: take what devices handed in into the logbook. Other commands with --depot do so first.

    Only what is signed by a device whose device.pub lies in trusted/ of this folder is taken in.
    """
    import time

    from voice.data import folders

    folder = folders.home(home)
    engine = _depot(folder)
    if again:
        from voice.logbook.depot import look_again

        look_again(engine)
    while True:
        outcomes = _absorb(engine, folder)
        if outcomes or watch is None:
            _tell_counts(outcomes)
        if watch is None:
            break
        time.sleep(watch)
    engine.dispose()


@logbook.command("open")
def open_(
    vehicle: Annotated[str, typer.Argument(help="Vehicle id.", autocompletion=complete_vehicle)],
    depot: Depot = False,
    home: Home = None,
) -> None:
    """List the open defects of a vehicle: of this device and the last sync, or of the depot itself."""
    from voice.data import folders

    with _open(folders.home(home), depot) as engine:
        from voice.logbook.database import reading
        from voice.logbook.history import date, level_words, state_words
        from voice.logbook.lookup import open_lives
        from voice.logbook.sync import open_defects, refuse_unknown

        with reading(engine) as session:
            refuse_unknown(session, vehicle)
            lives = open_lives(session, vehicle) if depot else open_defects(session, vehicle)
    for life in lives:
        typer.echo(
            f"{life.defect}  {level_words(life.level)}  {date(life.opened)}  {life.title}  ({state_words(life)})"
        )
    if not lives:
        from voice.logbook.wording import words

        typer.echo(f"{words().table.open}: {words().table.none}")


@logbook.command("grant")
def grant(
    device: Annotated[str, typer.Argument(help="The device's name; becomes its database role.")],
    vehicle: Vehicles = None,
    credentials: Annotated[
        Path | None,
        typer.Option("--credentials", help="New file for the device's URL with a fresh password (mode 0600)."),
    ] = None,
    script: Annotated[bool, typer.Option("--script", help="Only print the SQL, for an administrator to run.")] = False,
    home: Home = None,
) -> None:
    """At the depot: let a device hand in its records and read its vehicles' open defects, and nothing else."""
    from voice.data import folders

    _need_extra()
    from voice.logbook.roles import grant as run
    from voice.logbook.roles import quoted
    from voice.logbook.roles import script as text

    quoted(device)
    if script:
        typer.echo(text(device, vehicle or ()), nl=False)
        return
    engine = _depot(folders.home(home))
    still_open = run(engine, device, vehicle or (), credentials)
    engine.dispose()
    for sentence in still_open:
        typer.echo(f"open: {sentence}", err=True)
    typer.echo(f"{device} may hand in, and read the open defects of {len(set(vehicle or ()))} vehicles")
    if credentials is not None:
        typer.echo(f"{credentials} goes to the device as its depot.url")


@logbook.command("revoke")
def revoke(device: Annotated[str, typer.Argument(help="The device's name.")], home: Home = None) -> None:
    """At the depot: a device may no longer connect. What it handed in stays."""
    from voice.data import folders

    engine = _depot(folders.home(home))
    from voice.logbook.roles import revoke as run

    run(engine, device)
    engine.dispose()
    typer.echo(f"{device} may no longer connect")


@logbook.command("export")
def export(
    out: Annotated[Path, typer.Option("--out", "-o", help="Folder to write to; made if it is not there.")] = Path(),
    format: Annotated[
        Literal["json", "csv", "parquet"], typer.Option("--format", "-f", help="What to write.")
    ] = "json",
    vehicle: Vehicles = None,
    schema: Annotated[bool, typer.Option("--schema", help="Print the JSON Schema of the JSON file and stop.")] = False,
    depot: Depot = False,
    home: Home = None,
) -> None:
    """Write the logbook for other programs: JSON with a schema, CSV, or Parquet."""
    from voice.data import folders

    _need_extra()
    if schema:
        import json

        from voice.logbook.exports import export_schema

        typer.echo(json.dumps(export_schema(), indent=1))
        return
    with _open(folders.home(home), depot) as engine:
        from voice.logbook.database import reading
        from voice.logbook.exports import export as run

        with reading(engine) as session:
            files = run(session, out, format, _now(), vehicle or ())
    for file in files:
        typer.echo(file)


@logbook.command("calendar")
def calendar(
    out: Annotated[Path, typer.Option("--out", "-o", help="File to write, like repairs.ics.")],
    vehicle: Vehicles = None,
    events: Annotated[bool, typer.Option("--events", help="All-day events instead of to-dos.")] = False,
    depot: Depot = False,
    home: Home = None,
) -> None:
    """Write an iCalendar file of repairs due: open defects, and limits soon reached."""
    from voice.data import folders

    folder = folders.home(home)
    with _open(folder, depot) as engine:
        from sqlalchemy import select

        from voice.logbook.database import reading
        from voice.logbook.history import gather
        from voice.logbook.ical import calendar as run
        from voice.logbook.schema import VehicleRow
        from voice.record.seal import replace_file

        limits = _limits(folder)
        with reading(engine) as session:
            names = vehicle or session.scalars(select(VehicleRow.id).order_by(VehicleRow.id)).all()
            now = _now()
            text = run((gather(session, name, limits, now) for name in names), now, events=events)
    replace_file(out, text, mode=0o644)
    typer.echo(out)
