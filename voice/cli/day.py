"""gladhand day: what was done today and what is due, changes of duty, the record of the day."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from voice.cli.options import LONGEST_ODOMETER, Depot, Home, Voice, complete_vehicle, name_given, odometer_given
from voice.cli.shared import logbook_of
from voice.day.rules import Status

if TYPE_CHECKING:
    from voice.day.facts import Known
    from voice.day.model import DayRecord
    from voice.day.spans import Now
    from voice.day.today import DayAsked

Driver = Annotated[
    str | None, typer.Option("--driver", help="As signed; else who inspected last.", callback=name_given)
]
Vehicle = Annotated[
    str | None,
    typer.Option("--vehicle", help="Id; else what was inspected last.", autocompletion=complete_vehicle),
]
Odometer = Annotated[
    str | None,
    typer.Option(
        "--odometer",
        help='As it reads now, e.g. "412345" (a bare number is miles) or "663000 km".',
        callback=odometer_given,
    ),
]
Meant = Annotated[bool, typer.Option("--meant", help="Take an odometer below the last known one.")]
Day = Annotated[str | None, typer.Option("--date", help="Another day, as 2026-11-27.")]
Everything = Annotated[bool, typer.Option("--all", help="All drivers and vehicles.")]

day = typer.Typer(help="The working day: what was done, what is due, its record.", rich_markup_mode=None)


def register(app: typer.Typer) -> None:
    app.add_typer(day, name="day")


@day.callback(invoke_without_command=True)
def show(
    context: typer.Context,
    driver: Driver = None,
    vehicle: Vehicle = None,
    odometer: Odometer = None,
    meant: Meant = False,
    of_day: Day = None,
    everything: Everything = False,
    depot: Depot = False,
    watch: Annotated[bool, typer.Option("--watch", help="Keep running, and say aloud what comes due.")] = False,
    output: Annotated[str | None, typer.Option("--output", help="Loudspeaker, by a part of its name.")] = None,
    voice: Voice = "auto",
    home: Home = None,
) -> None:
    """Show what was inspected and found today, whether the cargo was looked at in time, and what is due next."""
    if context.invoked_subcommand is not None:
        return
    from voice.data import folders
    from voice.day.today import DayAsked, look

    folder = folders.home(home)
    wanted = DayAsked(driver, vehicle, _date(of_day), everything, _drivers(folder))
    now = _now(odometer)
    today = look(folder, wanted, now, _known(folder, wanted, now, depot), lower=meant)
    _print(today.record)
    for sentence in today.due:
        typer.echo(sentence)
    if watch:
        _watch(folder, wanted, voice, output)


@day.command()
def duty(
    status: Annotated[Status, typer.Argument(help="The driver's duty status from now on (49 CFR 395.8).")],
    driver: Driver = None,
    odometer: Odometer = None,
    meant: Meant = False,
    home: Home = None,
) -> None:
    """Note a change of duty status: the cargo is looked at again at each one. It takes the place of no log."""
    from voice.data import folders
    from voice.day.rules import day_rules
    from voice.day.today import DayAsked, change_duty
    from voice.errors import shown

    folder = folders.home(home)
    wanted = DayAsked(driver, drivers=_drivers(folder))
    noted = change_duty(folder, wanted, status, _now(odometer), meant=meant)
    typer.echo(shown(f"{noted.at:%H:%M} {noted.driver}: {day_rules().duty[noted.status]}"))


@day.command()
def export(
    driver: Driver = None,
    vehicle: Vehicle = None,
    of_day: Day = None,
    everything: Everything = False,
    depot: Depot = False,
    out: Annotated[Path, typer.Option("--out", "-o", help="Folder to write to; made if it is not there.")] = Path(),
    paper: Annotated[
        Literal["auto", "a4", "letter"], typer.Option("--paper", help="Sheet of the report; auto: the printer's.")
    ] = "auto",
    schema: Annotated[bool, typer.Option("--schema", help="Print the JSON Schema of it and stop.")] = False,
    home: Home = None,
) -> None:
    """Write the record of a day, signed by this device, and its report of two pages (PDF where that is installed)."""
    from voice.data import folders
    from voice.day.files import dump_day
    from voice.day.report import render_day
    from voice.day.rules import day_rules
    from voice.day.schema import schema_text
    from voice.day.today import DayAsked, signed_day
    from voice.record.seal import replace_file

    if schema:
        typer.echo(schema_text(), nl=False)
        return
    folder, now = folders.home(home), _now(None)
    wanted = DayAsked(driver, vehicle, _date(of_day), everything, _drivers(folder))
    record = signed_day(folder, wanted, now, _known(folder, wanted, now, depot))
    html = render_day(record, day_rules(), paper=paper)
    files = {f"{record.id}.json": dump_day(record).encode(), f"{record.id}.html": html.encode()}
    if (pdf := _pdf(html)) is not None:
        files[f"{record.id}.pdf"] = pdf
    out.mkdir(parents=True, exist_ok=True)
    for name, data in files.items():
        replace_file(out / name, data, mode=0o644)  # made to be handed on
        typer.echo(out / name)


def _drivers(home: Path) -> tuple[str, ...]:
    """Raises DataError."""
    from voice.session.resources import known_drivers

    return known_drivers(home)


def _known(home: Path, wanted: DayAsked, now: Now, depot: bool) -> Known | None:
    """What the depot knows of the day, if that is asked for. Raises SetupError."""
    if not depot:
        return None
    with logbook_of(home, depot=True) as engine:
        from voice.day.depot import known_of
        from voice.logbook.database import reading

        with reading(engine) as session:
            return known_of(session, wanted.day or now.at.date())


def _pdf(html: str) -> bytes | None:
    """The report as PDF; None where the extra is not installed."""
    from importlib.util import find_spec

    if find_spec("weasyprint") is None:
        return None
    from voice.errors import SetupError, tell
    from voice.logbook.pdf import to_pdf

    try:
        return to_pdf(html)
    except SetupError as error:
        tell(error)
        return None


def _now(odometer: str | None) -> Now:
    """Raises SetupError."""
    from voice.day.spans import Now
    from voice.errors import SetupError
    from voice.record.entry import odometer_record
    from voice.record.past import miles_of

    at = datetime.now().astimezone()
    if odometer is None:
        return Now(at)
    read = odometer_record(odometer) if len(odometer) <= LONGEST_ODOMETER else None
    if read is None:
        raise SetupError(f'"{odometer}" is no odometer reading.', 'Give a number, as "412345" or "663000 km".')
    return Now(at, miles_of(read))


def _date(text: str | None) -> date | None:
    """Raises SetupError."""
    from voice.errors import SetupError

    try:
        return None if text is None else date.fromisoformat(text)
    except ValueError:
        raise SetupError(f"'{text}' is no date.", "Give it as 2026-11-27.") from None


def _print(record: DayRecord) -> None:
    from voice.day.report import DayPage
    from voice.day.rules import day_rules
    from voice.errors import shown
    from voice.record.wording import words

    text = words("day")
    page = DayPage(record, text, day_rules())
    typer.echo(shown(f"{page.date}  {', '.join(record.drivers)}".rstrip()))
    for each in record.inspections:
        mile = page.mile(each.miles)
        times = f"{each.started:%H:%M}-{each.ended:%H:%M}"
        parts = [times, each.title, each.vehicle, page.signed(each), mile, page.found(each), page.left_out(each)]
        typer.echo(shown("  " + "  ".join(part for part in parts if part)))
        for thing in each.against:
            typer.echo(shown(f"    {page.level(thing.level)}: {thing.title}"))
    if not record.inspections:
        typer.echo(text["inspections"]["none"])
    for duty in record.duties:
        typer.echo(shown(f"  {page.duty(duty)}"))
    for check in record.checks:
        typer.echo(shown(f"  {page.check(check)}"))
    for defect in record.defects:
        certified = page.certified(defect.certification)
        typer.echo(shown(f"  {defect.title}, {page.unit(defect.unit)}: {certified}"))
    for said in record.carried:
        answer = text["carried"]["answers"][said.answer]
        typer.echo(shown(f"  {said.title}, {page.unit(said.unit)}: {answer}, {said.driver}"))


def _watch(home: Path, wanted: DayAsked, voice: str, output: str | None) -> None:
    import time

    from voice.day.rules import day_rules
    from voice.day.today import spans_now
    from voice.day.watch import watch
    from voice.speak.choose import open_speaker

    speaker = open_speaker(voice, device=output)

    def clock() -> datetime:
        return datetime.now().astimezone()

    def say(sentence: str) -> None:
        typer.echo(f"{clock():%H:%M} {sentence}")
        speaker.say(sentence)

    try:
        watch(lambda: spans_now(home, wanted, clock().date()), clock, time.sleep, say, day_rules())
    except KeyboardInterrupt:
        typer.echo("stopped.")  # it has no other end
    finally:
        speaker.close()
