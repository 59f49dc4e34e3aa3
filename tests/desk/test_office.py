"""The office's pages: what is found, reports as PDF and mail, the export, and what is removed."""

from __future__ import annotations

import csv
import email
import email.policy
import io
import json
import re
import shutil
import subprocess
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from email.message import EmailMessage
from html.parser import HTMLParser
from pathlib import Path
from socket import socket
from typing import get_args

import pytest
from sqlalchemy import Engine, make_url, select

from tests.desk.test_work import depot
from tests.desk.yard import BASE, NAMES, Visitor, hidden, token
from tests.logbook.data import checked, defect, record
from tests.record.walks import signed
from voice.desk import trail
from voice.desk.accounts import ROLES, Role
from voice.desk.data.mail import body, message, subject
from voice.desk.data.office import PAGE, USUAL, Search, find, read_search
from voice.desk.page import Desk, Page
from voice.desk.pages import instructor, office, routes
from voice.judge.wording import verdicts
from voice.logbook.database import open_engine, reading, writing
from voice.logbook.schema import DocumentRow, RecordRow, RecordUnitRow
from voice.logbook.store import import_records
from voice.measure.level import Level, LevelName
from voice.record.by_unit import carried_levels
from voice.record.model import Certification
from voice.record.open_defects import open_defects

__all__ = ["depot"]  # a fixture
# Who is to see what, written down a second time on purpose.
MAY: dict[str, set[str]] = {
    **{page.name: {"office", "administrator"} for page in office.PAGES},
    **{page.name: {"instructor"} for page in instructor.PAGES},
    **{page.name: set(ROLES) for page in routes.PAGES},
}
PAGES = (*office.PAGES, *instructor.PAGES, *routes.PAGES)
SCRIPT = "<script>alert(1)</script>"
NOW = datetime.now(UTC)


@pytest.fixture(scope="module")
def clerk(looked_at: Desk) -> Visitor:
    return Visitor(looked_at, "office")


@contextmanager
def _added(desk: Desk, **more: object) -> Iterator[None]:
    made = record("20260102-x", NOW - timedelta(days=200), **more)  # type: ignore[arg-type]
    with writing(desk.engine) as session:
        import_records(session, [checked(made)], ["local"])
    yield


def _ids(html: str) -> list[str]:
    return re.findall(r'name="r:([^"]+)"', html)


def test_who_may_see_these_pages() -> None:
    assert {page.name: set(page.roles) for page in PAGES} == MAY


def test_search_finds_by_each_field_and_a_period(clerk: Visitor, looked_at: Desk) -> None:
    """Held against the rows of the database themselves."""
    with reading(looked_at.engine) as session:
        rows = session.execute(select(RecordRow.id, RecordRow.driver, RecordRow.started, RecordRow.level)).all()
    newest = [row.id for row in sorted(rows, key=lambda row: (row.started, row.id), reverse=True)]
    assert _ids(clerk.get("/office")) == newest[:PAGE]
    real = next(row for row in rows if "tractor-trailer" in row.id)
    assert _ids(clerk.get("/office?unit=TWELVE")) == [real.id]
    assert _ids(clerk.get("/office?driver=rosa")) == [real.id]
    for kind in ("pre-trip", "TRIP insp"):  # of the id, of the title
        html = clerk.get(f"/office?kind={kind}")
        assert _ids(html) == [real.id]
        assert '<td data-label="Kind of inspection">Pre-trip inspection</td>' in html
    assert _ids(clerk.get("/office?driver=nobody")) == _ids(clerk.get("/office?kind=nothing")) == []
    assert _ids(clerk.get("/office?driver=a&kind=pre-trip")) == [real.id]
    old = [row.id for row in sorted(rows, key=lambda row: (row.started, row.id), reverse=True) if row.id != real.id]
    assert _ids(clerk.get("/office?kind=INVENT")) == old[:PAGE]  # they say no kind: by their route's id
    with reading(looked_at.engine) as session:
        titled = find(session, Search(kind="a WALK"), {"invented": "A walk"})
    assert [row.id for row in titled.rows] == old[:PAGE]  # by its title
    bad = {row.id for row in rows if row.level >= 3}
    assert bad
    assert set(_ids(clerk.get("/office?level=halt"))) <= bad
    assert _ids(clerk.get("/office?unit=100%25")) == []  # a percent sign is one, not "anything"
    day = newest[PAGE]
    started = next(row.started for row in rows if row.id == day).astimezone().date()
    found = _ids(clerk.get(f"/office?since={started}&until={started}"))
    assert day in found
    assert len(found) < PAGE
    assert "Not understood, and not looked for: From" in clerk.get("/office?since=yesterday")


