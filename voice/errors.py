"""Every error a user can meet: one sentence that says what is wrong, one that says what to do.

Silence and unclear speech are events of the conversation, not errors.
"""

from __future__ import annotations

from pathlib import Path


def printable(text: str) -> str:
    """A text for a terminal: what would steer it (control characters, halves of characters) is written out."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape", "surrogatepass").decode() for c in text)


class GladhandError(Exception):
    """Base of all expected failures.

    message: what is wrong, one sentence. hint: what to do about it, one sentence (may be empty).
    """

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint

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
    """A microphone or loudspeaker is missing, silent or lost. retry: the device may come back by itself."""

    def __init__(self, message: str, hint: str = "", *, retry: bool = False) -> None:
        super().__init__(message, hint)
        self.retry = retry


class JournalError(GladhandError):
    """The session's journal cannot be read, written or trusted."""


class RecordError(GladhandError):
    """A finished record is broken, altered, forged or of a version this program does not know."""


class StoppedError(GladhandError):
    """The user stopped the program; what was acknowledged is kept."""
