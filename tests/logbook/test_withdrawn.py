"""A certification given in error is withdrawn by a new entry: the defect is open again, here and where it is synced."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime
from itertools import permutations
from pathlib import Path

import pytest
from sqlalchemy import Engine, select

from tests.logbook.data import checked, day, defect, record, repair
from tests.logbook.test_sync import allow, keys, walked
from voice.judge import load_limits
from voice.logbook.database import open_local, reading, writing
from voice.logbook.depot import absorb
from voice.logbook.history import gather, moment
from voice.logbook.importer import import_home
from voice.logbook.lookup import open_lives, stands
from voice.logbook.page import render_history
from voice.logbook.schema import CertificationRow
from voice.logbook.store import import_records, import_repairs
from voice.logbook.sync import sync
from voice.measure.level import Level
from voice.record.lives import Fact, lives
from voice.record.open_defects import fold
from voice.record.past import pasts_of
from voice.record.repairs import Repair, Withdrawal, certify, read_repairs, repair_sha256, standing

HORN = defect("horn#not-working")
GIVEN = repair(HORN.key, day(2))


def withdrawal(of: Repair, at: float = 3) -> Repair:
    given = Withdrawal(key=of.certification.key, certification=repair_sha256(of), name="O. Other", at=day(at))
    return Repair(of.vehicle, of.record, given)


def test_in_whichever_order_the_facts_come_the_defect_is_open_again_and_a_later_certification_closes_it() -> None:
    found = Fact(HORN.key, "found", "record:r1", day(1), "horn", Level.REPAIR)
    given = Fact(HORN.key, "certified-repaired", "certification:a", day(2), "", None, "M")
    back = Fact(HORN.key, "withdrawn", "certification:a", day(3), "", None, "O")
    later = Fact(HORN.key, "certified-unnecessary", "certification:b", day(4), "", None, "M")
    for facts in permutations([found, given, back]):
        (life,) = lives(facts)
        assert (life.closed, life.number, life.opened) == (None, 1, day(1))
    for facts in permutations([found, given, back, later]):
        (life,) = lives(facts)
        assert (life.closed, life.verdict) == (day(4), "unnecessary")
    # A withdrawal whose clock is behind that of the certification still takes it back.
    early = Fact(HORN.key, "withdrawn", "certification:a", day(0), "", None, "O")
    assert lives([found, given, early])[0].closed is None


def test_the_homes_own_review_asks_about_it_again(tmp_path: Path) -> None:
    past = pasts_of(record("r1", day(1), defects=[HORN]))
    certify(tmp_path, GIVEN)
    assert fold(past, read_repairs(tmp_path)) == []
    assert standing(read_repairs(tmp_path)) == [GIVEN]
    certify(tmp_path, withdrawal(GIVEN))
    (open_again,) = fold(past, read_repairs(tmp_path))
    assert (open_again.key, open_again.found) == (HORN.key, day(1))
    assert standing(read_repairs(tmp_path)) == []
    assert len(read_repairs(tmp_path)) == 2, "nothing is erased"


def test_the_pages_file_lists_certifications_and_withdrawals_newest_first(engine: Engine) -> None:
    plain = checked(record("r0", day(0), vehicle=2))
    given = replace(GIVEN, certification=GIVEN.certification.model_copy(update={"remark": "new <b>horn</b>"}))
    with writing(engine) as session:
        import_records(session, [plain, checked(record("r1", day(1), defects=[HORN]))], ["local", "local"])
        import_repairs(session, [given, withdrawal(given)], ["local", "local"])
    with reading(engine) as session:
        page, other = (
            render_history(gather(session, f"unit-000{n}-tractor", load_limits(), day(9)), day(9)) for n in (1, 2)
        )
    title = "Certifications and withdrawals"
    assert title not in other
    rows = re.findall("<tr>(.*?)</tr>", page.partition(title)[2].partition("</table>")[0], re.DOTALL)[1:]
    found = [re.findall(r"<td[^>]*>(.*?)</td>", row) for row in rows]
    horn = f"{HORN.title}<br><code>{HORN.key}</code>"
    assert found == [
        [horn, moment(day(3)), "certification taken back", "O. Other", ""],
        [horn, moment(day(2)), "certified as repaired", "M. Mechanic", "new &lt;b&gt;horn&lt;/b&gt;"],
    ]


@pytest.mark.parametrize("late", [False, True])
def test_the_logbook_has_both_entries_and_the_defect_open(engine: Engine, late: bool) -> None:
    """late: the withdrawal comes in before what it takes back."""
    steps = [withdrawal(GIVEN), GIVEN] if late else [GIVEN, withdrawal(GIVEN)]
    with writing(engine) as session:
        import_records(session, [checked(record("r1", day(1), defects=[HORN]))], ["local"])
    for step in steps:
        with writing(engine) as session:
            import_repairs(session, [step], ["local"])
    with reading(engine) as session:
        assert [life.defect for life in open_lives(session, GIVEN.vehicle)] == [HORN.key]
        assert session.scalars(select(CertificationRow).where(stands())).all() == []
        assert sorted(session.scalars(select(CertificationRow.verdict))) == ["repaired", "withdrawn"]


def test_what_a_device_certified_itself_and_the_depot_withdrew_is_open_there_after_a_sync(
    engine: Engine, tmp_path: Path
) -> None:
    home = tmp_path / "device"
    allow(engine)
    walked(home, record("r1", day(1), defects=[HORN]))
    certify(home, GIVEN)
    local = open_local(home)
    sync(home, local, engine)
    assert keys(local) == []
    absorb(engine, {})
    sync(home, local, engine)
    assert keys(local) == []
    with writing(engine) as session:
        import_repairs(session, [withdrawal(GIVEN)], ["desk"])
    assert keys(local) == [], "the device does not know yet"
    sync(home, local, engine)
    assert keys(local) == [HORN.key]
    # Certified anew on the device: its own word counts until the depot has it, then the depot's, which agrees.
    certify(home, repair(HORN.key, datetime.now(UTC)))
    import_home(local, home)
    assert keys(local) == []
    sync(home, local, engine)
    assert keys(local) == []
    absorb(engine, {})
    sync(home, local, engine)
    assert keys(local) == []
    local.dispose()
