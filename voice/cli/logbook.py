"""gladhand history, sync, prune, reports: every vehicle's past, on this device and at the depot."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Literal

import typer

from voice.cli.options import Depot, Home, Vehicles, complete_vehicle
from voice.cli.shared import depot_of, logbook_of


def register(app: typer.Typer) -> None:
    app.command()(history)
    app.command()(sync)
    app.command()(prune)
    app.command()(reports)


def history(
    vehicle: Annotated[str, typer.Argument(help="Vehicle id.", autocompletion=complete_vehicle)],
    html: Annotated[Path | None, typer.Option("--html", help="Write the page with plots to this file.")] = None,
    last: Annotated[int, typer.Option("--last", min=1, help="How many inspections to list.")] = 15,
    depot: Depot = False,
    home: Home = None,
) -> None:
    """Show a vehicle's inspections, the life of its defects, and its readings against their limits.

    A tractor and a trailer are vehicles of their own. For the id of an older profile of both, both are shown.
    """
    from voice.data import folders
    from voice.errors import SetupError
    from voice.judge.load import limits_of

    folder = folders.home(home)
    with logbook_of(folder, depot) as engine:
        from voice.logbook.database import reading
        from voice.logbook.history import as_tables, gather, vehicle_ids
        from voice.logbook.lookup import units_named

        with reading(engine) as session:
            now = datetime.now(UTC)
            limits = limits_of(folder, now.astimezone().date())
            units = units_named(session, [vehicle])
            if html is not None and len(units) > 1:
                raise SetupError(f"{vehicle} is {len(units)} units.", f"Give one of them: {', '.join(units)}.")
            if (unit := next(iter(units))) not in vehicle_ids(session) and _has_profile(folder, unit):
                raise SetupError(f"'{unit}' has no inspection yet.", "Its history begins with the first one.")
            histories = [gather(session, unit, limits, now) for unit in units]
    if html is not None:
        (found,) = histories
        from voice.logbook.page import render_history
        from voice.record.seal import replace_file

        replace_file(html, render_history(found, datetime.now(UTC)).encode(), mode=0o644)
        typer.echo(html)
        return
    from rich.console import Console

    console = Console()
    for history_of_unit in histories:
        for table in as_tables(history_of_unit, last=last):
            console.print(table)


def _has_profile(home: Path, vehicle: str) -> bool:
    from voice.route.vehicles import read_profiles, vehicle_files

    return any(known.id == vehicle for known in read_profiles(vehicle_files(home)).vehicles.values())


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
    depot = depot_of(folder)
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
        f"{report.open_defects} open defects on {len(report.vehicles)} vehicles known to it"
    )
    if report.waiting:
        typer.echo("What was just handed in is not among them until the depot has looked at it.")
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
    with logbook_of(folder, depot) as engine:
        from voice.logbook.database import depot_url
        from voice.logbook.history import date
        from voice.logbook.prune import cut_off
        from voice.logbook.prune import prune as run
        from voice.logbook.wording import words

        before = cut_off(older_than, datetime.now(UTC))
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
    from voice.errors import SetupError

    first, end = _day(since), _day(until)
    if first is not None and end is not None and end <= first:
        raise SetupError(f"No day lies from {since} up to {until}.", "--until is the day after the last.")
    with logbook_of(folders.home(home), depot) as engine:
        from voice.logbook.database import reading
        from voice.logbook.pdf import Layout, Selection, write_reports

        with reading(engine) as session:
            count = 0
            wanted = Selection(vehicle or (), record or (), first, end)
            for file in write_reports(session, out, wanted, Layout(format, length, paper)):
                typer.echo(file)
                count += 1
    if not count:
        typer.echo("No report fits.", err=True)
        raise typer.Exit(1)


def _day(text: str | None) -> datetime | None:
    from voice.errors import SetupError

    if text is None:
        return None
    try:
        return datetime.fromisoformat(text).astimezone()
    except ValueError as error:
        raise SetupError(f"'{text}' is not a date.", "Write it like 2026-03-31.") from error
