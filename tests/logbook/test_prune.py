"""What pruning removes and what it never does."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import Engine, func, select, text

from tests.logbook.data import as_bytes, checked, day, defect, downgrade, load_document, record, repair, still, tread
from voice.errors import SetupError
from voice.logbook.database import open_local, reading, writing
from voice.logbook.importer import import_home
from voice.logbook.lookup import open_lives
from voice.logbook.prune import LEAST_MONTHS, carry_out, cut_off, plan, prune
from voice.logbook.schema import DocumentRow, FactRow, ReadingRow, RecordRow
from voice.logbook.store import import_records, import_repairs
from voice.record.repairs import certify

HORN, LAMP = defect("horn#not-working", "halt"), defect("lamp@left#out")
R1 = record("r1", day(0), defects=[HORN], readings=[tread("9/32")])
R2 = record("r2", day(1), defects=[LAMP])
R3 = record("r3", day(2), carried=[still(HORN, R1)], readings=[tread("8/32")])
R4 = record("r4", day(3))
R5 = record("r5", day(200))
ALL = (R1, R2, R3, R4, R5)
BEFORE = day(100)
WRITTEN_SHORT = (
    ("record", "started"), ("record", "ended"), ("reading", "at"), ("defect", "opened"), ("defect", "seen"),
    ("defect", "said_repaired"), ("defect", "closed"),
)  # fmt: skip


def home_with(folder: Path) -> Path:
    for made in ALL:
        session = folder / "sessions" / made.id
        (session / "clips").mkdir(parents=True)
        (session / "record.json").write_bytes(as_bytes(made))
        (session / "clips/1.flac").write_bytes(b"sound")
    certify(folder, repair(LAMP.key, day(4)))
    return folder


@pytest.fixture
def filled(engine: Engine) -> Engine:
    with writing(engine) as session:
        import_records(session, [checked(made) for made in ALL], ["local"] * len(ALL))
        import_repairs(session, [repair(LAMP.key, day(4))], ["local"])
    return engine


def test_it_only_says_what_it_would_do_unless_told_to(filled: Engine) -> None:
    found = prune(filled, BEFORE, home=None, depot_known=False, do=False)
    assert found.remove == ("r2", "r4")
    assert found.keep_open == ("r1", "r3")
    with reading(filled) as session:
        assert session.scalar(select(func.count()).select_from(DocumentRow)) == 5


def test_texts_and_names_go_and_what_trends_need_stays(filled: Engine) -> None:
    prune(filled, BEFORE, home=None, depot_known=False, do=True)
    with reading(filled) as session:
        assert load_document(session, "r2") is None
        assert load_document(session, "r1") == R1
        rows = {row.id: row for row in session.scalars(select(RecordRow))}
        assert [id for id, row in sorted(rows.items()) if row.pruned] == ["r2", "r4"]
        assert (rows["r4"].driver, rows["r1"].driver) == (None, "A. Sample")
        assert session.scalar(select(func.count()).select_from(ReadingRow)) == 2
        assert session.scalars(select(FactRow.by).where(FactRow.source == "record:r2")).all() == [None]
        assert [life.defect for life in open_lives(session, "unit-0001")] == [HORN.key]
    again = prune(filled, BEFORE, home=None, depot_known=False, do=True)
    assert (again.remove, again.keep_open) == ((), ("r1", "r3"))


def test_a_record_of_a_defect_found_open_since_the_plan_was_made_is_kept(tmp_path: Path) -> None:
    """It is looked at again before anything goes: another program may have brought something in meanwhile."""
    home = tmp_path / "home"
    mirror = defect("mirror@left#cracked")
    found = record("late", day(0), defects=[mirror])  # by a device that was away; it is not here yet
    for made in (record("said", day(3), carried=[still(mirror, found, "repaired")]), record("plain", day(4))):
        session_folder = home / "sessions" / made.id
        session_folder.mkdir(parents=True)
        (session_folder / "record.json").write_bytes(as_bytes(made))
    engine = open_local(home)
    import_home(engine, home)
    with reading(engine) as session:
        wanted = plan(session, BEFORE, home=home)
    assert wanted.remove == ("said", "plain")
    assert sorted(path.name for path in wanted.folders) == ["plain", "said"]
    with writing(engine) as session:
        import_records(session, [checked(found)], ["other"])
    carry_out(engine, wanted)
    with reading(engine) as session:
        assert session.scalars(select(RecordRow.id).where(RecordRow.pruned.is_not(None))).all() == ["plain"]
        assert load_document(session, "said") is not None
    assert [path.name for path in (home / "sessions").iterdir()] == ["said"]
    engine.dispose()


def test_a_pruned_record_that_comes_again_is_known(filled: Engine) -> None:
    prune(filled, BEFORE, home=None, depot_known=False, do=True)
    with writing(filled) as session:
        (outcome,) = import_records(session, [checked(R2)], ["local"])
        assert outcome.verdict == "known"
    with reading(filled) as session:
        assert load_document(session, "r2") is None


def test_once_certified_it_may_go(filled: Engine) -> None:
    with writing(filled) as session:
        import_repairs(session, [repair(HORN.key, day(5))], ["local"])
    assert prune(filled, BEFORE, home=None, depot_known=False, do=True).remove == ("r1", "r2", "r3", "r4")


def test_an_old_life_of_a_defect_that_came_back_may_go_the_new_one_not(engine: Engine) -> None:
    back = record("r6", day(6), defects=[HORN])
    with writing(engine) as session:
        import_records(session, [checked(R1), checked(back)], ["a", "a"])
        import_repairs(session, [repair(HORN.key, day(5))], ["a"])
    found = prune(engine, BEFORE, home=None, depot_known=False, do=False)
    assert (found.remove, found.keep_open) == (("r1",), ("r6",))


def test_session_folders_go_with_their_records_and_others_stay(tmp_path: Path) -> None:
    home = home_with(tmp_path)
    engine = open_local(home)
    import_home(engine, home)
    stray = home / "sessions/stray"
    stray.mkdir()
    (stray / "record.json").write_text("{}")
    (home / "sessions/unfinished").mkdir()
    (home / "sessions/unfinished/journal.jsonl").write_text("")
    found = prune(engine, BEFORE, home=home, depot_known=False, do=True)
    assert (found.remove, found.keep_open, found.keep_unknown) == (("r2", "r4"), ("r1", "r3"), ("stray",))
    assert sorted(path.name for path in (home / "sessions").iterdir()) == ["r1", "r3", "r5", "stray", "unfinished"]


def test_what_the_depot_has_not_yet_got_stays(tmp_path: Path, engine: Engine) -> None:
    from voice.logbook.sync import sync

    home = home_with(tmp_path / "home")
    local = open_local(home)
    import_home(local, home)
    found = prune(local, BEFORE, home=home, depot_known=True, do=True)
    assert (found.remove, found.keep_unsent) == ((), ("r2", "r4"))
    sync(home, local, engine)
    assert prune(local, BEFORE, home=home, depot_known=True, do=True).remove == ("r2", "r4")


def test_a_folder_left_over_from_an_interrupted_pruning_goes_the_next_time(tmp_path: Path) -> None:
    home = home_with(tmp_path)
    engine = open_local(home)
    import_home(engine, home)
    prune(engine, BEFORE, home=None, depot_known=False, do=True)  # the database was done, the folders not
    found = prune(engine, BEFORE, home=home, depot_known=False, do=True)
    assert sorted(path.name for path in found.folders) == ["r2", "r4"]
    assert not (home / "sessions/r2").exists()


def test_a_record_that_ended_at_the_very_moment_of_the_cut_off_stays(engine: Engine) -> None:
    """It is not older than that. A moment before it is."""
    exactly, before = record("exactly", BEFORE), record("before", BEFORE - timedelta(microseconds=1))
    with writing(engine) as session:
        import_records(session, [checked(exactly), checked(before)], ["a", "a"])
    assert prune(engine, BEFORE, home=None, depot_known=False, do=False).remove == ("before",)


def test_times_an_earlier_version_wrote_without_a_fraction_are_compared_like_all_others(tmp_path: Path) -> None:
    """SQLite compares them as text, and "06:00:00" stands before "06:00:00.000000"."""
    engine = open_local(tmp_path)
    later = record("later", day(150), defects=[LAMP])
    made = [record("exactly", BEFORE, readings=[tread("9/32")]), record("before", day(99)), later]
    with writing(engine) as session:
        import_records(session, [checked(each) for each in made], ["a"] * 3)
        import_repairs(session, [repair(LAMP.key, day(151))], ["a"])
    downgrade(engine, "0003")
    with writing(engine) as session:
        for table, column in WRITTEN_SHORT:
            session.execute(text(f"UPDATE {table} SET {column} = substr({column}, 1, 19)"))
    engine.dispose()
    engine = open_local(tmp_path)
    with reading(engine) as session:
        for table, column in WRITTEN_SHORT:
            found = session.scalars(text(f"SELECT {column} FROM {table}")).all()
            assert {len(value) for value in found if value is not None} <= {26}, (table, column)
    assert prune(engine, BEFORE, home=None, depot_known=False, do=False).remove == ("before",)
    engine.dispose()


def test_lengths_of_time() -> None:
    """49 CFR 396.11(a)(4): three months, of the calendar."""
    now = datetime(2026, 5, 31, 8, tzinfo=UTC)
    assert cut_off("3 months", now) == datetime(2026, 2, 28, 8, tzinfo=UTC)
    assert cut_off("1 year", now) == datetime(2025, 5, 31, 8, tzinfo=UTC)
    assert cut_off("100 days", now) == now - timedelta(days=100)
    assert cut_off(" 15 Months ", now) == datetime(2025, 2, 28, 8, tzinfo=UTC)
    for short in ("2 months", "80 days", "0 years"):
        with pytest.raises(SetupError, match=r"396\.11\(a\)\(4\)"):
            cut_off(short, now)
    for nonsense in ("", "soon", "-3 months", "3", "3 fortnights", "9999 years"):
        with pytest.raises(SetupError):
            cut_off(nonsense, now)


@given(st.datetimes(datetime(2000, 1, 1), datetime(2100, 1, 1)), st.integers(LEAST_MONTHS, 60))
def test_months_before_is_what_a_calendar_says(now: datetime, months: int) -> None:
    """Against dateutil's relativedelta."""
    from dateutil.relativedelta import relativedelta

    assert cut_off(f"{months} months", now) == now - relativedelta(months=months)
