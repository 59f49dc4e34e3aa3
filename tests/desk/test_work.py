"""The work at the desk: what the pages show, certifying and taking back, two at once, recordings, a depot."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from html import unescape
from pathlib import Path

import pytest
import soundfile
from rich.console import Console
from sqlalchemy import Engine, text

from tests.desk.test_doors import Forms
from tests.desk.yard import FAULTS, Visitor, hidden, staff
from tests.logbook.data import checked, day, defect, record
from tests.logbook.invented import profile
from tests.record.walks import signed
from voice.desk import plots
from voice.desk.data import certifying, fresh
from voice.desk.data.fleet import fleet
from voice.desk.data.outlook import Ahead, limits_now
from voice.desk.data.unit import place_of
from voice.desk.page import Desk
from voice.desk.store import Store
from voice.logbook.access import take_in
from voice.logbook.database import open_engine, read_url, reading, writing
from voice.logbook.history import as_tables, gather
from voice.logbook.kinds import Base
from voice.logbook.roles import DESK_READS, grant_desk
from voice.logbook.store import import_records
from voice.measure.level import Level
from voice.record.device import device_key
from voice.record.diagram import HEIGHT, WIDTH, Found, draw
from voice.record.lives import Fact, lives
from voice.record.open_defects import open_defects
from voice.record.repairs import read_repairs, repair_lines
from voice.record.wording import words
from voice.route import load_library
from voice.route.model import Place

UNIT = "tractor-trailer-five-axle-trailer"
HERE = f"/units/{UNIT}"
LEAKING = "glad-hands#leaking"


def form(visitor: Visitor, what: str, defect: str, **query: str) -> dict[str, str]:
    """The hidden fields of a form as it is shown to somebody."""
    asked = "".join(f"&{name}={value}" for name, value in query.items())
    html = visitor.get(f"{HERE}/{what}?defect={defect.replace('#', '%23')}{asked}")
    names = re.findall(r'<input type="hidden" name="(\w+)"', html)
    return {name: unescape(hidden(html, name)) for name in names}


def certify(visitor: Visitor, defect: str = LEAKING, **fields: str) -> tuple[int, str]:
    return visitor.send(f"{HERE}/certify", **{**form(visitor, "certify", defect), "verdict": "repaired"} | fields)


def withdraw(visitor: Visitor, remark: str) -> tuple[int, str]:
    of = re.findall(r"of=([0-9a-f]{64})", visitor.get(HERE))[0]
    return visitor.send(f"{HERE}/withdraw", **form(visitor, "withdraw", LEAKING, of=of) | {"remark": remark})


def waiting(desk: Desk) -> set[str]:
    """What the driver's next walk asks about."""
    return {found.key for found in open_defects(desk.home, UNIT)}


# --- what is shown -----------------------------------------------------------------------------------------------


def test_today_has_the_most_serious_first_and_what_is_overdue(desk: Desk) -> None:
    before = fleet(desk, "0")
    now = datetime.now(UTC)
    batch = [
        record("old", now - timedelta(days=3), vehicle=70, defects=[defect("horn#not-working", "halt")]),
        record("new", now - timedelta(days=1), vehicle=70),
        record("long-ago", now - timedelta(days=20), vehicle=71),
    ]
    with writing(desk.engine) as session:
        import_records(session, [checked(each) for each in batch], ["local"] * 3)
    found = fleet(desk, "1")
    levels = [unit.level for unit in found.open]
    assert levels == sorted(levels, reverse=True)
    assert (found.units[0].id, found.units[0].level) == ("unit-0070-tractor", Level.HALT)
    assert {unit.id for unit in found.driven} - {unit.id for unit in before.driven} == {"unit-0070-tractor"}
    assert {unit.id for unit in found.unseen} - {unit.id for unit in before.unseen} == {
        "unit-0071-tractor",
        "unit-0071-trailer",
    }
    html = Visitor(desk, "driver").get("/today")
    assert html.index("/units/unit-0070-tractor") < html.index(f"/units/{UNIT}")


