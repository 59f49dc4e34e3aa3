"""A recital as a study sheet, as an audio file, or read aloud with commands between the lines."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from voice.errors import SetupError
from voice.rehearse.lesson.course import VOICES, Course, save
from voice.rehearse.recite.player import Gaps, Listener, play
from voice.rehearse.recite.recite import Recital, RecitalLine, lines
from voice.rehearse.recite.render import Rendered, Target, render
from voice.rehearse.wording import Language, LanguageFile, language_file, recite_file
from voice.route.model import Length
from voice.sound.port import Audio
from voice.speak.port import Speaker

if TYPE_CHECKING:
    from voice.session.equipment import EquipmentWanted


@dataclass(frozen=True, slots=True)
class RecitalOptions:
    """How a course is recited.

    section: only this one, by id.
    length: names, what to say, or explanations.
    language: of the explanations.
    pace: speed of speech; 1 is usual.
    gaps: leave time to repeat after each part of a file.
    """

    section: str | None = None
    length: Length = "normal"
    language: Language = "en"
    pace: float = 1.0
    gaps: bool = True


def write_sheet(course: Course, path: Path, section: str | None, language: Language) -> None:
    """The study sheet, HTML to print. Raises DataError, SetupError."""
    from voice.rehearse.progress.pages import study_sheet

    course.parts(section)
    save(path, study_sheet(course.syllabus, course.vehicle, section=section, language=_other(language)))


def write_audio(
    course: Course, path: Path, options: RecitalOptions, voice: str, progress: Callable[[int, int], None]
) -> Rendered:
    """One audio file with chapters. Raises SetupError.

    voice: as --voice names it; "auto" is the language's own.
    progress: is told how many lines of how many are done.
    """
    from soundfile import LibsndfileError

    from voice.speak.pronounce import readable
    from voice.speak.synth import synthesize

    named = VOICES[options.language] if voice == "auto" else voice

    def speak(text: str) -> Audio:
        return synthesize(readable(text, options.language), named, pace=options.pace)

    target = Target(path, course.syllabus.title, gaps=options.gaps)
    try:
        return render(_lines(course, options), target, recite_file(), speak, progress)
    except LibsndfileError as error:
        raise SetupError(f"{path} cannot be written: {error.error_string}", "Give another file.") from error


def read_aloud(
    course: Course,
    options: RecitalOptions,
    wanted: EquipmentWanted,
    *,
    commands: bool,
    listeners: tuple[Listener, ...] = (),
) -> Recital:
    """Reads to the end or until stopped; the recital as it stood then. Raises SetupError, DeviceError.

    commands: listen for them in the gaps.
    """
    from voice.session.equipment import open_equipment
    from voice.speak.choose import open_speaker

    file, other = recite_file(), _other(options.language)
    talk = file.say if other is None else other.say
    wanted_lines = _lines(course, options)
    speakers: dict[float, Speaker] = {}

    def at_pace(pace: float) -> Speaker:
        if pace not in speakers:
            speakers[pace] = open_speaker(wanted.voice, device=wanted.output, language=options.language, pace=pace)
        return speakers[pace]

    equipment = open_equipment(wanted) if commands else None
    gaps = Gaps(WallClock(), time.sleep)
    if equipment is not None:
        gaps = Gaps(equipment.devices.clock, time.sleep, equipment.devices.ear)
    count = sum(not line.is_title for line in wanted_lines)
    at_pace(options.pace).say(talk.begin.format(title=course.syllabus.title, count=count))
    told = file.model_copy(update={"say": talk})
    try:
        return play(Recital(wanted_lines, pace=options.pace), told, at_pace, gaps, listeners)
    finally:
        for speaker in speakers.values():
            speaker.close()
        if equipment is not None:
            equipment.close()


class WallClock:
    """Clock of the machine, for a recital without a microphone."""

    def now(self) -> float:
        return time.monotonic()


def _lines(course: Course, options: RecitalOptions) -> tuple[RecitalLine, ...]:
    return lines(
        course.syllabus,
        recite_file().say,
        length=options.length,
        section=options.section,
        language=_other(options.language),
    )


def _other(language: Language) -> LanguageFile | None:
    return None if language == "en" else language_file(language)
