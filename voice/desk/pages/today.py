"""Today: units with open defects first, what is overdue, what wears out soon; and the list of all units."""

from __future__ import annotations

from datetime import UTC, datetime

from starlette.responses import PlainTextResponse, Response

from voice.desk.accounts import Role
from voice.desk.data.fleet import fleet
from voice.desk.data.fresh import refresh, version
from voice.desk.page import EVERYONE, Page, Visit
from voice.logbook.history import moment
from voice.logbook.wording import level_words

YARD: frozenset[Role] = frozenset({"driver", "mechanic", "office", "administrator"})
MOST = 50  # units of one list; the rest is a click away


def today(visit: Visit) -> Response:
    refresh(visit.desk)
    now = version(visit.desk)
    return visit.render(
        "today", version=now, fleet=fleet(visit.desk, now), now=datetime.now(UTC), most=MOST, moment=moment,
        level=level_words,
    )  # fmt: skip


def units(visit: Visit) -> Response:
    refresh(visit.desk)
    wanted = visit.query.get("find", "").strip().casefold()
    every = fleet(visit.desk, version(visit.desk)).by_id
    found = [unit for unit in every if wanted in unit.id.casefold() or wanted in unit.name.casefold()]
    try:
        begin = max(0, min(int(visit.query.get("from", "0")), len(found)))
    except ValueError:
        begin = 0
    return visit.render(
        "units", units=found[begin : begin + MOST], count=len(found), begin=begin, most=MOST, moment=moment,
        level=level_words, find=visit.query.get("find", ""),
    )  # fmt: skip


def asked(visit: Visit) -> Response:
    refresh(visit.desk)
    return PlainTextResponse(version(visit.desk))


PAGES = [
    Page("/today", "today", YARD, today, menu="today", live=True),
    Page("/units", "units", YARD, units, menu="units"),
    Page("/version", "version", EVERYONE, asked, noted=False),
]