def test_forecasts_count_from_today() -> None:
    made = datetime(2026, 3, 1, tzinfo=UTC)
    ahead = Ahead("left steer tread", "4/32 in", made + timedelta(days=12))
    assert [ahead.days(made + timedelta(days=passed)) for passed in (0, 5, 12, 30)] == [12, 7, 0, 0]


def test_a_page_is_told_when_a_record_comes_in(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fresh, "EACH", 0.0)
    visitor = Visitor(desk, "office")
    html = visitor.get("/today")
    made = re.findall(r'data-version="([^"]+)"', html)[0]
    assert visitor.get("/version") == made
    signed(desk.home)
    assert visitor.get("/version") != made


def test_the_unit_page_tells_each_reading_when_it_is_pointed_at(readers: dict[str, Visitor]) -> None:
    html = readers["driver"].get("/units/unit-0001-tractor")
    assert re.search(r"<circle [^>]*><title>2026-\d\d-\d\d: \d+/32 in, [\d,]+ mi</title></circle>", html)
    assert re.search(r'<line class="limit" [^>]*><title>4/32 in</title></line>', html)
    assert "style=" not in html


def test_a_defect_is_shown_with_its_figures_its_rule_and_who_reported_it_when(desk: Desk) -> None:
    """The limit and its section are those of 49 CFR 393.75(b), as the record has them."""
    mechanic = Visitor(desk, "mechanic")
    tractor = HERE.replace("-trailer-five-axle-trailer", "-trailer-five-axle-tractor")
    page = mechanic.get(tractor)
    worn = "tire-tread@right-1#beyond-tread-depth"
    for html in (page, mechanic.get(f"{tractor}/certify?defect={worn.replace('#', '%23')}")):
        assert "3/32 in; limit: at least 4/32 in (49 CFR 393.75(b))" in html
        assert re.search(r"Reported by</dt><dd>[^<,]+, \d{4}-\d\d-\d\d \d\d:\d\d", html)
    assert "<dt>which line</dt><dd>service line (blue)</dd>" in mechanic.get(HERE)
    assert "A lamp that does not light (49 CFR 393.9" in mechanic.get(HERE)
    (path,) = set(re.findall(r'href="(/reports/[^"]+)"', page))
    assert mechanic.client.get(path).content.startswith(b"%PDF")
    # Each was read once: a dot beside its limit.
    assert re.search(r"Readings against their limits.*<circle ", page, re.DOTALL)
    assert "1 reading, " in page


def test_a_recording_is_for_the_mechanic_and_the_office_and_is_what_was_recorded(
    desk: Desk, readers: dict[str, Visitor]
) -> None:
    html = readers["mechanic"].get(HERE)
    path = re.findall(r'<audio [^>]*src="(/recordings/[^"]+)"', html)[0]
    assert "<audio" not in readers["driver"].get(HERE)
    answer = readers["office"].client.get(path)
    assert answer.headers["content-type"] == "audio/flac"
    samples, rate = soundfile.read(io.BytesIO(answer.content))
    assert (rate, len(samples) > 0) == (16_000, True)
    # One that was put in its place is not played.
    file = next((desk.home / "sessions").glob(f"*/clips/{path.rpartition('/')[2]}"))
    file.write_bytes(b"fLaC another")
    assert Visitor(desk, "office").client.get(path).status_code == 409