def test_a_page_whose_database_does_not_answer_says_only_that(looked_at: Desk) -> None:
    with socket() as nobody:  # bound, but nobody listens
        nobody.bind(("127.0.0.1", 0))
        url = make_url(f"postgresql+psycopg://gladhand@127.0.0.1:{nobody.getsockname()[1]}/logbook")
        answer = Visitor(replace(looked_at, engine=open_engine(url)), "office").client.get("/office")
    assert answer.status_code == 503
    assert "This page cannot be shown now." in answer.text
    assert "refused" in answer.text
    assert "Nothing was changed" not in answer.text


def test_a_period_that_runs_backwards_is_told_and_not_an_empty_list(clerk: Visitor) -> None:
    html = clerk.get("/office?since=2026-02-02&until=2026-02-01")
    assert "From (2026-02-02) is later than To (2026-02-01)" in html
    assert "No inspection fits" not in html
    assert 'value="2026-02-02"' in html  # what was typed is still there
    assert Structure(html).faults() == []
    # With To alone, From is that of the last three months, which the form shows.
    usual = (datetime.now().astimezone().date() - USUAL).isoformat()
    assert f"From ({usual}) is later than To (2020-01-01)" in clerk.get("/office?until=2020-01-01")
    for fine in ("since=2026-02-01&until=2026-02-01", "since=&until=2020-01-01"):
        assert "is later than" not in clerk.get(f"/office?{fine}")


@pytest.mark.parametrize("driver", ["", "a"])
def test_pages_follow_each_other_and_none_is_left_out(clerk: Visitor, looked_at: Desk, driver: str) -> None:
    seen: list[str] = []
    path = f"/office?since=&driver={driver}"
    while path:
        html = clerk.get(path)
        seen += _ids(html)
        older = re.search(r'href="(/office\?[^"]*after=[^"]*)"', html)
        path = older[1].replace("&amp;", "&") if older else ""
    with reading(looked_at.engine) as session:
        rows = session.execute(select(RecordRow).order_by(RecordRow.started.desc(), RecordRow.id.desc())).scalars()
        every = [row.id for row in rows if driver in (row.driver or "").lower()]
    assert seen == every
    assert len(every) > 2 * PAGE


def test_the_usual_period_is_what_the_rule_has_kept() -> None:
    """49 CFR 396.11(a)(4): three months, at most 92 days."""
    today = date(2026, 11, 27)
    assert read_search({}, today).since == date(2026, 8, 27) == today - USUAL
    assert read_search({"since": ""}, today).since is None


@pytest.fixture(scope="module")
def ids(clerk: Visitor) -> list[str]:
    """The real walk and one that was invented."""
    real = _ids(clerk.get("/office?unit=twelve"))
    return [*real, _ids(clerk.get("/office?unit=unit-0001"))[0]]


def _run(*command: str | Path) -> str:
    return subprocess.run(command, capture_output=True, check=True, text=True).stdout


