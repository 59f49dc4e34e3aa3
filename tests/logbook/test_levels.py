"""The level of a record that an older version took in, which did not count what stood from an earlier report."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from sqlalchemy import Engine, text, update

from tests.logbook.coupled import Found, coupled, tractor, trailer, walk
from tests.logbook.data import checked, day, defect, downgrade, record, still
from voice.logbook.database import upgrade, writing
from voice.logbook.migrations.versions import v0008_levels
from voice.logbook.schema import DocumentRow, RecordRow, RecordUnitRow
from voice.logbook.store import import_records
from voice.record.model import CarriedRecord, InspectionRecord

HORN = defect("horn#not-working", "repair")


def walks() -> Sequence[InspectionRecord]:
    """Two of a unit with a defect that is found and still there, two likewise of a trailer, and one with nothing."""
    found = record("found", day(0), defects=[HORN])
    rig = coupled(tractor(1), trailer(1))
    worn = Found(trailer(1).id, axle=1)
    carried = CarriedRecord(
        unit=trailer(1).id, key=worn.key, title="Tread", found=day(0), record="behind", answer="still-there"
    )
    return (
        found,
        record("still", day(1), carried=[still(HORN, found)]),
        record("settled", day(2), carried=[still(HORN, found, "repaired")]),
        walk("behind", day(0), rig, [worn]),
        walk("behind-still", day(1), rig, [], [carried]),
        record("broken", day(3), carried=[still(HORN, found)]),
    )


def levels(engine: Engine) -> dict[tuple[str, str], int]:
    """Of each record, and of each unit in it."""
    whole = "SELECT id, '' AS unit, level FROM record"
    each = (
        "SELECT r.id, v.id AS unit, u.level FROM record_unit u JOIN record r ON r.key = u.record"
        " JOIN vehicle v ON v.key = u.vehicle"
    )
    with engine.connect() as connection:
        found = connection.execute(text(f"{whole} UNION ALL {each}"))
        return {(row.id, row.unit): row.level for row in found}


def test_they_become_what_an_import_gives_today(engine: Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(v0008_levels, "BATCH", 2)
    made = [checked(each) for each in walks()]
    with writing(engine) as session:
        import_records(session, made, ["local"] * len(made))
    today = levels(engine)
    assert {today["still", ""], today["behind-still", ""], today["behind-still", trailer(1).id]} == {2}
    assert {today["settled", ""], today["behind-still", tractor(1).id]} == {0}
    downgrade(engine, "0007")
    assert levels(engine) == today
    with engine.begin() as connection:
        keys = {row.id: row.key for row in connection.execute(text("SELECT id, key FROM record"))}
        old = [keys["still"], keys["behind-still"], keys["broken"]]
        connection.execute(update(RecordRow).where(RecordRow.key.in_(old)).values(level=0))
        connection.execute(update(RecordUnitRow).where(RecordUnitRow.record.in_(old)).values(level=0))
        connection.execute(update(DocumentRow).where(DocumentRow.record == keys["broken"]).values(body=b"broken"))
    upgrade(engine)
    assert levels(engine) == {name: 0 if name[0] == "broken" else level for name, level in today.items()}
