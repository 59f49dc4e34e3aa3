"""The trail: who saw or changed what, when, from where. It can be added to, and read; nothing else."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from voice.data.fields import MAX_NAME
from voice.desk.accounts import Person
from voice.desk.store import Store, now_text

Outcome = Literal["seen", "changed", "refused", "failed"]
BY_COMMAND = "command line"  # in place of an address: an account was changed by a command on this machine


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the trail.

    at: UTC, as text.
    who, role: of who was signed in; empty for nobody, and for a command.
    address: the other side's, or BY_COMMAND.
    page: the page's name in the table of pages; of a command "account add" and the like.
    about: which unit, record, form or account.
    outcome: one of Outcome, as text.
    """

    at: str
    who: str
    role: str
    address: str
    page: str
    about: str
    outcome: str


def note(store: Store, person: Person | None, address: str, page: str, about: str, outcome: Outcome) -> None:
    """On the disk when this returns, but for what was only seen."""
    who, role = (person.name, person.role) if person is not None else ("", "")
    line = (now_text(), who, role, address, page, about[:MAX_NAME], outcome)
    with store.writing(sure=outcome != "seen") as connection:
        connection.execute(
            "INSERT INTO trail (at, who, role, address, page, about, outcome) VALUES (?, ?, ?, ?, ?, ?, ?)", line
        )


def by_command(store: Store, command: str, name: str) -> None:
    """What a command on this machine did to an account."""
    note(store, None, BY_COMMAND, f"account {command}", name, "changed")


def latest(store: Store, most: int = 200) -> list[Line]:
    """The last so many, newest first."""
    with store.reading() as connection:
        rows = connection.execute(
            "SELECT at, who, role, address, page, about, outcome FROM trail ORDER BY number DESC LIMIT ?", (most,)
        ).fetchall()
    return [Line(*row) for row in rows]