def test_paths_lead_to_no_other_file(desk: Desk) -> None:
    visitor = Visitor(desk, "mechanic")
    path = re.findall(r'src="(/recordings/[^"]+)"', visitor.get(HERE))[0]
    _, _, session, clip = path.split("/")
    secret = desk.home / "secret.flac"
    secret.write_bytes(b"secret")
    folder = desk.home / "sessions" / session / "clips"
    (folder / "99999.flac").write_bytes(b"secret")  # is there, but no record names it
    okay = {entry.name for entry in folder.iterdir()} - set(re.findall(r"\d+\.flac", visitor.get(HERE)))
    for folder_name, name in (
        ("..", "secret.flac"), ("%2e%2e", "secret.flac"), (session, "..%2f..%2f..%2fsecret.flac"),
        (session, "99999.flac"),
        (f"{session}%2fclips", clip), (session, f"clips%2f{clip}"), (session, f"{clip}%00"), (session, "record.json"),
        (f"..%2fsessions%2f{session}", clip), (session.upper(), clip), (session, sorted(okay)[0]), ("no-such", clip),
    ):  # fmt: skip
        answer = visitor.client.get(f"/recordings/{folder_name}/{name}")
        assert answer.status_code == 404, (folder_name, name)
        assert b"secret" not in answer.content
    (folder / clip).unlink()
    (folder / clip).symlink_to(secret)
    assert visitor.client.get(path).status_code == 404


def test_scripts_in_what_a_driver_says_and_a_mechanic_writes_stay_text(desk: Desk) -> None:
    evil = "<script>alert(1)</script>\" onload='x"
    made = record("evil", datetime.now(UTC), vehicle=80, driver=evil)
    bad = defect("horn#bad").model_copy(update={"title": evil})
    hostile = record("evil2", datetime.now(UTC), vehicle=80, defects=[bad], driver=evil)
    with writing(desk.engine) as session:
        import_records(session, [checked(made), checked(hostile)], ["local"] * 2)
    mechanic = Visitor(desk, "mechanic")
    assert certify(mechanic, remark=evil, parts=evil)[0] == 200
    for path in (
        "/today",
        "/units",
        "/units/unit-0080-tractor",
        HERE,
        "/units/unit-0080-tractor/certify?defect=horn%23bad",
    ):
        html = mechanic.get(path)
        assert "<script>alert" not in html, path
        assert Forms(html).inline == [], path
    assert "&lt;script&gt;alert(1)" in mechanic.get(HERE)


def test_a_defect_is_drawn_where_it_is() -> None:
    """Front is left, the vehicle's left is down: lamps at the rear, glad hands at the front of the trailer."""
    assert set(words("drawing")) <= set(load_library().items)
    found = [
        Found(n, item, place_of(f"{item}@{where}")[1], "repair")
        for n, (item, where) in enumerate(
            (
                ("brake-lights", ""),
                ("glad-hands", ""),
                ("headlights", ""),
                ("tire-tread", "left-5-outer"),
                ("papers", ""),
            )
        )
    ]
    drawn = draw(profile(1), found, {Place(side="left", axle=5, tire="outer"): "repair"})
    at = {mark.number: mark for mark in drawn.marks}
    bodies = [box for box in drawn.boxes if box.kind == "body"]
    assert at[0].x > WIDTH * 0.95
    assert bodies[1].x < at[1].x < bodies[1].x + 30
    assert at[2].x < WIDTH * 0.1
    assert at[3].y > HEIGHT / 2
    assert drawn.elsewhere == (4,)
    assert [box.level for box in drawn.boxes if box.level == "repair"] == ["repair"]


@pytest.mark.parametrize(
    ("key", "item", "place"),
    [
        ("tire-tread@left-3-outer#worn", "tire-tread", Place(side="left", axle=3, tire="outer")),
        ("horn#not-working", "horn", Place()),
        ("glad-hands@trailer#leaking", "glad-hands", Place(unit="trailer")),
        ("odd@0-999-x-²#y", "odd", Place()),
        ("", "", Place()),
    ],
)
def test_a_place_is_read_from_a_key_whatever_it_is(key: str, item: str, place: Place) -> None:
    assert place_of(key) == (item, place)


def test_bars_of_lives_stay_in_the_drawing() -> None:
    found = [Fact("a", "found", f"record:{n}", day(n), "a") for n in (1, 9)]
    given = [Fact("a", "certified-repaired", f"certification:{n}", day(n), "") for n in (3, 9.5)]
    drawn = plots.bars(lives([*found, *given]), day(30))
    assert [0 <= bar.x <= bar.x + bar.width <= 100.01 for bar in drawn] == [True, True]
    assert plots.bars([], day(30)) == []


