"""A recital read aloud: which lines, in which order, and what a command does. Pure."""

from __future__ import annotations

from dataclasses import dataclass, replace

from voice.errors import DataError
from voice.rehearse.listen.part import RecitedPart, Syllabus
from voice.rehearse.wording import LanguageFile, ReciteCommand, ReciteFile, ReciteTalk
from voice.route.model import Length


@dataclass(frozen=True, slots=True)
class RecitalLine:
    """A line of a recital.

    text: to be read.
    key: the part's, empty for the title of a section.
    section: its id.
    title: printed.
    """

    key: str
    section: str
    title: str
    text: str

    @property
    def is_title(self) -> bool:
        return not self.key


def lines(
    syllabus: Syllabus,
    talk: ReciteTalk,
    *,
    length: Length = "full",
    section: str | None = None,
    language: LanguageFile | None = None,
) -> tuple[RecitalLine, ...]:
    """The lines in walking order, each section's title before its parts.

    length: terse is the part's name; normal adds the first phrase of each key point; full is the explanation.
    language: another language's wording; it has names and explanations only, so normal is read as full.
    Raises DataError for an unknown section or an item that the language does not have.
    """
    if section is not None and section not in {each.id for each in syllabus.sections}:
        known = ", ".join(each.id for each in syllabus.sections)
        raise DataError(f'There is no section "{section}" in this recital.', f"It has: {known}.")
    made: list[RecitalLine] = []
    for each in syllabus.sections:
        if section is not None and each.id != section:
            continue
        title = each.title if language is None else language.sections.get(each.title, each.title)
        made.append(RecitalLine("", each.id, title, talk.section.format(title=title)))
        made += [_line(part, talk, length, language) for part in syllabus.of(each.id)]
    return tuple(made)


def _line(part: RecitedPart, talk: ReciteTalk, length: Length, language: LanguageFile | None) -> RecitalLine:
    if language is not None:
        title, full = translated(part, language)
        return RecitalLine(part.key, part.section, title, f"{title}." if length == "terse" else full)
    name = part.names[0]
    match length:
        case "terse":
            text = f"{part.title}."
        case "normal":
            points = talk.between_points.join(point.say[0] for point in part.points)
            text = talk.part.format(name=name[:1].upper() + name[1:], points=points)
        case "full":
            text = f"{part.title}. {part.say.full}"
    return RecitalLine(part.key, part.section, part.title, text)


def translated(part: RecitedPart, language: LanguageFile) -> tuple[str, str]:
    """The part's name and explanation in the other language."""
    if part.item not in language.items:
        raise DataError(f'The other language has no wording for "{part.item}".', "Add it under prompts/learn/.")
    told = language.items[part.item]
    place = language.places.get(part.role, "") if part.role else ""
    title = f"{told.title}, {place}" if place else told.title
    return title, f"{title}. {told.full}"


@dataclass(frozen=True, slots=True)
class Recital:
    """Where in the lines, and how fast. at == len(lines): it is over.

    told: to be said before going on.
    """

    lines: tuple[RecitalLine, ...]
    at: int = 0
    pace: float = 1.0
    told: str = ""
    stopped: bool = False

    @property
    def over(self) -> bool:
        return self.stopped or self.at >= len(self.lines)

    @property
    def line(self) -> RecitalLine:
        return self.lines[self.at]


def step(recital: Recital, command: ReciteCommand | None, file: ReciteFile) -> Recital:
    """After a line was read and its gap is over: on without a command, else as the student said."""
    now = replace(recital, told="")
    match command:
        case None:
            return replace(now, at=now.at + 1)
        case "again":
            return now
        case "slower":
            return replace(now, pace=max(file.pace_least, now.pace / file.pace_step), told=file.say.slower)
        case "faster":
            return replace(now, pace=min(file.pace_most, now.pace * file.pace_step), told=file.say.faster)
        case "back":
            return replace(now, at=max(0, now.at - 1))
        case "next":
            here = now.line.section
            later = (at for at in range(now.at + 1, len(now.lines)) if now.lines[at].section != here)
            return replace(now, at=next(later, len(now.lines)))
        case "stop":
            return replace(now, stopped=True, told=file.say.stopped)


def gap(line: RecitalLine, spoken: float, file: ReciteFile) -> float:
    """Seconds to leave after a line that took so many seconds to read."""
    return file.title_seconds if line.is_title else spoken * file.gap_share + file.gap_seconds
