"""Runs the learning commands: everything between the options and voice/rehearse/."""

from __future__ import annotations

import time
from collections import Counter
from dataclasses import dataclass
from datetime import UTC, date, datetime
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import typer

from voice.data import durable, folders
from voice.errors import DataError, SetupError, shown, tell
from voice.hear.port import Ear
from voice.judge import limit_files, load_limits
from voice.rehearse.listen.part import Part, Programme
from voice.rehearse.listen.programme import make_programme
from voice.rehearse.progress.students import Students, student_name
from voice.rehearse.wording import Language, LanguageFile, language_file, recite_file, rehearse_file
from voice.route import load_library, make_plan
from voice.route.model import Length
from voice.route.vehicles import profile_files, read_profiles
from voice.session.inspection import find_vehicle
from voice.sound.port import RATE, Audio, Clock
from voice.speak.port import Speaker

if TYPE_CHECKING:
    from voice.rehearse.listen.match import Thresholds
    from voice.rehearse.listen.words import Reader
    from voice.rehearse.progress.progress import History
    from voice.route.library import Library
    from voice.session.kit import Kit, Wanted

SAMPLE = "tractor-trailer-five-axle"
VOICES: dict[Language, str] = {"en": "espeak:en-us", "es": "espeak:es-419"}


@dataclass(frozen=True, slots=True)
class Made:
    """programme: what can be recited.
    vehicle: how the vehicle is called.
    """

    programme: Programme
    vehicle: str


def _need(*packages: str) -> None:
    """Raises SetupError if an optional package is not installed."""
    missing = [name for name in packages if find_spec(name) is None]
    if missing:
        raise SetupError(
            f"This command needs the package {missing[0]}.", 'Install the learning extra: pip install "gladhand[learn]"'
        )


def programme(home: Path | None, vehicle: str | None, route: str | None) -> Made:
    """vehicle: None takes the first of the home's own, or the sample if it has none."""
    folder = folders.home(home)
    found = find_vehicle(folder, vehicle or _usual(folder))
    plan = make_plan(load_library(folder / "prompts"), found, route)
    return Made(make_programme(plan, load_limits(limit_files(folder))), found.name)


def _usual(home: Path) -> str:
    own = profile_files(home / "vehicles")
    profiles = read_profiles({file.stem: file for file in own})
    for fault in profiles.faults:
        tell(fault)  # the others can be rehearsed all the same
    return next(iter(profiles.vehicles), SAMPLE)


# --- recite ------------------------------------------------------------------------------------------------------


def write_sheet(made: Made, path: Path, section: str | None, language: Language) -> None:
    from voice.rehearse.progress.pages import study_sheet

    _known_section(made.programme, section)
    text = study_sheet(made.programme, made.vehicle, section=section, language=_language(language))
    _save(path, text)
    typer.echo(f"Study sheet: {path}")


def write_audio(
    made: Made,
    path: Path,
    section: str | None,
    length: Length,
    language: Language,
    pace: float,
    gaps: bool,
    voice: str,
) -> None:
    from rich.progress import Progress
    from soundfile import LibsndfileError

    from voice.rehearse.recite.recite import lines
    from voice.rehearse.recite.render import render
    from voice.speak.pronounce import readable
    from voice.speak.synth import synthesize

    file, other = recite_file(), _language(language)
    named = VOICES[language] if voice == "auto" else voice
    wanted = lines(made.programme, file.say, length=length, section=section, language=other)

    def speak(text: str) -> Audio:
        return synthesize(readable(text, language), named, pace=pace)

    with Progress(transient=True) as bar:
        task = bar.add_task("Reading", total=len(wanted))
        try:
            done = render(
                wanted, path, file, speak, title=made.programme.title, gaps=gaps,
                progress=lambda at, _: bar.update(task, completed=at),
            )  # fmt: skip
        except LibsndfileError as error:
            raise SetupError(f"{path} cannot be written: {error.error_string}", "Give another file.") from error
    minutes, seconds = divmod(round(done.seconds), 60)
    beside = f", chapters in {done.cue}" if done.cue else ""
    typer.echo(f"{done.path}: {minutes}:{seconds:02d}, {len(done.chapters)} chapters{beside}")


def read_aloud(
    made: Made,
    section: str | None,
    length: Length,
    language: Language,
    pace: float,
    *,
    commands: bool,
    input: str | None,
    output: str | None,
    voice: str,
) -> None:
    from voice.rehearse.recite.player import play
    from voice.rehearse.recite.recite import Recital, lines
    from voice.session.kit import Wanted, open_kit
    from voice.speak.choose import open_speaker

    file, other = recite_file(), _language(language)
    talk = file.say if other is None else other.say
    wanted = lines(made.programme, file.say, length=length, section=section, language=other)
    speakers: dict[float, Speaker] = {}

    def at_pace(pace: float) -> Speaker:
        if pace not in speakers:
            speakers[pace] = open_speaker(voice, device=output, language=language, pace=pace)
        return speakers[pace]

    ear: Ear | None = None
    clock: Clock = WallClock()
    kit = open_kit(Wanted(input=input, output=output, voice=voice)) if commands else None
    if kit is not None:
        ear, clock = kit.ear, kit.clock
    count = sum(not line.is_title for line in wanted)
    at_pace(pace).say(talk.begin.format(title=made.programme.title, count=count))
    try:
        ended = play(
            Recital(wanted, pace=pace),
            file.model_copy(update={"say": talk}),
            at_pace,
            ear,
            clock,
            time.sleep,
            (Echo(),),
        )
    finally:
        for speaker in speakers.values():
            speaker.close()
        if kit is not None:
            kit.close()
    if ended.stopped:
        raise typer.Exit(1)


