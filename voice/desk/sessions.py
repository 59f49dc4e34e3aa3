"""Who is signed in: random ids in a cookie, of which only the hash is kept; and how often signing in may fail."""

from __future__ import annotations

import hashlib
import hmac
import secrets
import time
from collections.abc import Iterable

from voice.desk.accounts import Person, tries_of
from voice.desk.store import Store

LONGEST, IDLE = 12 * 3600.0, 2 * 3600.0  # seconds: a shift; and without a page asked for
SEEN_EACH = 60.0  # seconds: how often it is written down that a session is in use
# Failed sign-ins in WINDOW seconds, after which no more is tried: of an account, and from an address.
WINDOW, OF_ACCOUNT, FROM_ADDRESS = 15 * 60.0, 5, 20


def _hash(id: str) -> str:
    return hashlib.sha256(id.encode()).hexdigest()


def begin(store: Store, person: Person) -> str:
    """A new session's id: 256 random bits, as the cookie has them."""
    id, now = secrets.token_urlsafe(32), time.time()
    with store.writing() as connection:
        connection.execute("DELETE FROM session WHERE made < ? OR seen < ?", (now - LONGEST, now - IDLE))
        connection.execute("INSERT INTO session VALUES (?, ?, ?, ?)", (_hash(id), person.id, now, now))
    return id


def find(store: Store, id: str, *, used: bool = True) -> Person | None:
    """Who a session belongs to; None if it was ended, is too old, or never was.

    used: whether somebody is at it; False for what a page asks by itself, so that one left open ends like any other.
    """
    now = time.time()
    with store.reading() as connection:
        row = connection.execute(
            "SELECT a.id, a.name, a.role, s.seen FROM session s JOIN account a ON a.id = s.account"
            " WHERE s.hash = ? AND s.made > ? AND s.seen > ?",
            (_hash(id), now - LONGEST, now - IDLE),
        ).fetchone()
    if row is None:
        return None
    if used and now - row[3] > SEEN_EACH:
        with store.writing(sure=False) as connection:
            connection.execute("UPDATE session SET seen = ? WHERE hash = ?", (now, _hash(id)))
    return Person(*row[:3])


def end(store: Store, id: str) -> None:
    with store.writing() as connection:
        connection.execute("DELETE FROM session WHERE hash = ?", (_hash(id),))


def form_token(id: str) -> str:
    """What each form carries: nobody without the session's id can work it out, and the id cannot be told from it."""
    return hmac.new(id.encode(), b"gladhand desk form 1", hashlib.sha256).hexdigest()


def fits(token: str, id: str) -> bool:
    return hmac.compare_digest(token.encode(), form_token(id).encode())


def _each(name: str, address: str) -> Iterable[tuple[str, int]]:
    return (tries_of(name), OF_ACCOUNT), (f"address:{address}", FROM_ADDRESS)


def attempt(store: Store, name: str, address: str) -> bool:
    """Counts a try before the password is looked at, so that tries at the same moment count too. False: too many."""
    now = time.time()
    with store.writing() as connection:
        connection.execute("DELETE FROM failure WHERE at < ?", (now - WINDOW,))
        for of, most in _each(name, address):
            (count,) = connection.execute("SELECT count(*) FROM failure WHERE of = ?", (of,)).fetchone()
            if count >= most:
                return False
        connection.executemany("INSERT INTO failure VALUES (?, ?)", [(of, now) for of, _ in _each(name, address)])
    return True


def locked_until(store: Store, name: str) -> float | None:
    """When an account can be tried again; None if it can be now."""
    with store.reading() as connection:
        first, count = connection.execute(
            "SELECT min(at), count(*) FROM failure WHERE of = ? AND at >= ?", (tries_of(name), time.time() - WINDOW)
        ).fetchone()
    return first + WINDOW if count >= OF_ACCOUNT else None


def succeeded(store: Store, name: str, address: str) -> None:
    """The try was none of an attacker's: the account's count begins anew, the address gets this one back."""
    of_account, from_address = (of for of, _ in _each(name, address))
    with store.writing() as connection:
        connection.execute("DELETE FROM failure WHERE of = ?", (of_account,))
        connection.execute(
            "DELETE FROM failure WHERE rowid = (SELECT max(rowid) FROM failure WHERE of = ?)", (from_address,)
        )