@pytest.mark.skipif(shutil.which("pdfinfo") is None, reason="poppler-utils is not installed")
def test_reports_as_pdf_as_zip_and_in_a_mail(clerk: Visitor, looked_at: Desk, ids: list[str], tmp_path: Path) -> None:
    """Read by poppler, zipfile and the standard library's mail parser."""
    one = clerk.client.get("/office/reports", params={f"r:{ids[0]}": "on", "as": "pdf"})
    assert one.headers["content-disposition"] == 'attachment; filename="reports.pdf"'
    (tmp_path / "one.pdf").write_bytes(one.content)
    assert re.search(r"Pages: +2\n", _run("pdfinfo", tmp_path / "one.pdf"))
    packed = clerk.client.get("/office/reports", params={**{f"r:{id}": "on" for id in ids}, "as": "zip"})
    told = {line.about for line in trail.latest(looked_at.store, 20) if line.page == "reports"}
    assert set(ids) <= told  # each by itself: an address with many is longer than a line of the trail
    with zipfile.ZipFile(io.BytesIO(packed.content)) as archive:
        assert set(archive.namelist()) == {f"{id}.pdf" for id in ids}
        text = archive.read(f"{ids[0]}.pdf")
    (tmp_path / "zipped.pdf").write_bytes(text)
    assert "Glad hands: leaking" in _run("pdftotext", tmp_path / "zipped.pdf", "-")

    sent = clerk.client.get(f"/office/reports/{ids[0]}/mail")
    mail = email.message_from_bytes(sent.content, policy=email.policy.default)
    assert isinstance(mail, EmailMessage)
    assert (mail["X-Unsent"], mail["To"], mail["From"]) == ("1", None, None)
    assert mail["Subject"].startswith("Inspection report: tractor twelve with trailer forty, ")
    text_part = mail.get_body(("plain",))
    assert text_part is not None
    told = text_part.get_content().replace("\r\n", "\n")
    assert "Repair before leaving: 5\n- Warning triangles: missing" in told
    assert "does not say that the vehicle may be driven" in " ".join(told.split())
    (attached,) = mail.iter_attachments()
    assert (attached.get_content_type(), attached.get_filename()) == ("application/pdf", f"{ids[0]}.pdf")
    assert attached.get_content()[:5] == b"%PDF-"
    shown = clerk.get(f"/office/reports/{ids[0]}")
    assert "- Warning triangles: missing" in shown
    assert all(name in verdicts().levels.values() for name in re.findall(r'class="tag \w+">([^<]*)<', shown))


def test_nothing_chosen_and_too_much_is_said(clerk: Visitor) -> None:
    assert "No report was chosen" in clerk.get("/office/reports?as=pdf")
    many = "&".join(f"r:x{n}=on" for n in range(office.MOST + 1))
    assert f"at most {office.MOST}" in clerk.get(f"/office/reports?{many}")
    for path in ("/office/reports/nothing", "/office/reports/..%2f..%2fdesk.sqlite", "/office/reports/x/mail"):
        assert clerk.client.get(path).status_code == 404


def test_a_name_cannot_make_a_header_nor_a_script(desk: Desk) -> None:
    made = record("r-1", NOW, defects=[defect(f"horn#{SCRIPT}")], driver=SCRIPT)
    named = made.model_copy(update={"vehicle": made.vehicle.model_copy(update={"name": "a\r\nBcc: x@example.org"})})
    mail = email.message_from_bytes(message(named, b"%PDF-", "r-1.pdf"), policy=email.policy.default)
    assert mail["Bcc"] is None
    assert subject(named).count("\n") == 0
    assert SCRIPT in body(made)  # it is plain text there
    with _added(desk, defects=[defect(f"horn#{SCRIPT}")], driver=SCRIPT):
        clerk = Visitor(desk, "office")
        for path in ("/office?since=&driver=script", "/office/reports/20260102-x", f"/office?unit={SCRIPT}"):
            html = clerk.get(path)
            assert SCRIPT not in html
            assert "&lt;script&gt;" in html


def test_the_export_is_that_of_the_command(clerk: Visitor, looked_at: Desk) -> None:
    written = clerk.client.get("/office/export?format=json&unit=unit-0001").json()
    assert {row["vehicle"] for row in written["records"]} == {"unit-0001-tractor"}
    assert {row["level_printed"] for row in written["defects"]} <= set(verdicts().levels.values())
    packed = clerk.client.get("/office/export?format=csv&unit=tractor-trailer-five-axle")
    with zipfile.ZipFile(io.BytesIO(packed.content)) as archive:
        rows = list(csv.DictReader(io.StringIO(archive.read("readings.csv").decode())))
    tread = next(row for row in rows if row["item"] == "tire-tread" and row["place"] == "right-1")
    assert (tread["printed"], float(tread["value"])) == ("3/32 in", 3 / 32)


