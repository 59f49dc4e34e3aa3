"""One name for a trailer's axle: on each page of the trailer, in its history, in the report and in the mail."""

from __future__ import annotations

import email
import re
from datetime import UTC, datetime, timedelta
from html import unescape
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.desk.yard import NAMES, PASSWORD, Visitor
from tests.logbook.coupled import Found, coupled, tractor, trailer, walk
from tests.logbook.data import checked
from tests.logbook.test_sync import walked
from voice.cli import app
from voice.day.build import _against
from voice.desk import accounts
from voice.desk.serve import desk_of
from voice.judge import load_limits
from voice.logbook.database import open_local, reading, writing
from voice.logbook.history import gather
from voice.logbook.page import render_history
from voice.logbook.store import import_records
from voice.measure.cardinal import cardinal
from voice.record.base import Standing
from voice.record.model import FindingRecord, InspectionRecord
from voice.record.report import render_html
from voice.route.called import both_words, in_unit_words, on_vehicle_words
from voice.route.vehicle import Vehicle

NOW = datetime.now(UTC)
TWELVE, NINE, FORTY = tractor(12), tractor(9, drives=1), trailer(40)
BOTH = re.compile(r"axle (?:four|five) \(trailer axle (?:one|two)\)")
ONE = re.compile(r"(?<!trailer )\baxle (?:one|two|three|four|five)\b")


def last(hours: float, ahead: Vehicle = TWELVE) -> InspectionRecord:
    """A walk that found the trailer's first axle worn, and the tractor's second."""
    found = [Found(FORTY.id, 1), Found(ahead.id, 2)]
    return walk(f"w-{hours:g}", NOW - timedelta(hours=hours), coupled(ahead, FORTY), found)


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Nine walks that measured the trailer's tread, behind tractors of two and of three axles; then the two above."""
    home = tmp_path_factory.mktemp("axles")
    measured = [
        walk(
            f"m{n}",
            NOW - timedelta(days=70 - 7 * n),
            coupled((TWELVE, NINE)[n % 2], FORTY),
            [Found(FORTY.id, 1, 18 - n)],
        )
        for n in range(9)
    ]
    engine = open_local(home)
    with writing(engine) as session:
        import_records(session, [checked(each) for each in measured], ["local"] * len(measured))
    engine.dispose()
    for record in (last(20, NINE), last(2)):
        walked(home, record)
    with desk_of(home, print, depot=False) as desk:
        for role in ("mechanic", "office"):
            accounts.add(desk.store, NAMES[role], role, PASSWORD)
    return home


def text_of(html: str) -> str:
    return re.sub(
        r"\s+", " ", unescape(re.sub(r"<[^>]*>", " ", re.sub(r"<style.*?</style>", "", html, flags=re.DOTALL)))
    )


def test_the_pages_of_a_trailer_say_trailer_axle_and_no_other_number(home: Path) -> None:
    with desk_of(home, print, depot=False) as desk:
        mechanic = Visitor(desk, "mechanic")
        unit = text_of(mechanic.get(f"/units/{FORTY.id}"))
        certify = text_of(mechanic.get(f"/units/{FORTY.id}/certify?defect=tire-tread@left-1%23worn"))
        today = text_of(mechanic.get("/"))
        heads = text_of(mechanic.get(f"/units/{TWELVE.id}"))
    with reading(open_local(home)) as session:
        found = gather(session, FORTY.id, load_limits(), NOW)
        history = text_of(render_history(found, NOW))
    wide = CliRunner(env={"COLUMNS": "400"})  # in a narrow table the words of a cell stand below each other
    listed, terminal = (
        wide.invoke(app, [command, FORTY.id, "--home", str(home)], catch_exceptions=False).output
        for command in ("repairs", "history")
    )
    for page in (unit, certify, history, listed, terminal):
        assert "railer axle one" in page
        assert not ONE.search(page), ONE.search(page)
    assert "Tread, left side, trailer axle one: worn" in unit
    assert "Left side, trailer axle one" in unit  # the readings
    assert "Tread, left side, trailer axle one: worn" in today
    assert "Tread, left side, axle two: worn" in today
    assert "Tread, left side, axle two: worn" in heads
    assert "trailer axle" not in heads


def test_what_is_printed_of_a_walk_says_both(home: Path) -> None:
    record = last(2)
    report = text_of(render_html(record))
    with desk_of(home, print, depot=False) as desk:
        office = Visitor(desk, "office")
        page = text_of(office.get(f"/office/reports/{record.id}"))
        mail = office.client.get(f"/office/reports/{record.id}/mail").content
    body = email.message_from_bytes(mail).get_payload(0)
    assert isinstance(body, email.message.Message)
    letter = " ".join(str(body.get_payload(decode=True), "utf-8").split())  # type: ignore[arg-type]
    for told in (report, page, letter):
        assert "Tread, left side, axle four (trailer axle one): worn" in told
        assert "Tread, left side, axle two: worn" in told
        assert "axle four" not in BOTH.sub("", told)
        assert "trailer axle" not in BOTH.sub("", told)


def test_what_is_told_of_a_day_says_both() -> None:
    record = last(2)
    (worn, _) = record.defects
    found = FindingRecord(level="repair", quantity="", limit="", limit_text="", source="", known="read", layer="")
    standing = Standing(
        **found.model_dump() | {"defect": "worn"}, step=worn.step, name="left axle four tread", told="worn"
    )
    summary = record.summary.model_copy(update={"against": (standing,)})
    told = [each.title for each in _against(record.model_copy(update={"summary": summary}))]
    assert told == ["Tread, left side, axle four (trailer axle one): worn"]


def test_the_record_itself_has_what_was_said(home: Path) -> None:
    """It is signed, and tells what the driver heard."""
    kept = (home / "sessions" / "w-2" / "record.json").read_text()
    assert "axle four" in kept
    assert "trailer axle" not in kept


def test_the_words_go_there_and_back_for_every_axle() -> None:
    for ahead in range(1, 8):
        for own in range(1, 8):
            for place in (f"left side, axle {cardinal(ahead + own)}, outer tire", f"axle {cardinal(ahead + own)}"):
                there = in_unit_words(place, ahead + own, own)
                assert f"trailer axle {cardinal(own)}" in there
                assert on_vehicle_words(there, own, ahead + own) == place
                before = there.replace("trailer ", "")  # what an earlier version kept
                assert on_vehicle_words(before, own, ahead + own) == place
    assert in_unit_words("left side, wheel set four", 4, 1) == "left side, wheel set one"  # words of the user's own


def test_both_names_are_put_once_and_only_for_the_trailers_axles() -> None:
    vehicle = coupled(TWELVE, FORTY)
    said = both_words("same as left axle four outer tread; axle two", vehicle)
    assert said == "same as left axle four (trailer axle one) outer tread; axle two"
    assert both_words(said, vehicle) == said
    assert both_words("axle fourteen", vehicle) == "axle fourteen"
    assert both_words("left side, axle two", TWELVE) == "left side, axle two"
