"""What a vehicle will be asked, for whoever is signed in. Read-only."""

from __future__ import annotations

from typing import get_args

from starlette.responses import Response

from voice.desk.data.asked import choices, walk
from voice.desk.page import EVERYONE, Page, Visit
from voice.route.model import Length

LENGTHS: tuple[Length, ...] = get_args(Length)


def routes(visit: Visit) -> Response:
    found, faults = choices(visit.desk.home)
    return visit.render("routes", found=found, faults=faults)


def route(visit: Visit) -> Response:
    wanted = visit.query.get("length")
    length: Length = next((each for each in LENGTHS if each == wanted), "normal")
    route, trailer = (visit.query.get(name) or None for name in ("route", "trailer"))
    found = walk(visit.desk.home, visit.parts["vehicle"], route, length, trailer)
    return visit.render("route", found=found, length=length, lengths=LENGTHS)


PAGES = [
    Page("/routes", "routes", EVERYONE, routes, menu="routes"),
    Page("/routes/{vehicle}", "route", EVERYONE, route),
]
