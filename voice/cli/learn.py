"""gladhand recite, rehearse, progress, students: the school's side."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated, Literal

import typer

from voice.cli.options import Home, Voice, complete_vehicle, name_given

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
    from voice.cli import lesson

    made = lesson.programme(home, vehicle, route)
    if sections:
        for each in made.programme.sections:
            typer.echo(f"{each.id:20} {each.title} ({len(made.programme.of(each.id))})")
        return
    if sheet is not None:
        lesson.write_sheet(made, sheet, section, language)
    if render is not None:
        lesson.write_audio(made, render, section, length, language, pace, gaps, voice)
    if sheet is None and render is None:
        lesson.read_aloud(made, section, length, language, pace, commands=not no_commands, input=input, output=output,
                          voice=voice)  # fmt: skip


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
    from voice.cli import lesson

    lesson.rehearse(
        home, student, vehicle, route, section, form, minutes,
        clips=not no_clips, input=input, output=output, voice=voice, wav=wav,
    )  # fmt: skip


def progress(
    student: Annotated[list[str] | None, typer.Option("--student", help="Only these; else all.")] = None,
    since: Annotated[datetime | None, typer.Option("--since", formats=["%Y-%m-%d"], help="From this day.")] = None,
    until: Annotated[datetime | None, typer.Option("--until", formats=["%Y-%m-%d"], help="To this day.")] = None,
    html: Annotated[Path | None, typer.Option("--html", help="Write the page with the plots.")] = None,
    csv: Annotated[Path | None, typer.Option("--csv", help="Write a row for each part of each rehearsal.")] = None,
    home: Home = None,
) -> None:
    """How the students are doing: table, page with plots, CSV."""
    from voice.cli import lesson

    lesson.progress(home, tuple(student or ()), since and since.date(), until and until.date(), html, csv)


@students_app.command("list")
def list_students(home: Home = None) -> None:
    """Names, number of rehearsals, number of clips."""
    from voice.cli import lesson

    lesson.list_students(home)


@students_app.command("next")
def next_parts(
    name: Annotated[str, typer.Argument(help="The student's name.")],
    minutes: Annotated[float, typer.Option("--minutes", min=1)] = 10,
    vehicle: Vehicle = None,
    route: Route = None,
    home: Home = None,
) -> None:
    """What the student should rehearse next, in walking order."""
    from voice.cli import lesson

    lesson.next_parts(home, name, minutes, vehicle, route)


@students_app.command("delete")
def delete_student(
    name: Annotated[str, typer.Argument(help="The student's name.")],
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
    home: Home = None,
) -> None:
    """Erase a student: name, scores and recordings."""
    from voice.cli import lesson

    lesson.delete_student(home, name, yes=yes)
