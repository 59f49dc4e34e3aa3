"""Every error a user can meet: one sentence that says what is wrong, one that says what to do.

Silence and unclear speech are events of the conversation, not errors.
"""

from __future__ import annotations

import errno
import re
import sys
from pathlib import Path

# What a terminal would obey instead of showing it: control characters, line ends, marks that turn the direction of
# writing; and halves of characters, which no stream takes.
OBEYED = re.compile(r"[\x00-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")


def shown(text: str) -> str:
    """A text as it may be printed, on one line: whatever cannot be seen is written as an escape."""
    if text.isprintable():
        return text
    return "".join(each if each.isprintable() else ascii(each)[1:-1] for each in text)


def tell(error: object) -> None:
    """Prints an error, as every command does: one line on stderr."""
    print(f"gladhand: {shown(str(error))}", file=sys.stderr)


class GladhandError(Exception):
    """Base of all expected failures.

    message: what is wrong, one sentence.
    hint: what to do about it, one sentence (may be empty).
    """

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.message = shown(message)
        self.hint = shown(hint)

    def __str__(self) -> str:
        return f"{self.message} {self.hint}".strip()


class SetupError(GladhandError):
    """Something needed before a start is missing or wrong: a model, a program, an option."""


class DataError(SetupError):
    """A route, vehicle, limit or wording file is wrong. Points at file and line where known."""

    def __init__(self, message: str, hint: str = "", *, file: Path | None = None, line: int | None = None) -> None:
        self.file = file
        self.line = line
        place = "" if file is None else f"{file}:{line}: " if line else f"{file}: "
        super().__init__(place + message, hint)


class DeviceError(GladhandError):
    """A microphone or loudspeaker is missing, silent or lost.

    retry: the device may come back by itself.
    """

    def __init__(self, message: str, hint: str = "", *, retry: bool = False) -> None:
        super().__init__(message, hint)
        self.retry = retry


class JournalError(GladhandError):
    """The session's journal cannot be read, written or trusted."""


class RecordError(GladhandError):
    """A finished record is broken, altered, forged or of a version this program does not know."""


class StoppedError(GladhandError):
    """The user stopped the program; what was acknowledged is kept."""


def remedy(error: OSError, otherwise: str) -> str:
    """What to do about a failure of the system: its own cause where there is one, else what the caller says."""
    if error.errno in (errno.EMFILE, errno.ENFILE):
        return "Close other programs, or allow more open files (ulimit -n)."
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return "Free some space on the disk."
    if error.errno in (errno.EAGAIN, errno.ENOMEM):
        return "Close other programs: memory or the number of processes is used up."
    return otherwise
