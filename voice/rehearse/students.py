"""The students of this machine: names, rehearsals and clips, in plain files under home/students/. Nothing leaves it.

home/students/<id>/student.json   the name, as typed
home/students/<id>/sessions.jsonl one line a rehearsal, written through to the disk before it is reported
home/students/<id>/clips/<session>/001.flac
"""

from __future__ import annotations

import json
import os
import re
import shutil
import unicodedata
from dataclasses import dataclass
from pathlib import Path

from filelock import FileLock
from pydantic import ValidationError

from voice.errors import RecordError, SetupError
from voice.hear.port import RATE, Audio
from voice.rehearse.record import SessionRecord


@dataclass(frozen=True, slots=True)
class Student:
    """id: the folder's name. name: as typed."""

    id: str
    name: str
    folder: Path


@dataclass(frozen=True, slots=True)
class Erased:
    """What was deleted with a student."""

    name: str
    sessions: int
    clips: int


class Students:
    """The students kept under one home folder."""

    def __init__(self, home: Path) -> None:
        self._folder = home / "students"

    def all(self) -> list[Student]:
        """By name."""
        if not self._folder.is_dir():
            return []
        found = []
        for file in self._folder.glob("*/student.json"):
            try:
                name = json.loads(file.read_text(encoding="utf-8"))["name"]
            except (ValueError, KeyError, TypeError):
                raise RecordError(f"{file} is damaged.", "Delete that folder or restore it from a copy.") from None
            found.append(Student(file.parent.name, str(name), file.parent))
        return sorted(found, key=lambda each: (each.name.casefold(), each.id))

    def find(self, name: str) -> Student | None:
        """By name (capitals do not count) or id."""
        wanted = _key(name)
        return next((each for each in self.all() if _key(each.name) == wanted or each.id == name), None)

    def named(self, name: str) -> Student:
        """Raises SetupError if there is none of that name."""
        student = self.find(name)
        if student is None:
            known = ", ".join(each.name for each in self.all()) or "none yet"
            raise SetupError(f'There is no student "{name}".', f"Known: {known}.")
        return student

    def enrol(self, name: str) -> Student:
        """The student of that name, new if there is none yet."""
        cleaned = " ".join(name.split())
        if not cleaned:
            raise SetupError("A student needs a name.", "Give one: --student NAME.")
        if (known := self.find(cleaned)) is not None:
            return known
        base = _slug(cleaned)
        id, number = base, 2
        while (self._folder / id).exists():
            id, number = f"{base}-{number}", number + 1
        folder = self._folder / id
        folder.mkdir(parents=True)
        _write(folder / "student.json", json.dumps({"name": cleaned}, ensure_ascii=False) + "\n")
        return Student(id, cleaned, folder)

    def keep(self, student: Student, record: SessionRecord) -> None:
        """Add a rehearsal. It is on the disk when this returns."""
        file = student.folder / "sessions.jsonl"
        with FileLock(student.folder / ".lock"), file.open("ab+") as out:
            if out.tell() and not _ends_whole(out.name):
                out.write(b"\n")  # a line torn by a power cut: closed off, and passed over when read
            out.write(record.model_dump_json().encode() + b"\n")
            out.flush()
            os.fsync(out.fileno())

    def sessions(self, student: Student) -> list[SessionRecord]:
        """All rehearsals, oldest first. A torn line is passed over; a damaged one raises RecordError."""
        file = student.folder / "sessions.jsonl"
        if not file.is_file():
            return []
        found = []
        for number, line in enumerate(file.read_bytes().split(b"\n"), 1):
            if not line.strip():
                continue
            try:
                found.append(SessionRecord.model_validate_json(line))
            except ValidationError:
                if _torn(line):
                    continue
                raise RecordError(
                    f"{file}:{number}: this rehearsal cannot be read.", "Delete the line or restore the file."
                ) from None
        return sorted(found, key=lambda each: each.started)

    def keep_clip(self, student: Student, session: str, number: int, audio: Audio) -> Path:
        """The sound of one utterance, 16 kHz mono FLAC."""
        import soundfile

        folder = student.folder / "clips" / session
        folder.mkdir(parents=True, exist_ok=True)
        path = folder / f"{number + 1:03d}.flac"
        soundfile.write(path, audio, RATE)
        return path

    def erase(self, student: Student) -> Erased:
        """Delete the name, all scores and all clips. Nothing of the student is left under home."""
        if student.folder.parent != self._folder or student.folder.is_symlink():
            raise RecordError(f"{student.folder} is not a folder of students.", "Nothing was deleted.")
        file = student.folder / "sessions.jsonl"
        sessions = sum(1 for line in file.read_bytes().splitlines() if line.strip()) if file.is_file() else 0
        clips = sum(1 for _ in student.folder.glob("clips/*/*.flac"))
        shutil.rmtree(student.folder)
        return Erased(student.name, sessions, clips)


def _key(name: str) -> str:
    return " ".join(unicodedata.normalize("NFC", name).casefold().split())


def _slug(name: str) -> str:
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-") or "student"


def _write(path: Path, text: str) -> None:
    with path.open("w", encoding="utf-8") as out:
        out.write(text)
        out.flush()
        os.fsync(out.fileno())


def _ends_whole(path: str) -> bool:
    with Path(path).open("rb") as file:
        file.seek(-1, os.SEEK_END)
        return file.read(1) == b"\n"


def _torn(line: bytes) -> bool:
    """Half a line of JSON, as a power cut leaves it."""
    try:
        json.loads(line)
    except ValueError:
        return True
    return False
