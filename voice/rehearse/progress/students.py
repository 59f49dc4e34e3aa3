"""The students of this machine: names, rehearsals and clips, in plain files under home/students/. Nothing leaves it.

home/students/<id>/student.json   the name, as typed
home/students/<id>/sessions.jsonl one line a rehearsal, written through to the disk before it is reported
home/students/<id>/overruled.jsonl one line a credit that the instructor overruled
home/students/<id>/clips/<session>/001.flac
"""

from __future__ import annotations

import io
import json
import re
import shutil
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from filelock import FileLock
from pydantic import Field, ValidationError

from voice.data import durable
from voice.data.fields import MAX_PERSON, person
from voice.data.strict import Strict
from voice.errors import RecordError, SetupError
from voice.rehearse.listen.score import Scheme
from voice.rehearse.progress.overruled import Overruling, judged
from voice.rehearse.progress.record import SessionRecord
from voice.sound.port import RATE, Audio

Line = TypeVar("Line", bound=Strict)


class _StudentFile(Strict):
    """What stands in student.json."""

    name: str = Field(min_length=1, max_length=MAX_PERSON)


@dataclass(frozen=True, slots=True)
class Student:
    """A student with a folder.

    id: the folder's name.
    name: as typed.
    """

    id: str
    name: str
    folder: Path


@dataclass(frozen=True, slots=True)
class Erased:
    """What was deleted with a student."""

    name: str
    sessions: int
    clips: int


def _refuse(error: RecordError) -> None:
    raise error


