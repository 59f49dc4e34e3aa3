"""What the instructor looks at: students, their curves, what is missed over the route, and one rehearsal.

A student's folder is found by going through the students there are, a recording by the rehearsals there are: no part of
an address becomes a path by itself.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import fmean

from voice.desk.data.asked import library_of
from voice.desk.page import Desk, RefusedError
from voice.errors import RecordError
from voice.rehearse.lesson.overview import checks, sections
from voice.rehearse.listen.score import PartScore
from voice.rehearse.progress.overruled import NAMED, Overruling, overrulings_of
from voice.rehearse.progress.progress import History, PartRow, StudentRow, parts, students
from voice.rehearse.progress.record import PartRecord, SessionRecord
from voice.rehearse.progress.report import remark
from voice.rehearse.progress.students import Student, Students
from voice.rehearse.wording import rehearse_file

_CLIP = re.compile(r"[0-9]{3}")
WIDTH, HEIGHT = 640, 220  # of a curve, in the units of its drawing


@dataclass(frozen=True, slots=True)
class Curve:
    """Points of a line from left to right, as SVG has them; y grows downwards. mean: of all students."""

    name: str
    points: str
    mean: bool = False


@dataclass(frozen=True, slots=True)
class Lane:
    """A section of the route with its parts, in walking order."""

    title: str
    parts: tuple[PartRow, ...]


@dataclass(frozen=True, slots=True)
class Class:
    """All students.

    rows: with the id of each.
    lanes: what is missed, over the route.
    faults: files that cannot be read, in words.
    """

    rows: tuple[tuple[str, StudentRow], ...]
    idle: tuple[Student, ...]
    curves: tuple[Curve, ...]
    lanes: tuple[Lane, ...]
    faults: tuple[str, ...]


def kept(desk: Desk, aside: Callable[[RecordError], None] = lambda _: None) -> Students:
    return Students(desk.home, aside)


def whole_class(desk: Desk) -> Class:
    faults: list[str] = []
    found = kept(desk, lambda error: faults.append(str(error)))
    everyone = found.all()
    history: History = {each.name: found.sessions(each) for each in everyone}
    history = {name: sessions for name, sessions in history.items() if sessions}
    ids = {each.name: each.id for each in everyone}
    return Class(
        rows=tuple((ids[row.name], row) for row in students(history)),
        idle=tuple(each for each in everyone if each.name not in history),
        curves=_curves(history),
        lanes=_lanes(desk, history),
        faults=tuple(faults),
    )


def _lanes(desk: Desk, history: History) -> tuple[Lane, ...]:
    rows = parts(history)
    titles = dict(sections(library_of(desk.home), history)) if history else {}
    titles |= {row.section: row.section for row in rows if row.section not in titles}
    lanes = (Lane(title, tuple(row for row in rows if row.section == id)) for id, title in titles.items())
    return tuple(lane for lane in lanes if lane.parts)


def _curves(history: History) -> tuple[Curve, ...]:
    longest = max((len(sessions) for sessions in history.values()), default=0)
    lines = [Curve(name, _line([s.share for s in sessions], longest)) for name, sessions in sorted(history.items())]
    if len(history) > 1:
        means = [fmean(s[at].share for s in history.values() if at < len(s)) for at in range(longest)]
        lines.append(Curve("", _line(means, longest), mean=True))
    return tuple(lines)


def _line(shares: Sequence[float], longest: int) -> str:
    step = WIDTH / max(1, longest - 1)
    return " ".join(f"{at * step:.0f},{HEIGHT * (1 - share):.0f}" for at, share in enumerate(shares))


# --- one student ------------------------------------------------------------------------------------------------------


def student_of(desk: Desk, id: str) -> tuple[Students, Student]:
    """Raises RefusedError if there is none of that id."""
    found = kept(desk)
    student = next((each for each in found.all() if each.id == id), None)
    if student is None or student.folder.is_symlink():
        raise RefusedError(404, "nothing-here")
    return found, student


def one_student(desk: Desk, id: str) -> tuple[Student, tuple[SessionRecord, ...], tuple[Curve, ...], tuple[Lane, ...]]:
    """The student, the rehearsals oldest first, the curve, and what this student misses."""
    found, student = student_of(desk, id)
    history: History = {student.name: found.sessions(student)}
    sessions = tuple(history[student.name])
    return student, sessions, _curves(history) if sessions else (), _lanes(desk, history) if sessions else ()


# --- one rehearsal ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Line:
    """What was said in one breath. clip: its recording's number; empty if none was kept."""

    text: str
    clip: str


