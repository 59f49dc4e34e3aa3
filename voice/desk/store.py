"""The desk's own file, home/desk.sqlite: accounts, sessions, failed sign-ins, and the trail of who saw or changed what.
Also forecasts of wear that were worked out, which can be made again.

It lies beside the logbook and not in it: a depot's database holds no passwords, and the desk's role there needs no
right to write such tables. The trail can be added to only; triggers refuse to change or remove a line of it. Whoever
owns the file could take the triggers away: the trail is kept from those who use the pages, not from the owner.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from voice.data import durable
from voice.errors import SetupError

VERSION = 1  # of the tables: PRAGMA user_version
_TABLES = """
CREATE TABLE IF NOT EXISTS account (
    id INTEGER PRIMARY KEY, key TEXT NOT NULL UNIQUE, name TEXT NOT NULL, role TEXT NOT NULL, secret TEXT NOT NULL,
    made TEXT NOT NULL
);
CREATE TABLE IF NOT EXISTS session (
    hash TEXT PRIMARY KEY, account INTEGER NOT NULL REFERENCES account (id) ON DELETE CASCADE,
    made REAL NOT NULL, seen REAL NOT NULL
);
CREATE TABLE IF NOT EXISTS failure (of TEXT NOT NULL, at REAL NOT NULL);
CREATE INDEX IF NOT EXISTS ix_failure ON failure (of, at);
CREATE TABLE IF NOT EXISTS trail (
    number INTEGER PRIMARY KEY, at TEXT NOT NULL, who TEXT NOT NULL, role TEXT NOT NULL, address TEXT NOT NULL,
    page TEXT NOT NULL, about TEXT NOT NULL, outcome TEXT NOT NULL
);
CREATE TABLE IF NOT EXISTS forecast (unit TEXT PRIMARY KEY, ahead TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS wear (unit TEXT PRIMARY KEY, mark TEXT NOT NULL, at TEXT NOT NULL, body BLOB NOT NULL);
CREATE TABLE IF NOT EXISTS kept (name TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TRIGGER IF NOT EXISTS trail_stays BEFORE DELETE ON trail
    BEGIN SELECT RAISE(ABORT, 'the trail is never shortened'); END;
CREATE TRIGGER IF NOT EXISTS trail_holds BEFORE UPDATE ON trail
    BEGIN SELECT RAISE(ABORT, 'the trail is never changed'); END;
"""


class Store:
    """The file, made at the first use. Raises SetupError if it cannot be used."""

    def __init__(self, home: Path) -> None:
        self.path = home / "desk.sqlite"
        durable.make_folder(home)
        self.path.touch(durable.PRIVATE)
        with self.writing() as connection:
            (version,) = connection.execute("PRAGMA user_version").fetchone()
            if version > VERSION:
                raise SetupError(f"{self.path} is of a later version.", "Use the program that made it.")
            for statement in _statements():
                connection.execute(statement)
            connection.execute(f"PRAGMA user_version = {VERSION}")
        # As long as one connection is open the others, opened for each question, leave the log of changes as it is.
        self._idle = sqlite3.connect(self.path, check_same_thread=False)
        self._idle.execute("SELECT count(*) FROM account")

    def close(self) -> None:
        self._idle.close()

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        with self._open() as connection:
            yield connection

    @contextmanager
    def writing(self, *, sure: bool = True) -> Iterator[sqlite3.Connection]:
        """A transaction: all of it or nothing; it has the file to itself from the start.

        sure: whether it is on the disk at the end. A page that was only looked at may be lost by a power cut.
        """
        with self._open() as connection:
            connection.execute(f"PRAGMA synchronous = {'FULL' if sure else 'NORMAL'}")
            connection.execute("BEGIN IMMEDIATE")
            try:
                yield connection
            except BaseException:
                connection.execute("ROLLBACK")
                raise
            connection.execute("COMMIT")

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        try:
            connection = sqlite3.connect(self.path, timeout=10, isolation_level=None)
            try:
                connection.execute("PRAGMA journal_mode = WAL")
                connection.execute("PRAGMA foreign_keys = ON")
                yield connection
            finally:
                connection.close()
        except sqlite3.DatabaseError as error:
            raise SetupError(
                f"The desk's file {self.path} cannot be used: {error}.",
                "Make room, close other programs; if it is damaged, put a copy back or make the accounts anew.",
            ) from error


def _statements() -> Iterator[str]:
    """The tables' statements one by one: a script would end the transaction it is run in."""
    text = ""
    for line in _TABLES.strip().splitlines():
        text += line + "\n"
        if sqlite3.complete_statement(text):
            yield text
            text = ""


def now_text() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