class Students:
    """The students kept under one home folder.

    aside: is told what is wrong with a student or a rehearsal that cannot be read; that one is left out then, and the
    rest goes on. By default the error is raised.
    """

    def __init__(self, home: Path, aside: Callable[[RecordError], None] = _refuse) -> None:
        self._folder = home / "students"
        self._aside = aside

    def all(self) -> list[Student]:
        """By name."""
        found = []
        for file in sorted(self._folder.glob("*/student.json")):
            try:
                name = _StudentFile.model_validate_json(file.read_bytes()).name
            except OSError as error:
                self._aside(RecordError(*durable.trouble(f"{file} cannot be read", error)))
            except ValidationError:
                if not _is_free(file.parent):  # else a kill while enrolling left it
                    self._aside(RecordError(f"{file} is damaged.", "Delete that folder or restore it from a copy."))
            else:
                found.append(Student(file.parent.name, name, file.parent))
        return sorted(found, key=lambda each: (each.name.casefold(), each.id))

    def find(self, name: str) -> Student | None:
        """By name; capitals do not count."""
        wanted = _key(name)
        return next((each for each in self.all() if _key(each.name) == wanted), None)

    def known(self, name: str) -> Student:
        """Raises SetupError if there is none of that name."""
        student = self.find(name)
        if student is None:
            known = ", ".join(each.name for each in self.all()) or "none yet"
            raise SetupError(f'There is no student "{name}".', f"Known: {known}.")
        return student

    def enroll(self, name: str) -> Student:
        """The student of that name, new if there is none yet."""
        cleaned = person(name)
        if (known := self.find(cleaned)) is not None:
            return known
        base = _slug(cleaned)
        id, number = base, 2
        while not _is_free(self._folder / id):
            id, number = f"{base}-{number}", number + 1
        folder = self._folder / id
        try:
            durable.make_folder(folder)
            durable.replace(folder / "student.json", _StudentFile(name=cleaned).model_dump_json().encode() + b"\n")
        except OSError as error:
            raise RecordError(*durable.trouble(f"{folder} cannot be written", error)) from error
        return Student(id, cleaned, folder)

    def keep(self, student: Student, record: SessionRecord) -> None:
        """Add a rehearsal. It is on the disk when this returns. Raises RecordError."""
        self._append(student, "sessions.jsonl", record)

    def overrule(self, student: Student, decided: Sequence[Overruling]) -> None:
        """Add overrulings. They are on the disk when this returns. Raises RecordError."""
        self._append(student, "overruled.jsonl", *decided)

    @staticmethod
    def _append(student: Student, name: str, *content: Strict) -> None:
        file = student.folder / name
        lines = b"".join(each.model_dump_json().encode() + b"\n" for each in content)
        try:
            with FileLock(student.folder / ".lock", mode=durable.PRIVATE):
                # A line torn by a power cut is closed off first, and passed over when read.
                durable.append(file, lines if _ends_whole(file) else b"\n" + lines)
        except OSError as error:
            raise RecordError(*durable.trouble(f"{file} cannot be written", error)) from error

    def sessions(self, student: Student) -> list[SessionRecord]:
        """All rehearsals as they count, oldest first: as they were heard, with what was overruled since."""
        scheme, overruled = Scheme.shipped(), self._lines(student, "overruled.jsonl", Overruling)
        return [judged(session, overruled, scheme) for session in self.heard(student)]

    def heard(self, student: Student) -> list[SessionRecord]:
        """All rehearsals as they were heard, oldest first."""
        return sorted(self._lines(student, "sessions.jsonl", SessionRecord), key=lambda each: each.started)

    def _lines(self, student: Student, name: str, kind: type[Line]) -> list[Line]:
        """What stands in a file of the student. A torn line was never confirmed, and is passed over."""
        file = student.folder / name
        if not file.is_file():
            return []
        try:
            lines = file.read_bytes().split(b"\n")
        except OSError as error:
            self._aside(RecordError(*durable.trouble(f"{file} cannot be read", error)))
            return []
        found = []
        for number, line in enumerate(lines, 1):
            if not line:
                continue
            try:
                found.append(kind.model_validate_json(line))
            except ValidationError:
                if not durable.is_unfinished(line) or _is_json(line):
                    hint = "Delete the line or restore the file."
                    self._aside(RecordError(f"{file}:{number}: this rehearsal cannot be read.", hint))
        return found

    def keep_clip(self, student: Student, session: str, number: int, audio: Audio) -> Path:
        """The sound of one utterance, 16 kHz mono FLAC."""
        import soundfile

        folder = student.folder / "clips" / session
        path = folder / f"{number + 1:03d}.flac"
        sound = io.BytesIO()
        soundfile.write(sound, audio, RATE, format="FLAC")
        try:
            durable.make_folder(folder)
            durable.replace(path, sound.getvalue())
        except OSError as error:
            raise RecordError(*durable.trouble(f"{path} cannot be written", error)) from error
        return path

    def erase(self, student: Student) -> Erased:
        """Delete the name, all scores and all clips. Nothing of the student is left under home. Raises RecordError."""
        if student.folder.parent != self._folder or student.folder.is_symlink():
            raise RecordError(f"{student.folder} is not a folder of students.", "Nothing was deleted.")
        file = student.folder / "sessions.jsonl"
        sessions = sum(1 for line in file.read_bytes().splitlines() if line.strip()) if file.is_file() else 0
        clips = sum(1 for _ in student.folder.glob("clips/*/*.flac"))
        try:
            shutil.rmtree(student.folder)
        except OSError as error:
            raise RecordError(*durable.trouble(f"{student.folder} cannot be deleted whole", error)) from error
        return Erased(student.name, sessions, clips)


def _key(name: str) -> str:
    return " ".join(unicodedata.normalize("NFC", name).casefold().split())


def _slug(name: str) -> str:
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-") or "student"


def _is_free(folder: Path) -> bool:
    """Whether a new student can have this folder: it is not there, or a kill while enrolling left it empty."""
    if not folder.exists():
        return True
    return folder.is_dir() and all(
        each.name in ("student.json", "student.json.new") and each.stat().st_size == 0 for each in folder.iterdir()
    )


def _ends_whole(path: Path) -> bool:
    if not path.exists() or path.stat().st_size == 0:
        return True
    return path.read_bytes().endswith(b"\n")


def _is_json(line: bytes) -> bool:
    try:
        json.loads(line)
    except (ValueError, RecursionError):
        return False
    return True