@pytest.mark.parametrize(
    ("asked", "said"),
    [("unit=nobody", "knows no unit &#34;nobody&#34;"), ("format=xlsx", "no such format")],
)
def test_an_export_of_nothing_is_refused(clerk: Visitor, asked: str, said: str) -> None:
    answer = clerk.client.get(f"/office/export?{asked}")
    assert answer.status_code in (404, 422)
    assert said in answer.text


def test_what_stands_from_earlier_and_what_is_to_be_watched_is_listed_the_worst_first(desk: Desk) -> None:
    """The walk after one that found the triangles missing. Before, the office read that nothing had been found."""
    waiting = next(each for each in open_defects(desk.home, "tractor-trailer-five-axle-tractor") if "tri" in each.key)
    script = {
        "carried@1": ("still there",),
        "steering-lash": ("one inch",),
        "tire-tread@left-1": ("five thirty seconds", "yes"),
    }
    after = signed(desk.home, script, carried=[waiting])
    assert (after.defects, carried_levels(after)) == ((), (Level.REPAIR,))
    with writing(desk.engine) as session:
        import_records(session, [checked(after)], ["local"])
        levels = session.scalars(select(RecordUnitRow.level).join(RecordRow).where(RecordRow.id == after.id)).all()
    assert sorted(levels) == [0, Level.REPAIR]
    clerk = Visitor(desk, "office")
    assert after.id in _ids(clerk.get("/office?level=repair&since="))
    html, text = clerk.get(f"/office/reports/{after.id}"), body(after)
    print(text)
    assert waiting.title + " (from an earlier report, still there)" in html
    assert "Repair before leaving: 1" in text
    given = Certification(key=waiting.key, verdict="repaired", name="Ida Marsh", at=NOW)
    assert "still there); certified as repaired by Ida Marsh" in body(after, [given])
    assert "found no defect" not in text


def test_retention_shows_first_and_removes_only_what_was_shown(desk: Desk) -> None:
    old = NOW - timedelta(days=200)
    kept = record("20260103-open", old, vehicle=2, defects=[defect("horn#dead", "halt")])
    with _added(desk, driver="Old Hand"), writing(desk.engine) as session:
        import_records(session, [checked(kept)], ["local"])
    clerk = Visitor(desk, "office")
    page = clerk.get("/office/retention?older=3+months")
    assert "would be removed: 1" in page
    assert "a defect is still open: 1" in page
    assert "20260102-x" in page
    assert "20260103-open" not in page
    for wrong, why in (("2 months", "less than the 3 months"), ("soon", "is not a length of time")):
        answer = clerk.client.get("/office/retention", params={"older": wrong})
        assert (answer.status_code, why in answer.text) == (422, True)
    form = {"token": token(page), "older": "3 months", "count": hidden(page, "count"), "sure": "yes"}

    def there() -> bool:
        with reading(desk.engine) as session:
            query = select(DocumentRow.record).join(RecordRow, RecordRow.key == DocumentRow.record)
            return session.scalar(query.where(RecordRow.id == "20260102-x")) is not None

    at_depot = Visitor(replace(desk, depot=True), "office")  # which the desk may only read
    shown = at_depot.get("/office/retention?older=3+months")
    assert "20260102-x" in shown
    assert 'name="sure"' not in shown
    assert at_depot.send("/office/retention", **{**form, "token": token(shown)})[0] == 403
    for change, status in (({"sure": ""}, 422), ({"count": "2"}, 409), ({"older": "1 day"}, 422), ({"token": ""}, 403)):
        assert clerk.send("/office/retention", **{**form, **change})[0] == status
        assert there()
    status, html = clerk.send("/office/retention", **form)
    assert (status, "files were removed: 1" in html) == (200, True)
    assert not there()
    told = [(line.who, line.about, line.outcome) for line in trail.latest(desk.store, 5) if line.page == "remove"]
    assert (NAMES["office"], "older than 3 months: 1 removed", "changed") in told
    assert "removed: 9" not in clerk.get("/office/retention?done=9x")
    assert "text removed" in clerk.get("/office?since=&unit=unit-0001&until=2026-10-01")


