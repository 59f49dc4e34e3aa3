"""What stands in a journal: the heading and the lines as JSON, within bounds, and their chain of checksums."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any, ClassVar

from pydantic import AfterValidator, AwareDatetime, ConfigDict, Field, TypeAdapter, ValidationError
from pydantic_core import from_json
from typing_extensions import TypedDict

from voice.data import durable
from voice.errors import JournalError
from voice.route.model import Depth, Length
from voice.walk.event import Event, StoredEvent

VERSION = 2  # 1 had no hashes of the plan and the limits
_KNOWN_VERSIONS = (1, 2)
_DIGITS = 16
START = "0" * _DIGITS
_LONGEST = 1_000_000  # bytes of a line; a note of ten minutes takes about 10,000
_MOST_SECONDS = 1e9  # of a session, or of a computer's uptime: 31 years


def _usual(moment: datetime) -> datetime:
    """A moment with which one can reckon: adding a session's seconds stays within what datetime knows."""
    if not 1970 <= moment.year <= 9000:
        raise ValueError("no usual year")
    return moment


_STRICT = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False)
_Moment = Annotated[AwareDatetime, AfterValidator(_usual)]
_Seconds = Annotated[float, Field(ge=0, le=_MOST_SECONDS)]
_Name = Annotated[str, Field(max_length=200)]
_Sha256 = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]


@dataclass(frozen=True, slots=True)
class Heading:
    """What the journal is of.

    session: its id.
    utc: when it began, with the local offset.
    odometer, hubodometer: as they were given.
    plan_sha256, limits_sha256: of the files beside the journal; None in a journal of version 1.
    """

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT

    session: _Name
    program: _Name
    utc: _Moment
    data_sha256: _Sha256
    driver: _Name | None = None
    odometer: _Name | None = None
    hubodometer: _Name | None = None
    drivers: Annotated[tuple[_Name, ...], Field(max_length=10_000)] = ()
    length: Length = "normal"
    depth: Depth = "each-part"
    version: int = VERSION
    plan_sha256: _Sha256 | None = None
    limits_sha256: _Sha256 | None = None


class HearingNote(TypedDict, total=False):
    """How an answer was heard.

    clip: below the session's folder.
    noise_db, snr_db: dB.
    confidence: 0..1.
    """

    __pydantic_config__ = _STRICT  # type: ignore[misc]

    engine: str
    model: str
    words: str
    confidence: float
    noise_db: float
    snr_db: float
    clip: Annotated[str, Field(pattern=r"^clips/[0-9]{5,9}\.flac$")]
    clip_sha256: _Sha256


@dataclass(frozen=True, slots=True)
class Line:
    """One event.

    n: its number from 0.
    utc: wall time with local offset.
    mono: the computer's monotonic seconds.
    hearing: how it was heard, or empty.
    """

    n: int
    utc: datetime
    mono: float
    event: Event
    hearing: HearingNote = field(default_factory=lambda: HearingNote())


@dataclass(frozen=True, slots=True)
class First:
    """The first line as it stands in the file."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT

    journal: Heading


@dataclass(frozen=True, slots=True)
class _Written:
    """A line as it stands in the file."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT

    utc: _Moment
    mono: _Seconds
    event: StoredEvent
    hearing: HearingNote = field(default_factory=lambda: HearingNote())


FIRST: TypeAdapter[First] = TypeAdapter(First)
_WRITTEN: TypeAdapter[_Written] = TypeAdapter(_Written)


def chained(previous: str, body: bytes) -> str:
    return hashlib.sha256(previous.encode() + body).hexdigest()[:_DIGITS]


def encode(previous: str, content: Mapping[str, Any]) -> tuple[bytes, str]:
    """A line and its checksum. Raises ValueError for what could not be read again, so that nobody relies on it."""
    body = json.dumps(content, ensure_ascii=False, separators=(",", ":")).encode()
    (FIRST if "journal" in content else _WRITTEN).validate_json(body)
    digest = chained(previous, body)
    line = b"%s\t%s\n" % (body, digest.encode())
    if len(line) > _LONGEST:
        raise ValueError("it is too long")
    return line, digest


def follows(at: float, before: float) -> bool:
    """Whether an event of this time may come after one of the time before; both in seconds of the session."""
    return before <= at <= _MOST_SECONDS


class Chain:
    """The good part of a journal, as far as it was read. Each method raises ValueError for what does not fit."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.heading: Heading | None = None
        self.lines: list[Line] = []
        self.digest = START
        self.size = 0

    def take(self, line: bytes) -> None:
        """The next line, without its line end."""
        body, _, digest = line.rpartition(b"\t")
        if chained(self.digest, body).encode() != digest:
            raise ValueError("its checksum does not fit")
        if len(line) > _LONGEST:
            raise ValueError("it is too long")
        try:
            if self.heading is None:
                self._check_version(body)
                self.heading = FIRST.validate_json(body).journal
            else:
                self.lines.append(self._line(_WRITTEN.validate_json(body)))
        except ValidationError as error:
            raise ValueError("it has not the expected form") from error
        self.digest = digest.decode()
        self.size += len(line)

    def _check_version(self, body: bytes) -> None:
        content = from_json(body)
        heading = content.get("journal") if isinstance(content, dict) else None
        version = heading.get("version") if isinstance(heading, dict) else None
        if type(version) is int and version not in _KNOWN_VERSIONS:
            raise JournalError(
                f"{self.path} was written in journal version {version}; this program reads up to version {VERSION}.",
                "Update the program.",
            )

    def _line(self, written: _Written) -> Line:
        before = self.lines[-1].event.at if self.lines else 0.0
        if not follows(written.event.at, before):
            raise ValueError("its time goes back")
        return Line(len(self.lines), written.utc, written.mono, written.event, written.hearing)

    def is_torn(self, tail: bytes) -> bool:
        """Whether a last line without its end is the beginning of a line that was never finished."""
        body, tab, digest = tail.partition(b"\t")
        if not durable.is_unfinished(body):
            return False
        return not tab or (len(digest) < _DIGITS and chained(self.digest, body).encode().startswith(digest))

    def take_unended(self, tail: bytes) -> None:
        """A last line whose line end is missing, or is another byte: the checksum says that it is whole."""
        try:
            self.take(tail)
        except ValueError:
            self.take(tail[:-1])
