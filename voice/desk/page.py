"""What a page of the desk is made of. voice/desk/pages has lists of these, voice/desk/app serves them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal
from urllib.parse import quote

from sqlalchemy import Engine
from starlette.responses import HTMLResponse, RedirectResponse, Response

from voice.desk import trail
from voice.desk.accounts import ROLES, Person, Role
from voice.desk.store import Store
from voice.desk.wording import environment, words

EVERYONE: frozenset[Role] = frozenset(ROLES)  # of those who are signed in
OPEN: frozenset[Role] = frozenset()  # also to those who are not: only what sign-in itself needs


class RefusedError(Exception):
    """Ends a visit with a page that says why.

    status: of HTTP.
    why: key of `refusals` in prompts/desk/desk.yaml.
    """

    def __init__(self, status: int, why: str) -> None:
        super().__init__(why)
        self.status, self.why = status, why


@dataclass(frozen=True, slots=True)
class Desk:
    """What all pages share.

    home: the Gladhand folder.
    engine: the logbook's, this device's or the depot's.
    depot: whether it is a depot's.
    pages: all there are, in the order of the menu.
    """

    home: Path
    store: Store
    engine: Engine
    depot: bool
    pages: tuple[Page, ...] = ()


@dataclass(frozen=True, slots=True)
class Visit:
    """One request, let in already: the role may see the page, and the token of a form was right.

    person: None on a page that is open to everyone.
    parts: of the path ({unit}); query, form: as they came, the last of each name, at most 10,000 characters each.
    address: the other side's.
    token: for the forms on the page.
    """

    desk: Desk
    page: Page
    person: Person | None
    parts: Mapping[str, str]
    query: Mapping[str, str]
    form: Mapping[str, str]
    address: str
    token: str
    cookies: Mapping[str, str] = field(default_factory=dict)
    https: bool = False

    @property
    def who(self) -> Person:
        """The person. Raises RefusedError if nobody is signed in."""
        if self.person is None:
            raise RefusedError(401, "signed-out")
        return self.person

    def may(self, name: str) -> bool:
        """Whether this person may see the page of that name."""
        return any(page.name == name and page.lets_in(self.person) for page in self.desk.pages)

    def render(self, template: str, *, status: int = 200, **fields: Any) -> Response:
        """A page from prompts/desk/<template>.html.j2.

        fields: what the template prints besides `visit`, `person`, `menu` and `text` (desk.yaml).
        """
        shown = environment().get_template(f"{template}.html.j2")
        menu = [page for page in self.desk.pages if page.menu and self.person is not None and page.lets_in(self.person)]
        text = shown.render(visit=self, person=self.person, menu=menu, text=words("desk"), **fields)
        return HTMLResponse(text, status)

    def note(self, about: str, outcome: trail.Outcome = "seen") -> None:
        """A line of the trail besides the one that each visit leaves."""
        trail.note(self.desk.store, self.person, self.address, self.page.name, about, outcome)


@dataclass(frozen=True, slots=True)
class Page:
    """One row of the table of pages.

    path: as Starlette writes it: "/units/{unit}".
    name: what the trail calls it; unique.
    roles: who may see it; OPEN: also who is not signed in.
    show: makes the answer. Raises RefusedError, GladhandError.
    method: GET changes nothing; a POST carries the form's token.
    menu: its key in `menu` of prompts/desk/desk.yaml; empty: not in the menu.
    noted: False for what asks by itself and shows nothing (the version), and for style and script.
    live: whether the page loads itself anew when a record comes in.
    """

    path: str
    name: str
    roles: frozenset[Role]
    show: Callable[[Visit], Response]
    method: Literal["GET", "POST"] = "GET"
    menu: str = ""
    noted: bool = True
    live: bool = False

    def lets_in(self, person: Person | None) -> bool:
        return not self.roles or (person is not None and person.role in self.roles)

    def address(self, **parts: object) -> str:
        """The path with its parts filled in, each quoted whole: a slash in one cannot make another path."""
        return self.path.format(**{name: quote(str(part), safe="") for name, part in parts.items()})


def turn_to(path: str) -> Response:
    """After a form: the page to look at, asked for with GET, so that loading it again sends nothing twice."""
    return RedirectResponse(path, 303)
