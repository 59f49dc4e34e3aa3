"""The trail: who saw or changed what, when, from where. It can be added to, and read; nothing else."""

from __future__ import annotations

from dataclasses import dataclass

from voice.data.fields import MAX_NAME
from voice.desk.accounts import Person
from voice.desk.store import Store, now_text


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the trail.

    at: UTC, as text.
    page: the page's name in the table of pages.
    about: which unit, record or form.
    outcome: "seen", "changed", "refused" or "failed".
    """

    at: str
    who: str
    role: str
    address: str
    page: str
    about: str
    outcome: str


def note(store: Store, person: Person | None, address: str, page: str, about: str, outcome: str) -> None:
    """On the disk when this returns, but for what was only seen."""
    who, role = (person.name, person.role) if person is not None else ("", "")
    line = (now_text(), who, role, address, page, about[:MAX_NAME], outcome)
    with store.writing(sure=outcome != "seen") as connection:
        connection.execute(
            "INSERT INTO trail (at, who, role, address, page, about, outcome) VALUES (?, ?, ?, ?, ?, ?, ?)", line
        )


def latest(store: Store, most: int = 200) -> list[Line]:
    """The last so many, newest first."""
    with store.reading() as connection:
        rows = connection.execute(
            "SELECT at, who, role, address, page, about, outcome FROM trail ORDER BY number DESC LIMIT ?", (most,)
        ).fetchall()
    return [Line(*row) for row in rows]
