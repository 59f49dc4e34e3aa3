"""gladhand logbook ...: set it up, import, look into it, hand out rights, export."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Literal

import typer

from voice.cli.options import Depot, Home, Vehicles, complete_vehicle
from voice.cli.shared import depot_of, logbook_of, need_extra, warn

logbook = typer.Typer(
    help="The logbook: set up, import, look into, hand out rights, export.", no_args_is_help=True, rich_markup_mode=None
)


def register(app: typer.Typer) -> None:
    app.add_typer(logbook, name="logbook")


@logbook.command("init")
def init(depot: Depot = False, home: Home = None) -> None:
    """Make the logbook's tables, or bring them up to date. Safe to repeat."""
    from voice.data import folders

    need_extra()
    from voice.logbook.database import initialize, local_url, open_engine, shown
    from voice.logbook.roles import close

    folder = folders.home(home)
    engine = depot_of(folder) if depot else open_engine(local_url(folder))
    name = initialize(engine)
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
    with logbook_of(folder, depot, fill=False) as engine:
        from voice.logbook.access import counts, tell_refused
        from voice.logbook.importer import import_files, import_repairs_file, record_files, session_records

        files = record_files(paths) if paths else session_records(folder)
        outcomes = list(import_files(engine, files, folder))
        if not paths:
            outcomes += import_repairs_file(engine, folder)
    tell_refused(outcomes, warn)
    typer.echo("\n".join(counts(outcomes)))
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
    engine = depot_of(folder)
    from voice.logbook.access import counts, take_in

    if again:
        from voice.logbook.depot import look_again

        look_again(engine)
    while True:
        outcomes = take_in(engine, folder, warn)
        if outcomes or watch is None:
            typer.echo("\n".join(counts(outcomes)))
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

    with logbook_of(folders.home(home), depot) as engine:
        from voice.logbook.database import reading
        from voice.logbook.history import date, state_words
        from voice.logbook.lookup import open_lives, units_named
        from voice.logbook.sync import open_defects, refuse_unknown
        from voice.logbook.wording import level_words

        with reading(engine) as session:
            refuse_unknown(session, vehicle)
            units = units_named(session, [vehicle])
            ask = open_lives if depot else open_defects
            lives = [(unit, life) for unit in units for life in ask(session, unit)]
    for unit, life in lives:
        if len(units) > 1:
            typer.echo(f"{unit}: ", nl=False)
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

    need_extra()
    from voice.logbook.roles import grant as run
    from voice.logbook.roles import quoted
    from voice.logbook.roles import script as text

    quoted(device)
    if script:
        typer.echo(text(device, vehicle or ()), nl=False)
        return
    engine = depot_of(folders.home(home))
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

    engine = depot_of(folders.home(home))
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

    need_extra()
    if schema:
        import json

        from voice.logbook.exports import export_schema

        typer.echo(json.dumps(export_schema(), indent=1))
        return
    with logbook_of(folders.home(home), depot) as engine:
        from voice.logbook.database import reading
        from voice.logbook.exports import export as run

        with reading(engine) as session:
            files = run(session, out, format, datetime.now(UTC), vehicle or ())
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
    from voice.judge.load import limits_of

    folder = folders.home(home)
    with logbook_of(folder, depot) as engine:
        from voice.logbook.database import reading
        from voice.logbook.history import gather, vehicle_ids
        from voice.logbook.ical import calendar as run
        from voice.logbook.lookup import units_named
        from voice.record.seal import replace_file

        now = datetime.now(UTC)
        limits = limits_of(folder, now.astimezone().date())
        with reading(engine) as session:
            names = units_named(session, vehicle) if vehicle else vehicle_ids(session)
            text = run((gather(session, name, limits, now) for name in names), now, events=events)
    replace_file(out, text, mode=0o644)
    typer.echo(out)
