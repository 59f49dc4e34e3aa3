"""Your account: who is signed in, and a new password."""

from __future__ import annotations

from starlette.responses import Response

from voice.desk import accounts, sessions
from voice.desk.page import EVERYONE, Page, Visit, turn_to
from voice.desk.pages.signing import COOKIE, cookie


def show(visit: Visit) -> Response:
    return _form(visit)


def _form(visit: Visit, wrong: str = "", status: int = 200) -> Response:
    return visit.render("account", status=status, wrong=wrong, least=accounts.LEAST, most=accounts.MOST)


def new_password(visit: Visit) -> Response:
    """Whoever finds a browser open has no password yet, so the old one is asked for and tries at it are counted."""
    store, name = visit.desk.store, visit.who.name
    old, new, again = (visit.form.get(field, "") for field in ("old", "new", "again"))
    if not accounts.LEAST <= len(new) <= accounts.MOST:
        return _form(visit, "length", 422)
    if new != again:
        return _form(visit, "again", 422)
    if new == old:
        return _form(visit, "same", 422)
    if not sessions.attempt(store, name, visit.address):
        return _form(visit, "often", 429)
    if accounts.checked(store, name, old) is None:
        return _form(visit, "old", 403)
    sessions.succeeded(store, name, visit.address)
    # This ends all sessions, a stolen copy of this one too; so this browser gets another.
    accounts.set_password(store, name, new)
    response = turn_to("/account?done=password")
    cookie(visit, response, COOKIE, sessions.begin(store, visit.who))
    return response


PAGES = [
    Page("/account", "account", EVERYONE, show),
    Page("/account", "account-password", EVERYONE, new_password, method="POST"),
]