# --- certifying --------------------------------------------------------------------------------------------------


def test_a_certification_reaches_the_next_walk_and_taking_it_back_too(desk: Desk) -> None:
    device_key(desk.home)
    mechanic = Visitor(desk, "mechanic")
    assert LEAKING in waiting(desk)
    status, html = certify(mechanic, parts="seal, 2", remark="replaced both")
    assert (status, "Certified, signed" in html) == (200, True)
    assert LEAKING not in waiting(desk)
    (given,) = read_repairs(desk.home)
    assert given.certification.name == "Ida Marsh"
    assert given.certification.remark == "Parts: seal, 2. replaced both"
    assert b'"signature":' in repair_lines(desk.home)[0]
    page = mechanic.get(HERE)
    assert "Parts: seal, 2. replaced both" in page
    assert withdraw(mechanic, "")[0] == 422
    status, html = withdraw(mechanic, "the seal leaks again")
    assert (status, "The defect is open again" in html) == (200, True)
    assert LEAKING in waiting(desk)
    page = mechanic.get(HERE)
    for told in ("certified as repaired", "Parts: seal, 2. replaced both", "certification taken back", "leaks again"):
        assert told in page.partition("Certifications and withdrawals")[2], told
    assert len(read_repairs(desk.home)) == 2
    with reading(desk.engine) as session:
        entries = gather(session, UNIT, limits_now(desk.home), datetime.now(UTC))
    assert [(one.verdict, one.name) for one in entries.signed] == [
        ("withdrawn", "Ida Marsh"),
        ("repaired", "Ida Marsh"),
    ]
    printed = io.StringIO()
    Console(file=printed, width=200).print(*as_tables(entries))
    assert "certification taken back" in printed.getvalue()
    assert certify(mechanic)[0] == 200
    assert LEAKING not in waiting(desk)


def test_what_is_missing_in_a_form_is_said_and_what_was_typed_stays(desk: Desk) -> None:
    mechanic = Visitor(desk, "mechanic")
    for fields, said in (
        ({"verdict": ""}, "Choose what you certify"),
        ({"verdict": "unnecessary", "parts": "none &"}, "Say why no repair is needed"),
        ({"remark": "x" * 4001}, "The text is too long"),
    ):
        status, html = certify(mechanic, **fields)
        assert (status, said in html) == (422, True), said
    assert 'value="none &amp;"' in certify(mechanic, verdict="unnecessary", parts="none &")[1]
    assert not (desk.home / "repairs.jsonl").exists()
    for path in (f"{HERE}/certify?defect=none", "/units/none/certify?defect=x", f"{HERE}/withdraw?defect=x&of=y"):
        assert mechanic.client.get(path).status_code == 404


def test_two_mechanics_at_once_do_not_overwrite_each_other(desk: Desk) -> None:
    first, second = Visitor(desk, "mechanic"), Visitor(desk, "mechanic")
    forms = [form(each, "certify", LEAKING) | {"verdict": "repaired", "remark": "mine"} for each in (first, second)]
    with ThreadPoolExecutor(2) as pool:
        done = list(pool.map(lambda each, fields: each.send(f"{HERE}/certify", **fields), (first, second), forms))
    assert sorted(status for status, _ in done) == [200, 409]
    (late,) = [html for status, html in done if status == 409]
    assert "Someone was quicker" in late
    assert "mine" in late
    assert len(read_repairs(desk.home)) == 1


def test_a_form_that_does_not_know_the_latest_sighting_is_refused(desk: Desk) -> None:
    """The driver reports it again while the form is open: the mechanic is told before signing."""
    mechanic = Visitor(desk, "mechanic")
    fields = form(mechanic, "certify", LEAKING) | {"verdict": "repaired"}
    signed(desk.home, {"glad-hands": FAULTS["glad-hands"]})
    fresh.forget(desk)
    mechanic.get("/today")
    assert mechanic.send(f"{HERE}/certify", **fields)[0] == 409
    assert not (desk.home / "repairs.jsonl").exists()