@pytest.mark.postgres
def test_at_a_depot_the_desks_role_is_enough_to_find_print_and_export(depot: tuple[Desk, Engine]) -> None:
    clerk = Visitor(depot[0], "office")
    (id,) = _ids(clerk.get("/office?unit=twelve&driver=rosa&level=repair"))
    assert clerk.client.get("/office/reports", params={f"r:{id}": "on", "as": "pdf"}).content[:5] == b"%PDF-"
    assert clerk.client.get(f"/office/reports/{id}/mail").status_code == 200
    assert clerk.client.get("/office/export?format=json").json()["records"][0]["record"] == id
    assert "would be removed: 0" in clerk.get("/office/retention?older=1+year")


# --- every page of these ----------------------------------------------------------------------------------------------


class Structure(HTMLParser):
    """What a screen reader and a keyboard need: one h1, names for fields, captions and heads of tables."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.h1 = 0
        self.named: set[str] = set()
        self.fields: list[dict[str, str | None]] = []
        self.tables: list[set[str]] = []
        self.inline: list[str] = []
        self.sent = 0
        self.tokens = 0
        self._label = 0
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        self.h1 += tag == "h1"
        self.inline += [name for name in given if name == "style" or name.startswith("on")]
        self.inline += [tag] if tag == "style" or (tag == "script" and "src" not in given) else []
        self.sent += tag == "form" and given.get("method") == "post"
        self.tokens += tag == "input" and given.get("name") == "token"
        if tag == "label":
            self._label += 1
            self.named.add(str(given.get("for")))
        if tag in ("input", "select", "textarea") and given.get("type") != "hidden" and not self._label:
            self.fields.append(given)
        if tag == "table":
            self.tables.append(set())
        if tag in ("caption", "thead", "th") and self.tables:
            self.tables[-1].add(tag if tag != "th" or "scope" in given else "bare th")
        if tag in ("audio", "svg") and not {"aria-label", "aria-labelledby", "aria-hidden"} & given.keys():
            self.inline.append(f"{tag} without a name")

    def handle_endtag(self, tag: str) -> None:
        self._label -= tag == "label"

    def faults(self) -> list[str]:
        found = [*self.inline, *(["not one h1"] if self.h1 != 1 else [])]
        found += [str(f) for f in self.fields if "aria-label" not in f and f.get("id") not in self.named]
        found += [f"table {t}" for t in self.tables if t != {"caption", "thead", "th"}]
        return found + (["a form without a token"] if self.sent != self.tokens else [])


def test_each_page_of_the_office_and_the_routes_can_be_used_by_ear_and_by_keys(clerk: Visitor, ids: list[str]) -> None:
    for path in ("/office", "/office?unit=none", f"/office/reports/{ids[0]}", "/office/retention?older=1+year",
                 "/routes", "/routes/tractor-trailer-five-axle"):  # fmt: skip
        assert Structure(clerk.get(path)).faults() == [], path


def test_levels_have_one_name_on_every_page_of_these(clerk: Visitor, ids: list[str]) -> None:
    every = {verdicts().levels[name] for name in get_args(LevelName)}
    for path in ("/office?since=", f"/office/reports/{ids[0]}", "/units/tractor-trailer-five-axle-tractor", "/today"):
        shown = set(re.findall(r'class="tag[^"]*">([^<]*)<', clerk.get(path)))
        assert shown <= every, (path, shown - every)
        assert shown or path == "/today"


def test_the_page_objects_are_all_reached_by_get_or_a_token(readers: dict[Role, Visitor]) -> None:
    posts: list[Page] = [page for page in PAGES if page.method == "POST"]
    assert {page.name for page in posts} == {"remove", "overrule"}
    for page in posts:
        path = page.address(**dict.fromkeys(re.findall(r"{(\w+)}", page.path), "x"))
        answer = readers["instructor"].client.post(path, data={"token": "0" * 64}, headers={"origin": BASE})
        assert answer.status_code == 403
    assert json.dumps(sorted(MAY)) == json.dumps(sorted({page.name for page in PAGES}))
