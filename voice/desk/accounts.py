"""Accounts of the desk: made, listed and removed by command; passwords are kept as argon2 hashes only."""

from __future__ import annotations

import hashlib
import re
import sqlite3
import threading
import unicodedata
from dataclasses import dataclass
from functools import cache
from typing import Literal, get_args

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from voice.data.fields import person
from voice.desk.store import Store, now_text
from voice.errors import SetupError

Role = Literal["driver", "mechanic", "office", "instructor", "administrator"]
ROLES: tuple[Role, ...] = get_args(Role)
LEAST, MOST = 12, 256  # characters of a password
_hasher = PasswordHasher()  # argon2id with the library's cost: 64 MB and some 50 ms for each try
_two_at_once = threading.Semaphore(2)  # more tries at once would only take the memory


@dataclass(frozen=True, slots=True)
class Person:
    """Who is signed in, or could be.

    name: as it stands under a certification.
    """

    id: int
    name: str
    role: Role


def key_of(name: str) -> str:
    """What names are compared by: "Ida Marsh" and "ida  marsh" are one."""
    return re.sub(r"\s+", " ", unicodedata.normalize("NFC", name)).strip().casefold()


def tries_of(name: str) -> str:
    """What failed sign-ins under a name are counted by; the name itself may be a password that was typed there."""
    return f"account:{hashlib.sha256(key_of(name).encode()).hexdigest()}"


def add(store: Store, name: str, role: str, password: str) -> Person:
    """Raises SetupError for a name that is taken or cannot be one, an unknown role, a password that is too short."""
    name = person(unicodedata.normalize("NFC", name))
    if role not in ROLES:
        raise SetupError(f"There is no role '{role}'.", f"Roles are: {', '.join(ROLES)}.")
    secret = _hashed(password)
    try:
        with store.writing() as connection:
            row = (key_of(name), name, role, secret, now_text())
            made = connection.execute("INSERT INTO account (key, name, role, secret, made) VALUES (?, ?, ?, ?, ?)", row)
            return Person(int(made.lastrowid or 0), name, _role(role))
    except SetupError as error:
        if isinstance(error.__cause__, sqlite3.IntegrityError):
            raise SetupError(f"There is an account '{name}' already.", "Remove it first, or set a password.") from error
        raise


def set_password(store: Store, name: str, password: str) -> None:
    """A new password; whoever is signed in with the old one is signed out, and a lock-out is lifted. Raises SetupError.

    Whoever guessed at the old password has learned nothing of the new one, so the tries need not count any more.
    """
    secret = _hashed(password)
    with store.writing() as connection:
        account = _known(connection, name)
        connection.execute("UPDATE account SET secret = ? WHERE id = ?", (secret, account))
        connection.execute("DELETE FROM session WHERE account = ?", (account,))
        connection.execute("DELETE FROM failure WHERE of = ?", (tries_of(name),))


def unlock(store: Store, name: str) -> None:
    """Failed tries under this name count no more. Those from an address still do. Raises SetupError."""
    with store.writing() as connection:
        _known(connection, name)
        connection.execute("DELETE FROM failure WHERE of = ?", (tries_of(name),))


def remove(store: Store, name: str) -> None:
    """Also ends the account's sessions. What it did stays in the trail. Raises SetupError if there is none."""
    with store.writing() as connection:
        connection.execute("DELETE FROM account WHERE id = ?", (_known(connection, name),))


def _known(connection: sqlite3.Connection, name: str) -> int:
    row = connection.execute("SELECT id FROM account WHERE key = ?", (key_of(name),)).fetchone()
    if row is None:
        raise SetupError(f"There is no account '{name}'.", "'gladhand desk account list' shows those there are.")
    return int(row[0])


def everyone(store: Store) -> list[Person]:
    with store.reading() as connection:
        rows = connection.execute("SELECT id, name, role FROM account ORDER BY key").fetchall()
    return [Person(id, name, role) for id, name, role in rows]


def known(store: Store, name: str) -> bool:
    """Whether there is an account of this name."""
    with store.reading() as connection:
        return connection.execute("SELECT 1 FROM account WHERE key = ?", (key_of(name),)).fetchone() is not None


def checked(store: Store, name: str, password: str) -> Person | None:
    """The person, if name and password fit. An unknown name takes as long as a wrong password."""
    with store.reading() as connection:
        query = "SELECT id, name, role, secret FROM account WHERE key = ?"
        row = connection.execute(query, (key_of(name),)).fetchone()
    secret = _nobody() if row is None else row[3]
    with _two_at_once:
        try:
            right = len(password) <= MOST and _hasher.verify(secret, password)
        except (VerificationError, InvalidHashError):
            right = False
    return Person(row[0], row[1], row[2]) if right and row is not None else None


def _hashed(password: str) -> str:
    if not LEAST <= len(password) <= MOST:
        raise SetupError(
            f"A password has {LEAST} to {MOST} characters.", "Several words in a row are easy to remember."
        )
    return _hasher.hash(password)


def _role(role: str) -> Role:
    return next(each for each in ROLES if each == role)


@cache
def _nobody() -> str:
    return _hasher.hash("nobody has this one")