# --- at a depot --------------------------------------------------------------------------------------------------


@pytest.fixture
def depot(pg_engine: Engine, tmp_path: Path) -> Iterator[tuple[Desk, Engine]]:
    """A depot that a signed record was taken into, with a desk in its own role; and the owner's connection."""
    home = tmp_path / "depot"
    walked = signed(home, {"glad-hands": ("leaking",)})
    with writing(pg_engine) as session:
        import_records(session, [checked(walked)], ["cab"])
    grant_desk(pg_engine, "front", tmp_path / "front.url")
    engine = open_engine(read_url(tmp_path / "front.url"))
    store = Store(home)
    desk = Desk(home, store, engine, True)
    staff(store)
    yield desk, pg_engine
    engine.dispose()
    store.close()
    with pg_engine.execution_options(isolation_level="AUTOCOMMIT").connect() as connection:
        for name in connection.scalars(
            text("SELECT rolname FROM pg_roles WHERE rolname ~ '^(front|gladhand_de)'")
        ).all():
            connection.execute(text(f'DROP OWNED BY "{name}"'))
            connection.execute(text(f'DROP ROLE "{name}"'))


@pytest.mark.postgres
def test_at_a_depot_it_is_handed_in_and_counts_when_it_is_taken_in(depot: tuple[Desk, Engine]) -> None:
    desk, owner = depot
    mechanic = Visitor(desk, "mechanic")
    assert "Glad hands" in mechanic.get("/today")
    assert certify(mechanic)[0] == 200
    assert "waits to be taken in" in mechanic.get(HERE)
    assert "Glad hands" not in mechanic.get("/today")
    # A second one cannot certify what waits, and what waits can be taken back.
    assert mechanic.client.get(f"{HERE}/certify?defect={LEAKING.replace('#', '%23')}").text.count("<fieldset") == 0
    opened = text("SELECT defect FROM defect WHERE closed IS NULL")
    with owner.connect() as connection:
        assert LEAKING in connection.scalars(opened).all()
    take_in(owner, desk.home, print)
    with owner.connect() as connection:
        assert LEAKING not in connection.scalars(opened).all()
    assert "waits to be taken in" not in mechanic.get(HERE)
    assert withdraw(mechanic, "wrong one")[0] == 200
    take_in(owner, desk.home, print)
    with owner.connect() as connection:
        assert LEAKING in connection.scalars(opened).all()


@pytest.mark.postgres
def test_the_desks_role_has_no_more_rights_than_its_pages_need(depot: tuple[Desk, Engine]) -> None:
    desk, owner = depot
    with owner.connect() as connection:
        for table in [*Base.metadata.tables, "alembic_version"]:
            held = {
                right
                for right in ("SELECT", "INSERT", "UPDATE", "DELETE", "TRUNCATE")
                if connection.scalar(text(f"SELECT has_table_privilege('front', '{table}', '{right}')"))
            }
            assert held == ({"SELECT"} if table in DESK_READS else set()), table
        columns = text(
            "SELECT column_name FROM information_schema.column_privileges WHERE grantee = 'gladhand_desk'"
            " AND table_name = 'inbox' AND privilege_type = 'INSERT'"
        )
        assert set(connection.scalars(columns)) == {"sha256", "kind", "body"}
    with pytest.raises(Exception, match="permission denied"), desk.engine.begin() as connection:
        connection.execute(text("DELETE FROM fact"))


def test_a_local_desk_has_nothing_pending(desk: Desk) -> None:
    certify(Visitor(desk, "mechanic"))
    with reading(desk.engine) as session:
        assert certifying.pending(desk, session) == []
        assert certifying.known(desk, session, UNIT, LEAKING).open is None