class WallClock:
    """Clock of the machine, for a recital without a microphone."""

    def now(self) -> float:
        return time.monotonic()


class Echo:
    """Prints what is read."""

    def reading(self, recital: object) -> None:
        from voice.rehearse.recite.recite import Recital

        if isinstance(recital, Recital):
            typer.echo(f"\n== {recital.line.title}" if recital.line.is_title else recital.line.text)


def _language(language: Language) -> LanguageFile | None:
    return None if language == "en" else language_file(language)


def _known_section(programme: Programme, section: str | None) -> None:
    known = [each.id for each in programme.sections]
    if section is not None and section not in known:
        raise DataError(f'There is no section "{section}" in this route.', f"It has: {', '.join(known)}.")


# --- rehearse ----------------------------------------------------------------------------------------------------


def rehearse(
    home: Path | None,
    name: str,
    vehicle: str | None,
    route: str | None,
    section: str | None,
    form: Literal["test", "coached"],
    minutes: float | None,
    *,
    clips: bool,
    input: str | None,
    output: str | None,
    voice: str,
    wav: Path | None,
) -> None:
    _need("jellyfish", "fsrs")
    from voice.rehearse.listen.credit import Examiner
    from voice.rehearse.listen.match import Thresholds
    from voice.rehearse.listen.score import Scheme, score
    from voice.rehearse.listen.words import Reader
    from voice.rehearse.progress import report
    from voice.rehearse.progress.record import make_record
    from voice.rehearse.recite import perform
    from voice.rehearse.recite.coach import Coach, prompted
    from voice.session.kit import Wanted

    made = programme(home, vehicle, route)
    _known_section(made.programme, section)
    kept = Students(folders.home(home), tell)
    name = student_name(name)
    file, scheme = rehearse_file(), Scheme.shipped()
    started = datetime.now(UTC)
    parts = made.programme.of(section)
    if minutes is not None:
        parts = _weakest(kept, name, parts, minutes, started)
        typer.echo("\n".join(part.title for part in parts))
    reader, thresholds = Reader.shipped(), Thresholds.shipped()
    coach = Coach(parts, Examiner(parts, reader, thresholds), file, form)
    session = started.strftime("%Y%m%dT%H%M%SZ")
    kit = _kit(
        Wanted(input=input, output=output, voice=voice, wav=wav, home=folders.home(home)), parts, reader, thresholds
    )

    def keep(number: int, audio: Audio) -> None:
        kept.keep_clip(student, session, number, audio)

    try:
        student = kept.enrol(name)  # now that nothing can refuse it any more
        done = perform.perform(
            coach, made.programme.title, kit.ear, kit.speaker, kit.clock,
            keep=keep if clips else None, heard=lambda utterance: typer.echo(f"  {utterance.text}"),
        )  # fmt: skip
        state = done.state
        result = score(parts, coach.reading(state), scheme, seconds=perform.seconds(state), prompted=prompted(state))
        record = make_record(
            session, started, made.programme, {part.key: part for part in parts}, state, result,
            form=form, section=section, weakest=minutes is not None,
        )  # fmt: skip
        kept.keep(student, record)
        if done.trouble is None:
            for line in report.spoken(result, file.result):
                kit.speaker.say(line)
    finally:
        kit.close()
    report.printed(result, parts, file.result, scheme)
    if done.trouble is not None:
        raise done.trouble


def _kit(wanted: Wanted, parts: tuple[Part, ...], reader: Reader, thresholds: Thresholds) -> Kit:
    """Ears that know the words of these parts, and a voice. A recording is followed by silence, so that the rehearsal
    ends as it does with a person."""
    from voice.hear.ear import VoiceEar
    from voice.models.engines import load_engines
    from voice.rehearse.listen.keen import KeenMoonshine, expected
    from voice.session.kit import TAIL, Kit
    from voice.sound.port import Microphone

    microphone: Microphone
    clock: Clock
    speaker: Speaker
    if wanted.wav is None:
        from voice.sound.soundcard import RealClock, open_microphone
        from voice.speak.choose import open_speaker

        microphone, clock = open_microphone(wanted.input), RealClock()
        speaker = open_speaker(wanted.voice, device=wanted.output)
    else:
        from voice.sound.output import ClockOutput
        from voice.sound.recording import AudioClock, WavMicrophone
        from voice.speak.synthesis import SynthesisSpeaker

        audio_clock = AudioClock()
        microphone, clock = WavMicrophone(wanted.wav, clock=audio_clock), audio_clock
        named = VOICES["en"] if wanted.voice == "auto" else wanted.voice
        speaker = SynthesisSpeaker(ClockOutput(lambda seconds: audio_clock.advance(round(seconds * RATE))), named)

    def keen(folder: Path) -> KeenMoonshine:
        words, bonus, branches = expected(parts, reader), thresholds.keen_bonus, thresholds.keen_beam
        return KeenMoonshine(words, bonus, branches=branches, folder=folder)

    engines = load_engines(wanted.home / "cache", moonshine=keen)
    if engines.warning:
        tell(engines.warning)
    tail = TAIL if wanted.wav is None else 0.0
    ear = VoiceEar(microphone, engines.first, engines.second, engines.third, clock=clock, tail=tail)
    return Kit(ear, speaker, clock, lambda: None)


