"""A rehearsal from its first word to the kept record, and what a student should rehearse next."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from voice.data import folders
from voice.data.fields import person
from voice.errors import DeviceError, tell
from voice.rehearse.lesson.course import VOICES, Course, need
from voice.rehearse.listen.part import RecitedPart
from voice.rehearse.progress.students import Students
from voice.rehearse.wording import rehearse_file
from voice.sound.port import RATE, Audio, Clock
from voice.speak.port import Speaker

if TYPE_CHECKING:
    from voice.rehearse.listen.match import MatchThresholds
    from voice.rehearse.listen.score import Score
    from voice.rehearse.listen.words import TokenReader
    from voice.rehearse.progress.memory import Strength
    from voice.session.equipment import Equipment, EquipmentWanted


@dataclass(frozen=True, slots=True)
class RehearsalOptions:
    """What is rehearsed, by whom.

    student: the name the scores are kept under.
    section: only this one, by id.
    form: quiet as in the test, or with help.
    minutes: only what is known least, as fits into them.
    clips: keep recordings.
    """

    student: str
    section: str | None = None
    form: Literal["test", "coached"] = "coached"
    minutes: float | None = None
    clips: bool = True


@dataclass(frozen=True, slots=True)
class Rehearsed:
    """What came of a rehearsal; it is kept already.

    parts: those rehearsed, in walking order.
    trouble: the microphone was lost, so it ended before its time.
    """

    parts: tuple[RecitedPart, ...]
    score: Score
    trouble: DeviceError | None


def rehearse(
    home: Path | None, course: Course, options: RehearsalOptions, wanted: EquipmentWanted, show: Callable[[str], None]
) -> Rehearsed:
    """Performs a rehearsal and keeps it. Raises SetupError, DataError, DeviceError.

    show: gets what the screen shows on the way: the parts chosen by memory, each utterance heard.
    """
    need("jellyfish", "fsrs")
    from voice.rehearse.listen.credit import Examiner
    from voice.rehearse.listen.match import MatchThresholds
    from voice.rehearse.listen.score import Scheme, score
    from voice.rehearse.listen.words import TokenReader
    from voice.rehearse.progress import report
    from voice.rehearse.progress.record import RehearsalHeading, make_record
    from voice.rehearse.recite import perform
    from voice.rehearse.recite.coach import Coach, prompted

    parts = course.parts(options.section)
    kept = Students(folders.home(home), tell)
    name = person(options.student)
    file, started = rehearse_file(), datetime.now(UTC)
    if options.minutes is not None:
        parts = _weakest(kept, name, parts, options.minutes, started)
        show("\n".join(part.title for part in parts))
    reader, thresholds = TokenReader.shipped(), MatchThresholds.shipped()
    coach = Coach(parts, Examiner(parts, reader, thresholds), file, options.form)
    heading = RehearsalHeading(
        started.strftime("%Y%m%dT%H%M%SZ"), started, options.form, options.section, weakest=options.minutes is not None
    )
    equipment = _equipment(wanted, parts, reader, thresholds)
    devices = equipment.devices

    def keep(number: int, audio: Audio) -> None:
        kept.keep_clip(student, heading.id, number, audio)

    try:
        student = kept.enroll(name)  # now that nothing can refuse it any more
        done = perform.perform(
            coach, course.syllabus.title, devices.ear, devices.speaker,
            keep=keep if options.clips else None, heard=lambda utterance: show(f"  {utterance.text}"),
        )  # fmt: skip
        state, scheme = done.state, Scheme.shipped()
        result = score(parts, coach.reading(state), scheme, seconds=perform.seconds(state), prompted=prompted(state))
        by_key = {part.key: part for part in parts}
        kept.keep(student, make_record(heading, course.syllabus, by_key, state, result))
        if done.trouble is None:
            for line in report.spoken(result, file.result):
                devices.speaker.say(line)
    finally:
        equipment.close()
    return Rehearsed(parts, result, done.trouble)


def _equipment(
    wanted: EquipmentWanted, parts: tuple[RecitedPart, ...], reader: TokenReader, thresholds: MatchThresholds
) -> Equipment:
    """Ears that know the words of these parts, and a voice. A recording is followed by silence, so that the rehearsal
    ends as it does with a person."""
    from voice.hear.ear import VoiceEar
    from voice.models.engines import load_engines
    from voice.rehearse.listen.biased import BiasedMoonshine, expected
    from voice.session.equipment import TAIL, Equipment
    from voice.session.loop import Devices
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

    def biased(folder: Path) -> BiasedMoonshine:
        phrases = expected(parts, reader)
        return BiasedMoonshine(folder, phrases, thresholds.bias_bonus, branches=thresholds.bias_beam)

    engines = load_engines(wanted.home / "cache", writer=biased)
    if engines.warning:
        tell(engines.warning)
    tail = TAIL if wanted.wav is None else 0.0
    ear = VoiceEar(microphone, engines.judge, engines.writer, clock=clock, tail=tail)
    return Equipment(Devices(ear, speaker, clock, lambda: None))


def next_parts(home: Path | None, name: str, minutes: float, course: Course) -> Sequence[tuple[RecitedPart, Strength]]:
    """What the student should rehearse next, in walking order, and how well each is known."""
    need("fsrs")
    from voice.rehearse.progress.memory import UNKNOWN, strengths

    kept = Students(folders.home(home), tell)
    now = datetime.now(UTC)
    known = strengths(kept.sessions(kept.known(name)), now)
    chosen = _weakest(kept, name, course.syllabus.parts, minutes, now)
    return [(part, known.get(part.key, UNKNOWN)) for part in chosen]


def _weakest(
    kept: Students, name: str, parts: tuple[RecitedPart, ...], minutes: float, now: datetime
) -> tuple[RecitedPart, ...]:
    from voice.rehearse.progress.memory import costs, strengths, weakest

    file = rehearse_file()
    student = kept.find(name)
    known = strengths([] if student is None else kept.sessions(student), now)
    return weakest(parts, known, minutes * 60, costs(parts, file.words_a_minute, file.seconds_between))
