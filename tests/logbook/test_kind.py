"""The kind of an inspection in the logbook: kept, shown, exported, and filled in where a logbook is older."""

from __future__ import annotations

from pathlib import Path

import pytest
from rich.console import Console
from sqlalchemy import Engine, delete, func, select, text, update

from tests.logbook.data import checked, day, downgrade, record
from voice.judge.load import load_limits
from voice.logbook.database import reading, upgrade, writing
from voice.logbook.exports import rows
from voice.logbook.history import as_tables, gather
from voice.logbook.migrations.versions import v0006_kinds
from voice.logbook.page import render_history
from voice.logbook.schema import DocumentRow, RecordRow
from voice.logbook.store import import_records
from voice.record.model import InspectionRecord
from voice.record.seal import seal

KINDS = {"r0": "", "r1": "pre-trip", "r2": "", "r3": "en-route", "r4": "post-trip"}
TITLES = {"pre-trip": "Pre-trip inspection", "en-route": "En-route check", "post-trip": "Post-trip inspection"}


def of_kind(id: str, at: int) -> InspectionRecord:
    kind = KINDS[id]
    return seal(record(id, day(at)).model_copy(update={"kind": kind, "kind_title": TITLES.get(kind, "")}))


@pytest.fixture
def filled(engine: Engine) -> Engine:
    made = [checked(of_kind(id, number)) for number, id in enumerate(KINDS)]
    with writing(engine) as session:
        import_records(session, made, ["local"] * len(made))
    return engine


def kinds(engine: Engine) -> dict[str, tuple[str | None, str | None]]:
    with engine.connect() as connection:
        found = connection.execute(text("SELECT id, kind, kind_title FROM record"))
        return {row.id: (row.kind, row.kind_title) for row in found}


def test_each_inspection_says_its_kind_and_an_old_one_none(filled: Engine) -> None:
    with reading(filled) as session:
        history = gather(session, "unit-0001-tractor", load_limits(), day(9))
        exported = [(row["kind"], row["kind_title"]) for row in (r.model_dump() for r in rows(session, "records"))]
    assert [visit.kind for visit in history.visits] == [TITLES.get(kind) for kind in KINDS.values()]
    assert exported == [(kind or None, TITLES.get(kind)) for kind in KINDS.values()]
    console = Console(width=200, record=True, file=Path("/dev/null").open("w"))  # noqa: SIM115
    for part in as_tables(history):
        console.print(part)
    shown, page = console.export_text(), render_history(history, day(9))
    for title in TITLES.values():
        assert title in shown
        assert f'<td data-name="Kind of inspection">{title}</td>' in page


def test_an_older_logbook_is_filled_from_the_records_texts(filled: Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    """In batches; a text that is gone or broken leaves its row without a kind, and the others with theirs."""
    monkeypatch.setattr(v0006_kinds, "BATCH", 2)
    before = kinds(filled)
    downgrade(filled, "0005")
    with filled.connect() as connection:
        assert not {"kind", "kind_title"} & set(connection.execute(text("SELECT * FROM record")).keys())
    upgrade(filled)
    assert kinds(filled) == before
    downgrade(filled, "0005")
    with filled.begin() as connection:
        keys = {row.id: row.key for row in connection.execute(text("SELECT id, key FROM record"))}
        connection.execute(delete(DocumentRow).where(DocumentRow.record == keys["r3"]))
        connection.execute(update(DocumentRow).where(DocumentRow.record == keys["r1"]).values(body=b"broken"))
        connection.execute(update(RecordRow).where(RecordRow.id == "r2").values(driver="é" * 3000))
    upgrade(filled)
    assert kinds(filled) == {**before, "r1": (None, None), "r3": (None, None)}
    with reading(filled) as session:
        assert session.scalar(select(func.length(RecordRow.driver)).where(RecordRow.id == "r2")) == 300
