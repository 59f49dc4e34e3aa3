"""Repairs due as an iCalendar file (RFC 5545): open defects, and limits that will be reached."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta

from icalendar import Calendar, Event, Todo

from voice.logbook.history import History
from voice.logbook.history import date as day
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
    text = words().calendar
    for history in histories:
        for life in history.open:
            if life.level < Level.REPAIR:
                continue
            detail = text.detail.format(
                found=day(life.opened), seen=day(life.seen), times=life.times, record=life.first
            )
            found.add_component(
                _entry(
                    f"{history.id}/{life.defect}/{life.number}",
                    text.repair.format(vehicle=history.name, title=life.title),
                    detail, life.opened.astimezone().date(), made, events, 
                    priority=1 if life.level is Level.HALT else 3,
                )
            )  # fmt: skip
        for wear, reach in soon(history.wears, within_days):
            due = (made + timedelta(days=reach.days_soonest)).astimezone().date()
            series = wear.series
            summary = text.wear.format(
                vehicle=history.name, place=place_words(wear), quantity=quantity_name(series.quantity)
            )
            sentence = wear_sentence(wear, history.system, aloud=False) or ""
            uid = f"{history.id}/{series.item}@{series.place}/{series.quantity}/{series.name}"
            found.add_component(_entry(uid, summary, sentence, due, made, events, priority=6))
    return bytes(found.to_ical())


def _entry(
    uid: str, summary: str, detail: str, due: date, made: datetime, events: bool, *, priority: int
) -> Event | Todo:
    entry: Event | Todo = Event() if events else Todo()
    entry.add("uid", f"{hashlib.sha256(uid.encode()).hexdigest()[:32]}@gladhand")
    entry.add("dtstamp", made.astimezone(UTC))
    entry.add("summary", summary)
    entry.add("description", detail)
    entry.add("priority", priority)
    if events:
        entry.add("dtstart", due)
        entry.add("transp", "TRANSPARENT")
    else:
        entry.add("due", due)
        entry.add("status", "NEEDS-ACTION")
    return entry
