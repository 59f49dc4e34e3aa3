"""gladhand recite, rehearse, progress, students: the school's side."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from voice.cli.options import Home, Voice, complete_vehicle, name_given

if TYPE_CHECKING:
    from voice.rehearse.lesson.course import Course
    from voice.rehearse.lesson.recital import RecitalOptions
    from voice.rehearse.lesson.rehearsal import Rehearsed
    from voice.rehearse.progress.progress import History
    from voice.rehearse.progress.students import Students
    from voice.rehearse.recite.recite import Recital

Vehicle = Annotated[
    str | None,
    typer.Option(
        "--vehicle",
        help="A known vehicle's id, or its profile file; else the first of your own, or the sample if you have none.",
        show_default=False,
        autocompletion=complete_vehicle,
    ),
]
Route = Annotated[str | None, typer.Option("--route", help="Route id; else the one that fits the vehicle.")]
Section = Annotated[str | None, typer.Option("--section", help="Only this section of the route, by its id.")]
Input = Annotated[str | None, typer.Option("--input", help="Microphone, by a part of its name.")]
Output = Annotated[str | None, typer.Option("--output", help="Loudspeaker, by a part of its name.")]
Wav = Annotated[Path | None, typer.Option("--wav", help="A recording of the student instead of the microphone.")]

students_app = typer.Typer(help="The students kept on this machine.", no_args_is_help=True, rich_markup_mode=None)


def register(app: typer.Typer) -> None:
    app.command()(recite)
    app.command()(rehearse)
    app.command()(progress)
    app.add_typer(students_app, name="students")


def recite(
    vehicle: Vehicle = None,
    route: Route = None,
    section: Section = None,
    length: Annotated[
        Literal["terse", "normal", "full"],
        typer.Option("--length", help="terse: names; normal: names and what to say; full: explanations."),
    ] = "normal",
    pace: Annotated[float, typer.Option("--pace", min=0.5, max=2.0, help="Speed of speech; 1 is usual.")] = 1.0,
    language: Annotated[
        Literal["en", "es"],
        typer.Option("--language", help="es: the explanations in Spanish (the test is in English)."),
    ] = "en",
    gaps: Annotated[bool, typer.Option("--gaps/--no-gaps", help="Leave time to repeat after each part.")] = True,
    render: Annotated[
        Path | None, typer.Option("--render", help="Write one audio file with chapters: flac, wav, ogg, m4a, m4b, mka.")
    ] = None,
    sheet: Annotated[Path | None, typer.Option("--sheet", help="Write the study sheet, HTML to print.")] = None,
    no_commands: Annotated[bool, typer.Option("--no-commands", help="Without a microphone.")] = False,
    sections: Annotated[bool, typer.Option("--sections", help="List the sections and stop.")] = False,
    input: Input = None,
    output: Output = None,
    voice: Voice = "auto",
    home: Home = None,
) -> None:
    """Hear the route in order, with time to repeat. Say again, slower, faster, go back, next section, or stop."""
    from voice.rehearse.lesson.course import open_course
    from voice.rehearse.lesson.recital import RecitalOptions, read_aloud, write_sheet
    from voice.session.equipment import EquipmentWanted

    course = open_course(home, vehicle, route)
    if sections:
        for each in course.syllabus.sections:
            typer.echo(f"{each.id:20} {each.title} ({len(course.syllabus.of(each.id))})")
        return
    options = RecitalOptions(section, length, language, pace, gaps)
    if sheet is not None:
        write_sheet(course, sheet, section, language)
        typer.echo(f"Study sheet: {sheet}")
    if render is not None:
        _render(course, render, options, voice)
    if sheet is None and render is None:
        wanted = EquipmentWanted(input=input, output=output, voice=voice)
        if read_aloud(course, options, wanted, commands=not no_commands, listeners=(_Echo(),)).stopped:
            raise typer.Exit(1)


def _render(course: Course, path: Path, options: RecitalOptions, voice: str) -> None:
    """Writes the audio file behind a bar that shows how far it is."""
    from rich.progress import Progress

    from voice.rehearse.lesson.recital import write_audio

    with Progress(transient=True) as bar:
        task = bar.add_task("Reading", total=None)
        done = write_audio(course, path, options, voice, lambda at, of: bar.update(task, completed=at, total=of))
    minutes, seconds = divmod(round(done.seconds), 60)
    beside = f", chapters in {done.cue}" if done.cue else ""
    typer.echo(f"{done.path}: {minutes}:{seconds:02d}, {len(done.chapters)} chapters{beside}")


class _Echo:
    """Prints what is read."""

    def reading(self, recital: Recital) -> None:
        typer.echo(f"\n== {recital.line.title}" if recital.line.is_title else recital.line.text)


def rehearse(
    student: Annotated[
        str,
        typer.Option("--student", help="Your name; scores are kept under it, on this machine.", callback=name_given),
    ],
    vehicle: Vehicle = None,
    route: Route = None,
    section: Section = None,
    form: Annotated[
        Literal["test", "coached"],
        typer.Option("--form", help="test: it keeps quiet; coached: it helps when you stop."),
    ] = "coached",
    minutes: Annotated[
        float | None, typer.Option("--minutes", min=1, help="Only what you know least, as fits into these minutes.")
    ] = None,
    no_clips: Annotated[bool, typer.Option("--no-clips", help="Do not keep recordings.")] = False,
    input: Input = None,
    output: Output = None,
    voice: Voice = "auto",
    wav: Wav = None,
    home: Home = None,
) -> None:
    """Recite from memory and be scored: parts named, checks, figures, order."""
    from voice.data import folders
    from voice.rehearse.lesson import rehearsal
    from voice.rehearse.lesson.course import open_course
    from voice.session.equipment import EquipmentWanted

    course = open_course(home, vehicle, route)
    options = rehearsal.RehearsalOptions(student, section, form, minutes, clips=not no_clips)
    wanted = EquipmentWanted(input=input, output=output, voice=voice, wav=wav, home=folders.home(home))
    done = rehearsal.rehearse(home, course, options, wanted, typer.echo)
    _tell_score(done)
    if done.trouble is not None:
        raise done.trouble


def _tell_score(done: Rehearsed) -> None:
    from rich.console import Console
    from rich.table import Table

    from voice.rehearse.listen.score import Scheme
    from voice.rehearse.progress import report
    from voice.rehearse.wording import rehearse_file

    talk, scheme = rehearse_file().result, Scheme.shipped()
    table = Table(box=None, pad_edge=False)
    for key in ("part", "result", "missing", "wrong"):
        table.add_column(talk.table[key])
    for row in report.rows(done.score, done.parts, talk):
        table.add_row(*row)
    console = Console()
    console.print(table)
    for line in report.spoken(done.score, talk)[:-1]:
        console.print(line, highlight=False)
    console.print(f"{scheme.caveat.strip()} ({scheme.source.strip()})", style="dim", highlight=False)


def progress(
    student: Annotated[list[str] | None, typer.Option("--student", help="Only these; else all.")] = None,
    since: Annotated[datetime | None, typer.Option("--since", formats=["%Y-%m-%d"], help="From this day.")] = None,
    until: Annotated[datetime | None, typer.Option("--until", formats=["%Y-%m-%d"], help="To this day.")] = None,
    html: Annotated[Path | None, typer.Option("--html", help="Write the page with the plots.")] = None,
    csv: Annotated[Path | None, typer.Option("--csv", help="Write a row for each part of each rehearsal.")] = None,
    home: Home = None,
) -> None:
    """How the students are doing: table, page with plots, CSV."""
    from voice.rehearse.lesson import overview
    from voice.rehearse.lesson.course import save
    from voice.rehearse.progress.progress import to_csv

    found = overview.history(home, student or (), since and since.date(), until and until.date())
    _tell_progress(found)
    if html is not None:
        save(html, overview.progress_page(home, found))
        typer.echo(f"Wrote {html}")
    if csv is not None:
        save(csv, to_csv(found))
        typer.echo(f"Wrote {csv}")


def _tell_progress(found: History) -> None:
    from rich.console import Console
    from rich.table import Table

    from voice.measure.telling import minutes
    from voice.rehearse.progress.progress import students
    from voice.rehearse.progress.report import percent
    from voice.rehearse.wording import pages_file

    words = pages_file().progress.table
    table = Table(box=None, pad_edge=False)
    for key in ("student", "sessions", "last", "mean", "best", "slips", "minutes", "date"):
        table.add_column(words[key], justify="left" if key == "student" else "right", no_wrap=True)
    for row in students(found):
        table.add_row(
            row.name, str(row.sessions), percent(row.last), percent(row.recent), percent(row.best), str(row.slips),
            str(minutes(row.seconds)), row.date.isoformat(),
        )  # fmt: skip
    Console().print(table)


@students_app.command("list")
def list_students(home: Home = None) -> None:
    """Names, number of rehearsals, number of clips."""
    from voice.errors import shown

    kept = _students(home)
    for student in kept.all():
        clips = sum(1 for _ in student.folder.glob("clips/*/*.flac"))
        typer.echo(f"{shown(student.name):30} {len(kept.sessions(student)):4} rehearsals {clips:5} clips")


def _students(home: Path | None) -> Students:
    from voice.data import folders
    from voice.errors import tell
    from voice.rehearse.progress.students import Students

    return Students(folders.home(home), tell)


@students_app.command("next")
def next_parts(
    name: Annotated[str, typer.Argument(help="The student's name.")],
    minutes: Annotated[float, typer.Option("--minutes", min=1)] = 10,
    vehicle: Vehicle = None,
    route: Route = None,
    home: Home = None,
) -> None:
    """What the student should rehearse next, in walking order."""
    from voice.rehearse.lesson import rehearsal
    from voice.rehearse.lesson.course import open_course
    from voice.rehearse.progress.report import percent

    for part, strength in rehearsal.next_parts(home, name, minutes, open_course(home, vehicle, route)):
        told = f"{percent(strength.recall):>4} known, {strength.reviews} times" if strength.reviews else "not yet"
        typer.echo(f"{part.title:50} {told}")


@students_app.command("delete")
def delete_student(
    name: Annotated[str, typer.Argument(help="The student's name.")],
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
    home: Home = None,
) -> None:
    """Erase a student: name, scores and recordings."""
    kept = _students(home)
    student = kept.known(name)
    if not yes and not typer.confirm(f"Erase {student.name}, all scores and recordings?"):
        raise typer.Exit(1)
    erased = kept.erase(student)
    typer.echo(f"Erased: {erased.name}, {erased.sessions} rehearsals, {erased.clips} clips.")
