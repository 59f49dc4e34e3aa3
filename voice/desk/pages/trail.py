"""The trail, for the administrator."""

from __future__ import annotations

from starlette.responses import Response

from voice.desk.page import Page, Visit
from voice.desk.trail import latest


def show(visit: Visit) -> Response:
    return visit.render("trail", lines=latest(visit.desk.store))


PAGES = [Page("/trail", "trail", frozenset({"administrator"}), show, menu="trail")]
