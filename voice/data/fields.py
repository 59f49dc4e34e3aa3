"""The forms of what comes from outside: ids, names, texts, times and numbers, each bounded, each defined once.

What is beyond the bounds is refused where it comes in, so that nothing further in (a file's name, a database, a page, a
plot) meets it. The bounds have no source: each is far above what a walk makes, and below what does harm.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Annotated, Literal

from pydantic import AwareDatetime, Field, StringConstraints

from voice.errors import SetupError, shown

MAX_NAME = 300  # characters of a name or a key
MAX_PERSON = 100  # of a person's name, as it is typed
MAX_TITLE = 1000  # of a title: those of an item, its place and a defect in one
MAX_TEXT = 10_000  # of anything else that is text
MAX_ID = 64  # of an id that a person chooses
MAX_RECORD_ID = 100  # of a record's: a time, a vehicle's id and a few digits; with an ending it is a file's name
MAX_DIGITS = 30  # above and below the line of a fraction

# Neither NUL nor another control character but tab and line ends: databases, pages and terminals choke on them.
_CLEAN = r"[^\x00-\x08\x0b\x0c\x0e-\x1f\x7f]*"

ID = r"^[a-z][a-z0-9-]*$"
Id = Annotated[str, StringConstraints(pattern=ID, max_length=MAX_ID)]
# Of a profile at most MAX_ID; the units of a profile that describes a combination in one have an ending besides.
UNIT_ENDING = 8
VehicleId = Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9-]*$", max_length=MAX_ID + UNIT_ENDING)]
# Whose a defect is: left out where that goes without saying.
UnitId = Annotated[VehicleId | Literal[""], Field(exclude_if=lambda unit: not unit)]
# The one form of a record's (and session's) id. It is a file's name as it stands: no dot, no slash, no blank.
RecordId = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9-]*$", max_length=MAX_RECORD_ID)]
# A file beside the record: in its folder, or in one folder of it.
FILE_NAME = re.compile(r"^([A-Za-z0-9][A-Za-z0-9_-]*/)?[A-Za-z0-9][A-Za-z0-9._-]*$")
FileName = Annotated[str, StringConstraints(pattern=FILE_NAME.pattern, max_length=MAX_RECORD_ID)]

Name = Annotated[str, StringConstraints(pattern=rf"^{_CLEAN}$", max_length=MAX_NAME)]
Key = Name
Title = Annotated[str, StringConstraints(pattern=rf"^{_CLEAN}$", max_length=MAX_TITLE)]
Text = Annotated[str, StringConstraints(pattern=rf"^{_CLEAN}$", max_length=MAX_TEXT)]
Sha256 = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
Base64 = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9+/]*={0,2}$", max_length=MAX_NAME)]
UNIT = re.compile(r"^[A-Za-z]{1,20}(/[A-Za-z]{1,20})?$")
Unit = Annotated[str, StringConstraints(pattern=UNIT.pattern)]
# An exact number as text: "7/32", "120", "-3". Never over zero.
Exact = Annotated[
    str, StringConstraints(pattern=rf"^-?[0-9]{{1,{MAX_DIGITS}}}(/0*[1-9][0-9]*)?$", max_length=2 * MAX_DIGITS + 2)
]

Amount = Annotated[float, Field(ge=-1e30, le=1e30, allow_inf_nan=False)]
Count = Annotated[int, Field(ge=0, le=10**9)]
# With its offset from UTC. A clock that was never set begins in 1970; a walk with it is kept all the same.
Moment = Annotated[AwareDatetime, Field(ge=datetime(1970, 1, 1, tzinfo=UTC), lt=datetime(2200, 1, 1, tzinfo=UTC))]


def is_person(text: str) -> bool:
    """Whether a text can be somebody's name: of usual length, nothing in it steers a terminal, none of it is markup.

    Every page escapes a name as well; this is for what else a name may be pasted into.
    """
    return 0 < len(text) <= MAX_PERSON and shown(text) == text and not set(text) & set("<>")


def person(text: str) -> str:
    """Somebody's name as it was typed, with single blanks: who drives, learns, certifies or has an account.

    Raises SetupError for what cannot be one.
    """
    name = " ".join(text.split())
    if not name:
        raise SetupError("The name is empty.", "Give it in full.")
    if not is_person(name):
        raise SetupError(
            f"This cannot be a person's name: it has more than {MAX_PERSON} characters, or one that is '<', '>' or "
            "cannot be shown.",
            "Give first and last name.",
        )
    return name
