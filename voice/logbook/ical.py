"""Repairs due as an iCalendar file (RFC 5545): open defects, and limits that will be reached."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from icalendar import Calendar, Event, Todo

from voice.logbook.history import History
from voice.logbook.history import date as printed_day
from voice.logbook.trends import place_words, soon, wear_sentence
from voice.logbook.wording import words
from voice.measure.level import Level
from voice.measure.telling import quantity_name


def calendar(histories: Iterable[History], made: datetime, *, events: bool = False, within_days: float = 180) -> bytes:
    """An entry for each open defect that stands against leaving, due at once, and each limit reached soon.

    events: as all-day events instead of to-dos, which many calendars do not show. Entries keep their UID, so a newer
    file replaces them.
    """
    found = Calendar()
    found.add("prodid", "-//Gladhand//Logbook//EN")
    found.add("version", "2.0")
    found.add("x-wr-calname", words().calendar.name)
    for due in _all_due(histories, made, within_days):
        found.add_component(_entry(due, made, events))
    return bytes(found.to_ical())


@dataclass(frozen=True, slots=True)
class _Due:
    """Something to be done by a day.

    uid: what tells it from all others, the same in every file.
    priority: 1 the highest, 9 the lowest.
    """

    uid: str
    summary: str
    detail: str
    day: date
    priority: int


def _all_due(histories: Iterable[History], made: datetime, within_days: float) -> Iterator[_Due]:
    text = words().calendar
    for history in histories:
        for life in history.open:
            if life.level < Level.REPAIR:
                continue
            yield _Due(
                f"{history.id}/{life.defect}/{life.number}",
                text.repair.format(vehicle=history.name, title=life.title),
                text.detail.format(
                    found=printed_day(life.opened), seen=printed_day(life.seen), times=life.times, record=life.first
                ),
                life.opened.astimezone().date(),
                1 if life.level is Level.HALT else 3,
            )
        for wear, reach in soon(history.wears, within_days):
            series = wear.series
            yield _Due(
                f"{history.id}/{series.item}@{series.place}/{series.quantity}/{series.name}",
                text.wear.format(
                    vehicle=history.name, place=place_words(wear), quantity=quantity_name(series.quantity)
                ),
                wear_sentence(wear, history.system, aloud=False) or "",
                (made + timedelta(days=reach.days_soonest)).astimezone().date(),
                6,
            )


def _entry(due: _Due, made: datetime, events: bool) -> Event | Todo:
    entry: Event | Todo = Event() if events else Todo()
    entry.add("uid", f"{hashlib.sha256(due.uid.encode()).hexdigest()[:32]}@gladhand")
    entry.add("dtstamp", made.astimezone(UTC))
    entry.add("summary", due.summary)
    entry.add("description", due.detail)
    entry.add("priority", due.priority)
    if events:
        entry.add("dtstart", due.day)
        entry.add("transp", "TRANSPARENT")
    else:
        entry.add("due", due.day)
        entry.add("status", "NEEDS-ACTION")
    return entry
