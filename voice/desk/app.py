"""Serves the table of pages: who is signed in, may this role, is the form ours, what goes into the trail, the headers.

Each page passes through `_answer`; there is no other way to one.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from urllib.parse import parse_qsl, urlsplit

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from voice.data.fields import MAX_TEXT
from voice.desk import sessions
from voice.desk.page import OPEN, Desk, Page, RefusedError, Visit
from voice.desk.pages import table
from voice.desk.pages.signing import COOKIE, to_sign_in
from voice.desk.trail import Outcome
from voice.desk.wording import words
from voice.errors import GladhandError

LARGEST = 128 * 1024  # bytes of a form
LOCAL = ("127.0.0.1", "localhost", "[::1]")
HOST = re.compile(r"(\[[0-9a-f:.]+\]|[a-z0-9]([a-z0-9._-]*[a-z0-9])?)(?::[0-9]{1,5})?")  # and perhaps its port
# Nothing from elsewhere, nothing inline, in nobody's frame; what a page shows is kept by no cache.
HEADERS = {
    "Content-Security-Policy": "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; "
    "media-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
    "Cache-Control": "no-store",
}
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")  # no record takes them: voice.data.fields
_NOWHERE = Page("/", "unknown", OPEN, lambda _: Response(), noted=False)


class _Headers:
    """Puts HEADERS on every answer, those of errors too."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start":
                ours = [(name.lower().encode(), value.encode()) for name, value in HEADERS.items()]
                names = {name for name, _ in ours}
                message["headers"] = [*(pair for pair in message.get("headers", []) if pair[0] not in names), *ours]
            await send(message)

        await self.app(scope, receive, sending if scope["type"] == "http" else send)


class _Hosts:
    """Lets through what is asked for under one of our names; else somebody else's name may lead to this machine.

    It answers in plain words: a page would ask for its style under the same name.
    """

    def __init__(self, app: ASGIApp, hosts: tuple[str, ...]) -> None:
        self.app, self.hosts = app, {host.lower() for host in hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        given = HOST.fullmatch(Request(scope).headers.get("host", "").lower()) if scope["type"] == "http" else None
        if scope["type"] != "http" or (given is not None and given[1] in self.hosts):
            await self.app(scope, receive, send)
            return
        said = words("desk")["other_name"]
        text = said["unclear"] if given is None else said["unknown"].format(name=given[1])
        await PlainTextResponse(f"{text}\n", 400)(scope, receive, send)


def make_app(desk: Desk, hosts: tuple[str, ...] = LOCAL) -> ASGIApp:
    """The application.

    hosts: names it is asked for under; a request for another (a name that was turned to this machine) is refused.
    """
    desk = replace(desk, pages=table())
    # A path of several methods is several routes, and the first that matches it would refuse the others' methods.
    paths: dict[str, list[Page]] = {}
    for page in desk.pages:
        paths.setdefault(page.path, []).append(page)
    routes = [
        Route(path, partial(_choose, desk, {page.method: page for page in pages}), methods=[p.method for p in pages])
        for path, pages in paths.items()
    ]
    app = Starlette(
        routes=routes,
        middleware=[Middleware(_Hosts, hosts)],
        exception_handlers={HTTPException: partial(_no_such, desk), Exception: partial(_broken, desk)},
    )
    return _Headers(app)  # around all of it: what Starlette answers to a fault of the program passes no middleware


async def _choose(desk: Desk, pages: Mapping[str, Page], request: Request) -> Response:
    method = "GET" if request.method == "HEAD" else request.method
    form: dict[str, str] | None = {}
    if method == "POST":
        form = await _form(request)
    return await run_in_threadpool(_answer, desk, pages[method], request, form)


async def _form(request: Request) -> dict[str, str] | None:
    """The fields of a form, None for one that is too large or none of ours."""
    data = b""
    async for part in request.stream():
        data += part
        if len(data) > LARGEST:
            return None
    try:
        pairs = parse_qsl(data.decode("ascii"), keep_blank_values=True, errors="strict", max_num_fields=200)
    except ValueError:
        return None
    return {name: _CONTROL.sub("", value.replace("\r\n", "\n"))[: MAX_TEXT + 1] for name, value in pairs}


def _answer(desk: Desk, page: Page, request: Request, form: dict[str, str] | None) -> Response:
    visit = _visit(desk, page, request, form or {})
    try:
        if form is None:
            raise RefusedError(413, "too-large")
        _let_in(visit, request)
        response = page.show(visit)
    except RefusedError as error:
        if error.status == 401 and page.method == "GET":
            return to_sign_in(visit, request.url.query)
        return _said(visit, error.status, error.why)
    except GladhandError as error:
        return _said(visit, 503, "not-shown" if page.method == "GET" else "failed", str(error))
    if page.noted:
        # A form that is shown once more, with what is wrong in it, has changed nothing.
        done: Outcome = "seen" if page.method == "GET" else "changed"
        visit.note(_about(visit), done if response.status_code < 400 else "refused")
    return response


def _visit(desk: Desk, page: Page, request: Request, form: dict[str, str]) -> Visit:
    id = request.cookies.get(COOKIE, "")
    person = sessions.find(desk.store, id, used=page.noted) if id else None
    return Visit(
        desk=desk,
        page=page,
        person=person,
        parts=request.path_params,
        query={name: value[:MAX_TEXT] for name, value in request.query_params.items()},
        form=form,
        address=request.client.host if request.client is not None else "",
        token=sessions.form_token(id) if person is not None else "",
        cookies=request.cookies,
        https=request.url.scheme == "https",
    )


def _let_in(visit: Visit, request: Request) -> None:
    """Raises RefusedError."""
    page = visit.page
    if page.method != "GET":
        # Said by the browser, not by the page that sends the form: another site's form is told by it at once.
        origin = request.headers.get("origin")
        if origin is not None and urlsplit(origin).netloc != request.headers.get("host"):
            raise RefusedError(403, "foreign-form")
    if page.roles == OPEN:
        return
    if not page.lets_in(visit.who):
        raise RefusedError(403, "other-role")
    if page.method != "GET" and not sessions.fits(visit.form.get("token", ""), visit.cookies.get(COOKIE, "")):
        raise RefusedError(403, "foreign-form")


def _about(visit: Visit) -> str:
    return " ".join([*map(str, visit.parts.values()), *(f"{name}={value}" for name, value in visit.query.items())])


def _said(visit: Visit, status: int, why: str, detail: str = "") -> Response:
    """A page that says what is wrong. What was refused is noted, so that trying doors is seen."""
    if visit.page.noted:
        visit.note(_about(visit), "refused" if status < 500 else "failed")
    return visit.render("refused", status=status, why=why, detail=detail)


def _outside(desk: Desk, request: Request) -> Visit:
    return _visit(desk, _NOWHERE, request, {})


async def _no_such(desk: Desk, request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 404
    return await run_in_threadpool(lambda: _said(_outside(desk, request), status, "nothing-here"))


async def _broken(desk: Desk, request: Request, error: Exception) -> Response:
    """A fault of the program: told on stderr by the server, and to the reader without what is inside."""
    return await run_in_threadpool(lambda: _said(_outside(desk, request), 500, "broken"))