@dataclass(frozen=True, slots=True)
class Check:
    """A credit that can be overruled. id: of the key point; NAMED for the part's name."""

    id: str
    title: str
    credited: bool


@dataclass(frozen=True, slots=True)
class Scored:
    """A part with its result in words and what was overruled of it."""

    part: PartRecord
    result: str
    said: tuple[str, ...]
    short: tuple[str, ...]
    wrong: tuple[str, ...]
    told: tuple[Overruling, ...]


@dataclass(frozen=True, slots=True)
class Replay:
    """A rehearsal beside its recording.

    heard: the points before anything was overruled.
    """

    student: Student
    session: SessionRecord
    heard: float
    lines: tuple[Line, ...]
    parts: tuple[Scored, ...]
    said: Mapping[str, str]

    def checks(self, key: str) -> list[Check]:
        """What can be overruled of a part. Raises RefusedError if there is no such part."""
        part = next((each for each in self.session.parts if each.key == key), None)
        if part is None:
            raise RefusedError(404, "nothing-here")
        ids = dict.fromkeys((*part.said, *part.short, *part.wrong))
        return [
            Check(NAMED, part.title, part.named),
            *(Check(id, check_words(self.said, part.key, id), id in part.said) for id in ids),
        ]


def replay(desk: Desk, id: str, rehearsal: str) -> Replay:
    """Raises RefusedError if there is no such student or rehearsal."""
    found, student = student_of(desk, id)
    session = next((each for each in found.sessions(student) if each.id == rehearsal), None)
    if session is None:
        raise RefusedError(404, "nothing-here")
    heard = next(each.points for each in found.heard(student) if each.id == rehearsal)
    said, talk = checks(library_of(desk.home)), rehearse_file().result

    def titles(part: PartRecord, ids: Sequence[str]) -> tuple[str, ...]:
        return tuple(check_words(said, part.key, each) for each in ids)

    def scored(part: PartRecord) -> Scored:
        result = PartScore(part.key, part.named, part.right, part.said, part.short, part.wrong, part.strays,
                           part.slipped, part.prompted)  # fmt: skip
        return Scored(
            part, remark(result, talk), titles(part, part.said), titles(part, part.short), titles(part, part.wrong),
            overrulings_of(session, part.key),
        )  # fmt: skip

    lines = [
        Line(text, number if _file(student, session, number) is not None else "")
        for number, text in ((f"{at:03d}", text) for at, text in enumerate(session.utterances, 1))
    ]
    return Replay(student, session, heard, tuple(lines), tuple(map(scored, session.parts)), said)


def check_words(said: Mapping[str, str], part: str, check: str) -> str:
    """A check as it is said; its id in words where the route no longer has it."""
    return said.get(f"{part.partition('/')[0]}.{check}", check.replace("-", " "))


def recording(desk: Desk, id: str, rehearsal: str, clip: str) -> Path:
    """Raises RefusedError for anything that is not a recording of this rehearsal."""
    found, student = student_of(desk, id)
    session = next((each for each in found.heard(student) if each.id == rehearsal), None)
    file = None if session is None else _file(student, session, clip)
    if file is None:
        raise RefusedError(404, "nothing-here")
    return file


def _file(student: Student, session: SessionRecord, clip: str) -> Path | None:
    if not _CLIP.fullmatch(clip):
        return None
    folder = student.folder / "clips" / session.id
    file = folder / f"{clip}.flac"
    plain = file.is_file() and not any(path.is_symlink() for path in (file, folder, folder.parent))
    return file if plain else None
