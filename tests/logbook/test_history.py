"""A vehicle's history: gathered, as a table, as a page that a browser shows, and as a calendar."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import icalendar
import pytest
from rich.console import Console
from sqlalchemy import Engine

from tests.logbook.data import checked, day, defect, record, repair, still, tread
from voice.errors import SetupError
from voice.judge.load import load_limits
from voice.logbook.database import initialize, open_engine, parse_url, reading, writing
from voice.logbook.history import History, as_tables, gather
from voice.logbook.ical import calendar
from voice.logbook.page import render_history
from voice.logbook.store import import_records, import_repairs
from voice.logbook.trends import spoken_outlook
from voice.logbook.wear import Reach
from voice.record.model import InspectionRecord

LIMITS = load_limits()
MADE = datetime(2026, 9, 1, 12, tzinfo=UTC)
LAST = day(7 * 19)
HORN = defect("horn#not-working", "halt")
LAMP = defect("lamp@left#out")


def fill(engine: Engine) -> None:
    """20 weekly walks: tread from 14/32, half a 32nd a week; the lamp repaired, the horn not; one hurried walk."""
    made: list[InspectionRecord] = []
    for week in range(20):
        defects = [LAMP] if week == 3 else [HORN] if week == 15 else []
        carried = [still(HORN, made[15])] if week > 15 else []
        made.append(
            record(
                f"w{week}", day(7 * week), defects=defects, carried=carried, odometer=100_000 + 2_800 * week,
                readings=[tread(f"{round(14 - week / 2)}/32")], seconds=60 if week != 17 else 2,
                driver="A. <b>Sample</b>",
            )
        )  # fmt: skip
    with writing(engine) as session:
        import_records(session, [checked(one) for one in made], ["local"] * len(made))
        import_repairs(session, [repair(LAMP.key, day(24))], ["local"])


@pytest.fixture
def history(engine: Engine) -> History:
    fill(engine)
    with reading(engine) as session:
        return gather(session, "unit-0001-tractor", LIMITS, LAST)


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    engine = open_engine(parse_url(f"sqlite:///{tmp_path_factory.mktemp('page')}/logbook.sqlite", "test"))
    initialize(engine)
    fill(engine)
    with reading(engine) as session:
        yield render_history(gather(session, "unit-0001-tractor", LIMITS, LAST), MADE)
    engine.dispose()


def test_everything_is_gathered(history: History) -> None:
    assert (history.name, len(history.visits)) == ("tractor of unit 1", 20)
    assert [life.defect for life in history.open] == [HORN.key]
    assert history.open[0].times == 5
    assert [(life.defect, life.closed) for life in history.closed] == [(LAMP.key, day(24))]
    (wear,) = history.wears
    assert wear.trend is not None
    assert wear.trend.slope * 2_800 == pytest.approx(-0.5 / 32, rel=0.1)
    # 4.5/32 left to 4/32: one week, read to the nearest 32nd.
    assert isinstance(wear.ahead, Reach) or wear.ahead == "beyond"


def test_a_section_walked_much_faster_than_usual_is_shown(history: History) -> None:
    """Median 60 s, this one 2 s for two entries."""
    (quick,) = [visit for visit in history.visits if visit.rushed]
    assert quick.id == "w17"
    (stretch,) = quick.rushed
    assert (stretch.seconds, stretch.usual) == (2, 60)


def test_an_unknown_vehicle_is_one_sentence_with_those_known(engine: Engine) -> None:
    fill(engine)
    with pytest.raises(SetupError, match=r"knows no vehicle 'x'.*unit-0001"), reading(engine) as session:
        gather(session, "x", LIMITS, MADE)


def test_the_terminal_table(history: History) -> None:
    console = Console(width=160, record=True, file=open("/dev/null", "w"))  # noqa: PTH123, SIM115
    for part in as_tables(history, last=5):
        console.print(part)
    shown = console.export_text()
    assert "may not be driven" in shown
    assert "horn#not-working" in shown
    assert "certified repaired" in shown
    assert "All: 2 s, usually 60 s" in shown
    assert "4/32 in" in shown
    assert shown.count("A. <b>Sample</b>") == 5


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.ids: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        self.tags.append((tag, found))
        if found.get("id"):
            self.ids.append(str(found["id"]))


def test_the_page_is_one_file_without_scripts_or_fetching(page: str) -> None:
    parser = _Tags()
    parser.feed(page)
    names = [tag for tag, _ in parser.tags]
    assert names.count("svg") == 3
    assert not {"script", "link", "iframe", "object", "img"} & set(names)
    for _, attributes in parser.tags:
        for name in ("href", "xlink:href", "src"):
            value = attributes.get(name)
            assert value is None or value.startswith(("#", "data:"))
    assert "url(http" not in page
    assert "@import" not in page
    assert len(parser.ids) == len(set(parser.ids)) or _same_marks(page)


def _same_marks(page: str) -> bool:
    """An id may repeat in another picture only for the very same drawing."""
    found: dict[str, set[str]] = {}
    for id, body in re.findall(r'<(?:path|clipPath) id="([^"]+)"(.*?)/>', page, re.DOTALL):
        found.setdefault(id, set()).add(re.sub(r"\s+", " ", body))
    return all(len(bodies) == 1 for bodies in found.values())


def test_what_drivers_said_is_escaped(page: str) -> None:
    assert "A. &lt;b&gt;Sample&lt;/b&gt;" in page
    assert "<b>Sample" not in page


def test_the_page_says_what_it_must_and_not_what_it_must_not(page: str) -> None:
    assert "49 CFR 393.75(b)" in page
    assert "A qualified mechanic decides" in page
    assert not re.search(r"\b(is|are) safe\b|\bpassed\b|roadworthy", page)


def test_a_vehicle_with_next_to_nothing_has_a_page_too(engine: Engine) -> None:
    with writing(engine) as session:
        import_records(session, [checked(record("r1", day(0)))], ["local"])
        import_repairs(session, [repair(HORN.key, day(0), vehicle=2)], ["local"])
    for vehicle in ("unit-0001-tractor", "unit-0002"):
        with reading(engine) as session:
            found = gather(session, vehicle, LIMITS, LAST)
        assert "<svg" in render_history(found, MADE) or vehicle == "unit-0002"


def test_what_is_said_before_a_walk(engine: Engine) -> None:
    made = [
        record(f"w{week}", day(7 * week), odometer=2_800 * week, readings=[tread(f"{18 - week}/32")])
        for week in range(10)
    ]
    with writing(engine) as session:
        import_records(session, [checked(one) for one in made], ["local"] * len(made))
    with reading(engine) as session:
        (sentence,) = spoken_outlook(session, "unit-0001-tractor", LIMITS, day(63))
        assert sentence.startswith("Left 1, tread depth: about five weeks until")
        assert spoken_outlook(session, "unit-0009", LIMITS, LAST) == ()


def test_repairs_due_as_a_calendar(history: History) -> None:
    """Read back by icalendar; RFC 5545 asks for UID and DTSTAMP in every entry."""
    for events, kind, due in ((False, "VTODO", "DUE"), (True, "VEVENT", "DTSTART")):
        text = calendar([history], MADE, events=events)
        assert text.count(b"\r\n") == text.count(b"\n")
        read = icalendar.Calendar.from_ical(text)
        entries = read.walk(kind)
        repairs = [entry for entry in entries if "horn" in str(entry["SUMMARY"])]
        assert len(repairs) == 1
        entry: Any = repairs[0]  # icalendar types an entry's values as all that any could be
        assert entry[due].dt == day(7 * 15).astimezone().date()
        assert int(entry["PRIORITY"]) == 1
        assert all("UID" in entry and "DTSTAMP" in entry for entry in entries)
        assert not any("lamp" in str(entry["SUMMARY"]) for entry in entries)
    again = icalendar.Calendar.from_ical(calendar([history], MADE + timedelta(days=1)))
    first = icalendar.Calendar.from_ical(calendar([history], MADE))
    assert [e["UID"] for e in again.walk("VTODO")] == [e["UID"] for e in first.walk("VTODO")]


def test_a_calendar_without_entries_is_one_still(tmp_path: Path) -> None:
    assert icalendar.Calendar.from_ical(calendar([], MADE)).walk("VTODO") == []
