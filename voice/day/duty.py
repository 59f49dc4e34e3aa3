"""Changes of duty status: home/duty.jsonl, one line each, only ever added to.

It is what drivers noted for the checks on the road, not the log that the law asks for. The record of a day, which is
signed, repeats the lines it rests on.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from filelock import FileLock, Timeout
from pydantic import ValidationError

from voice.data import durable
from voice.data.fields import Amount, Moment, Name
from voice.day.rules import Status
from voice.day.spans import Duty
from voice.errors import GladhandError, RecordError, tell
from voice.record.model import Model

Telling = Callable[[GladhandError], None]


class DutyLine(Model):
    """A line of the file, and of the record of a day.

    miles: the odometer, if it was given.
    """

    at: Moment
    driver: Name
    status: Status
    miles: Amount | None = None

    @property
    def duty(self) -> Duty:
        return Duty(self.at, self.driver, self.status, self.miles)


def line_of(duty: Duty) -> DutyLine:
    return DutyLine(at=duty.at, driver=duty.driver, status=duty.status, miles=duty.miles)


def duty_file(home: Path) -> Path:
    return home / "duty.jsonl"


def note_duty(home: Path, duty: Duty) -> None:
    """Adds a change; it is on the disk when this returns. Raises RecordError."""
    path = duty_file(home)
    line = json.dumps(line_of(duty).model_dump(mode="json"), ensure_ascii=False, separators=(",", ":")) + "\n"
    try:
        durable.make_folder(home)
        with FileLock(f"{path}.lock", timeout=10, mode=durable.PRIVATE):
            data = path.read_bytes() if path.exists() else b""
            end = data.rfind(b"\n") + 1
            # The beginning of a line is what a kill left, and was never confirmed. Damage is kept, and told when read.
            torn = durable.is_unfinished(data[end:])
            broken = b"\n" if data[end:] and not torn else b""
            durable.append(path, broken + line.encode(), keep=end if torn else None)
    except Timeout as error:
        raise RecordError(f"{path} is in use by another program.", "Try again in a moment.") from error
    except OSError as error:
        raise RecordError(*durable.trouble(f"{path} cannot be written", error)) from error


def read_duty(home: Path, aside: Telling = tell) -> list[Duty]:
    """All changes. Raises RecordError.

    aside: is told of a line that cannot be read; it is left out, and the rest counts.
    """
    path = duty_file(home)
    try:
        data = path.read_bytes() if path.exists() else b""
    except OSError as error:
        raise RecordError(*durable.trouble(f"{path} cannot be read", error)) from error
    found = []
    lines = data.split(b"\n")
    for number, line in enumerate(lines, start=1):
        if not line or (number == len(lines) and durable.is_unfinished(line)):
            continue
        try:
            found.append(DutyLine.model_validate_json(line).duty)
        except ValidationError:
            message = f"{path}: line {number} is damaged and left out."
            aside(RecordError(message, "Restore the file from a copy, or take the line out."))
    return found
