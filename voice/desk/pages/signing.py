"""Signing in and out, the style and the script: what is there before anybody is known."""

from __future__ import annotations

import secrets
from urllib.parse import unquote, urlencode, urlsplit

from starlette.responses import FileResponse, Response
from starlette.routing import compile_path

from voice.desk import sessions, trail
from voice.desk.accounts import Person, checked, known
from voice.desk.page import EVERYONE, OPEN, Page, RefusedError, Visit, turn_to
from voice.desk.wording import desk_dir

COOKIE, BEFORE = "gladhand-desk", "gladhand-desk-form"  # of who is signed in; and of the form of who is not
LONGEST = 2000  # characters of an address that is gone to after signing in


def cookie(visit: Visit, response: Response, name: str, value: str) -> None:
    """Out of reach of scripts and of other sites' forms. Gone with the browser; the server ends it much earlier."""
    response.set_cookie(name, value, httponly=True, samesite="lax", secure=visit.https, path="/")


def to_sign_in(visit: Visit, query: str) -> Response:
    """To the form, which leads on to the page that was asked for.

    query: of the address, as it came.
    """
    asked = visit.page.address(**visit.parts) + (f"?{query}" if query else "")
    back = visit.page.noted and len(asked) <= LONGEST
    return turn_to("/sign-in" + (f"?{urlencode({'to': asked})}" if back else ""))


def _after(visit: Visit, person: Person) -> str:
    """Where signing in leads: to the page that was asked for, or to the start.

    Anybody can make a link with any text for `to`. So it is only looked up in the table of pages, and the address is
    made anew from there: it has no host, and it changes nothing, since it is asked for with GET.
    """
    try:
        asked = urlsplit(visit.form.get("to") or visit.query.get("to", ""))
    except ValueError:
        return "/"
    if not asked.scheme and not asked.netloc:
        for page in visit.desk.pages:
            if page.method == "GET" and page.noted and page.roles != OPEN and page.lets_in(person):
                found = compile_path(page.path)[0].match(unquote(asked.path))
                if found is not None:
                    return page.address(**found.groupdict()) + (f"?{asked.query}" if asked.query else "")
    return "/"


def first(visit: Visit) -> Response:
    """To what this role's work begins with."""
    found = next((page for page in visit.desk.pages if page.menu and page.lets_in(visit.who)), None)
    if found is None:
        raise RefusedError(404, "nothing-here")
    return turn_to(found.path)


def sign_in_form(visit: Visit) -> Response:
    return turn_to(_after(visit, visit.person)) if visit.person is not None else _form(visit, "")


def _form(visit: Visit, wrong: str, status: int = 200) -> Response:
    # Nobody is signed in yet, so the form's token hangs on a cookie of its own: another site's form has neither.
    before = secrets.token_urlsafe(32)
    response = visit.render("sign_in", status=status, wrong=wrong, before=sessions.form_token(before))
    cookie(visit, response, BEFORE, before)
    return response


def sign_in(visit: Visit) -> Response:
    name, password = visit.form.get("name", ""), visit.form.get("password", "")
    if not sessions.fits(visit.form.get("token", ""), visit.cookies.get(BEFORE, "")):
        return _form(visit, "stale", 403)
    store = visit.desk.store
    told = name if known(store, name) else ""  # a password that was typed as a name is not written down
    if not sessions.attempt(store, name, visit.address):
        trail.note(store, None, visit.address, visit.page.name, told, "refused")
        return _form(visit, "often", 429)
    person = checked(store, name, password)
    if person is None:
        trail.note(store, None, visit.address, visit.page.name, told, "refused")
        return _form(visit, "wrong", 403)
    sessions.succeeded(store, name, visit.address)
    trail.note(store, person, visit.address, visit.page.name, name, "changed")
    response = turn_to(_after(visit, person))
    cookie(visit, response, COOKIE, sessions.begin(store, person))
    response.delete_cookie(BEFORE, path="/")
    return response


def sign_out(visit: Visit) -> Response:
    sessions.end(visit.desk.store, visit.cookies.get(COOKIE, ""))
    response = turn_to("/sign-in")
    response.delete_cookie(COOKIE, path="/")
    return response


def style(_: Visit) -> Response:
    return FileResponse(desk_dir() / "desk.css", media_type="text/css")


def script(_: Visit) -> Response:
    return FileResponse(desk_dir() / "desk.js", media_type="text/javascript")


def no_icon(_: Visit) -> Response:
    """Browsers ask for one by themselves."""
    return Response(status_code=204)


PAGES = [
    Page("/", "first", EVERYONE, first, noted=False),
    Page("/sign-in", "sign-in-form", OPEN, sign_in_form, noted=False),
    Page("/sign-in", "sign-in", OPEN, sign_in, method="POST", noted=False),
    Page("/sign-out", "sign-out", EVERYONE, sign_out, method="POST"),
    Page("/desk.css", "style", OPEN, style, noted=False),
    Page("/favicon.ico", "icon", OPEN, no_icon, noted=False),
    Page("/desk.js", "script", OPEN, script, noted=False),
]