def _weakest(kept: Students, name: str, parts: tuple[Part, ...], minutes: float, now: datetime) -> tuple[Part, ...]:
    from voice.rehearse.progress.memory import costs, strengths, weakest

    file = rehearse_file()
    student = kept.find(name)
    known = strengths([] if student is None else kept.sessions(student), now)
    return weakest(parts, known, minutes * 60, costs(parts, file.words_a_minute, file.seconds_between))


# --- students ----------------------------------------------------------------------------------------------------


def next_parts(home: Path | None, name: str, minutes: float, vehicle: str | None, route: str | None) -> None:
    _need("fsrs")
    from voice.rehearse.progress.memory import UNKNOWN, strengths

    kept = Students(folders.home(home), tell)
    student = kept.named(name)
    now = datetime.now(UTC)
    known = strengths(kept.sessions(student), now)
    for part in _weakest(kept, name, programme(home, vehicle, route).programme.parts, minutes, now):
        strength = known.get(part.key, UNKNOWN)
        told = f"{100 * strength.recall:3.0f} % known, {strength.reviews} times" if strength.reviews else "not yet"
        typer.echo(f"{part.title:50} {told}")


def list_students(home: Path | None) -> None:
    kept = Students(folders.home(home), tell)
    for student in kept.all():
        clips = sum(1 for _ in student.folder.glob("clips/*/*.flac"))
        typer.echo(f"{shown(student.name):30} {len(kept.sessions(student)):4} rehearsals {clips:5} clips")


def delete_student(home: Path | None, name: str, *, yes: bool) -> None:
    kept = Students(folders.home(home), tell)
    student = kept.named(name)
    if not yes and not typer.confirm(f"Erase {student.name}, all scores and recordings?"):
        raise typer.Exit(1)
    erased = kept.erase(student)
    typer.echo(f"Erased: {erased.name}, {erased.sessions} rehearsals, {erased.clips} clips.")


def progress(
    home: Path | None,
    names: tuple[str, ...],
    since: date | None,
    until: date | None,
    html: Path | None,
    csv: Path | None,
) -> None:
    from rich.console import Console
    from rich.table import Table

    from voice.rehearse.progress import pages
    from voice.rehearse.progress import progress as counting

    kept = Students(folders.home(home), tell)
    chosen = [kept.named(name) for name in names] or kept.all()
    history = counting.within({each.name: kept.sessions(each) for each in chosen}, since, until)
    if not history:
        raise SetupError("There are no rehearsals to show.", "Run gladhand rehearse, or widen the dates.")
    words = pages.pages_file().progress.table
    table = Table(box=None, pad_edge=False)
    for key in ("student", "sessions", "last", "mean", "best", "slips", "minutes", "date"):
        table.add_column(words[key], justify="left" if key == "student" else "right", no_wrap=True)
    for row in counting.students(history):
        table.add_row(
            row.name, str(row.sessions), f"{row.last:.0%}", f"{row.recent:.0%}", f"{row.best:.0%}", str(row.slips),
            f"{row.seconds / 60:.0f}", row.date.isoformat(),
        )  # fmt: skip
    Console().print(table)
    if html is not None:
        _need("matplotlib")
        library = load_library(folders.home(home) / "prompts")
        checks = {f"{id}.{point.id}": point.say[0] for id, item in library.items.items() for point in item.points}
        _save(html, pages.progress_page(history, _sections(library, history), checks))
        typer.echo(f"Wrote {html}")
    if csv is not None:
        _save(csv, counting.to_csv(history))
        typer.echo(f"Wrote {csv}")


def _sections(library: Library, history: History) -> list[tuple[str, str]]:
    """Ids and titles of the sections of the routes that were rehearsed, in walking order, the commonest route first."""
    used = Counter(session.route for sessions in history.values() for session in sessions)
    found: dict[str, str] = {}
    for name, _ in used.most_common():
        for section in library.routes[name].sections if name in library.routes else ():
            found.setdefault(section.id, section.title)
    return list(found.items())


def _save(path: Path, text: str) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="")
    except OSError as error:
        raise SetupError(*durable.trouble(f"{path} cannot be written", error)) from error
