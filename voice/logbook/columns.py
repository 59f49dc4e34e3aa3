"""What the logbook's columns take: checked before a database sees it, so that no one row can stop the others. Pure.

A record can be whole, signed, and still hold what a column cannot: a NUL, half of a surrogate pair, a key of two
megabytes (PostgreSQL indexes at most 2,704 bytes), a time that has no UTC. The bounds are wide: no honest record comes
near them. They are this program's own.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable
from datetime import UTC, datetime
from fractions import Fraction
from typing import Any, Final

from voice.errors import RecordError

LONGEST_KEY: Final = 400  # bytes; at most five stand in one index
LONGEST_TEXT: Final = 8_000  # bytes
LONGEST_JSON: Final = 256_000  # characters: a profile, the list of sections
MOST: Final = 5_000  # readings, findings or sections of one record
LARGEST: Final = 1e12  # of a measured value
RECORD_BYTES: Final = 4 * 1024 * 1024  # of one record's JSON, fifty times the usual; what unpacks to more is not one
BODY_BYTES: Final = 2 * 1024 * 1024  # of the same packed, as it is handed in
FIRST_YEAR, LAST_YEAR = 2000, 2199
_EXACT: Final = re.compile(r"-?[0-9]{1,40}(\.[0-9]{1,40}|/[0-9]{1,40})?")


def key(value: str, what: str) -> str:
    """A text that stands in an index. Raises RecordError."""
    return _text(value, what, LONGEST_KEY)


def text(value: str, what: str) -> str:
    """Any other text. Raises RecordError."""
    return _text(value, what, LONGEST_TEXT)


def _text(value: str, what: str, longest: int) -> str:
    try:
        size = len(value.encode())
    except UnicodeEncodeError:
        raise _refused(what, "holds half of a character") from None
    if size > longest:
        raise _refused(what, f"is {size:,} bytes long, more than {longest:,}")
    if "\0" in value:
        raise _refused(what, "holds a NUL")
    return value


def moment(value: datetime, what: str) -> datetime:
    """A time with a zone, in years that can be meant. Raises RecordError."""
    if value.tzinfo is None:
        raise _refused(what, "has no time zone")
    # Before it is turned into UTC, which fails at either end of the calendar.
    if not FIRST_YEAR < value.year < LAST_YEAR:
        raise _refused(what, f"is of the year {value.year}")
    return value.astimezone(UTC)


def number(value: float, what: str) -> float:
    """A finite number of a size that can be meant. Raises RecordError."""
    if not math.isfinite(value) or abs(value) > LARGEST:
        raise _refused(what, f"is {value}")
    return value


def exact(value: str, what: str) -> Fraction:
    """A measured value as text ("7/32", "120", "0.5"). Raises RecordError, also for 1/0 and for a row of nines."""
    if not _EXACT.fullmatch(value):
        raise _refused(what, f"is not a number: {value[:40]!r}")
    try:
        return Fraction(value)
    except ZeroDivisionError:
        raise _refused(what, f"is not a number: {value!r}") from None


def tree(value: Any, what: str) -> None:
    """JSON: all its texts, and its length as a whole. Raises RecordError."""
    for inner in _texts(value):
        text(inner, what)
    size = len(json.dumps(value))
    if size > LONGEST_JSON:
        raise _refused(what, f"is {size:,} characters long, more than {LONGEST_JSON:,}")


def _texts(value: Any) -> Iterable[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for name, inner in value.items():
            yield str(name)
            yield from _texts(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _texts(inner)


def count(values: int, what: str) -> None:
    """Raises RecordError for more than there can be."""
    if values > MOST:
        raise _refused(what, f"are {values:,}, more than {MOST:,}")


def _refused(what: str, why: str) -> RecordError:
    return RecordError(f"{what} {why}; no logbook can hold that.", "It is not as the program wrote it.")
