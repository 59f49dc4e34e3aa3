"""What pruning promises when the plan is no longer true: it looks again before it removes anything."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import select

from tests.logbook.data import as_bytes, checked, day, defect, load_document, record, repair
from voice.errors import RecordError
from voice.logbook.database import open_local, reading, writing
from voice.logbook.importer import import_home
from voice.logbook.prune import Pruning, carry_out, prune
from voice.logbook.schema import FactRow, RecordRow
from voice.logbook.store import import_records

HORN = defect("horn#not-working", "halt")
FIRST = record("r1", day(0), defects=[HORN])
PLAIN = record("r2", day(1))
BEFORE = day(100)


def home_with(folder: Path) -> Path:
    for made in (FIRST, PLAIN):
        (folder / "sessions" / made.id).mkdir(parents=True)
        (folder / "sessions" / made.id / "record.json").write_bytes(as_bytes(made))
    return folder


def test_a_record_whose_defect_is_open_stays_even_if_the_plan_says_it_goes(tmp_path: Path) -> None:
    """The plan was made before the defect was known to be open: another device brought it in meanwhile."""
    home = home_with(tmp_path)
    engine = open_local(home)
    import_home(engine, home)
    stale = Pruning(BEFORE, remove=("r1", "r2"), folders=(home / "sessions/r1", home / "sessions/r2"))
    carry_out(engine, stale)
    with reading(engine) as session:
        assert load_document(session, "r1") == FIRST
        assert load_document(session, "r2") is None
        row = session.scalars(select(RecordRow).where(RecordRow.id == "r1")).one()
        assert (row.pruned, row.driver) == (None, "A. Sample")
        assert session.scalars(select(FactRow.by).where(FactRow.source == "record:r1")).all() == ["A. Sample"]
    assert (home / "sessions/r1/record.json").read_bytes() == as_bytes(FIRST)
    assert not (home / "sessions/r2").exists()


def test_what_ended_before_the_moment_goes_and_what_ended_after_it_stays(tmp_path: Path) -> None:
    home = home_with(tmp_path)
    engine = open_local(home)
    import_home(engine, home)
    ended = PLAIN.ended
    assert ended is not None
    after = prune(engine, ended - timedelta(seconds=1), home=home, depot_known=False, do=False)
    assert (after.remove, after.folders) == ((), ())
    late = prune(engine, ended + timedelta(seconds=1), home=home, depot_known=False, do=False)
    assert (late.remove, late.folders) == (("r2",), (home / "sessions/r2",))


def test_a_folder_that_cannot_be_removed_is_told_and_goes_the_next_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    home = home_with(tmp_path)
    engine = open_local(home)
    import_home(engine, home)

    def refuses(folder: Path) -> None:
        raise PermissionError(13, "Permission denied")

    with monkeypatch.context() as patch:
        patch.setattr("shutil.rmtree", refuses)
        with pytest.raises(RecordError, match="r2 cannot be removed"):
            prune(engine, BEFORE, home=home, depot_known=False, do=True)
    assert (home / "sessions/r2").exists()
    prune(engine, BEFORE, home=home, depot_known=False, do=True)
    assert not (home / "sessions/r2").exists()


def test_a_certified_record_goes_only_as_long_as_nobody_saw_the_defect_again(tmp_path: Path) -> None:
    """The certification is of day 2; seen again on day 3, the defect is open anew, and its new record stays."""
    engine = open_local(tmp_path)
    again = record("r3", day(3), defects=[HORN])
    from voice.logbook.store import import_repairs

    with writing(engine) as session:
        import_records(session, [checked(FIRST), checked(again)], ["a", "a"])
        import_repairs(session, [repair(HORN.key, day(2))], ["a"])
    done = prune(engine, BEFORE, home=None, depot_known=False, do=True)
    assert (done.remove, done.keep_open) == (("r1",), ("r3",))
