"""What is worked out of wear once and kept: a page uses it until something changes, a process beside works ahead."""

from __future__ import annotations

import math
import socket
import time
from dataclasses import replace

import pytest

from voice.desk.data import wears as kept
from voice.desk.data.fleet import fleet
from voice.desk.data.outlook import Outlook, limits_now
from voice.desk.data.wears import Mark, mark_of, wears_of
from voice.desk.page import Desk
from voice.desk.serve import Place, serve
from voice.errors import SetupError
from voice.logbook.database import reading
from voice.logbook.trends import Wear, vehicle_wear

UNIT = "unit-0001-tractor"


def worked_out(desk: Desk, mark: Mark) -> list[Wear]:
    with reading(desk.engine) as session:
        return wears_of(desk.store, session, mark, limits_now(desk.home))


def mark(desk: Desk) -> Mark:
    with reading(desk.engine) as session:
        return mark_of(session, UNIT, limits_now(desk.home))


def test_wear_is_worked_out_again_only_when_something_changed(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """One series has an interval without end, as one of nearly equal readings has: JSON knows no such number."""
    times = []

    def endless(*given: object) -> list[Wear]:
        times.append(given)
        first, *others = vehicle_wear(*given)  # type: ignore[arg-type]
        assert first.trend is not None
        return [replace(first, trend=replace(first.trend, low=-math.inf, high=math.inf)), *others]

    monkeypatch.setattr(kept, "vehicle_wear", endless)
    now = replace(mark(desk), text="of today")
    made = worked_out(desk, now)
    assert made[0].trend is not None
    assert made[0].trend.low == -math.inf
    again = worked_out(desk, now)
    assert [each.series for each in again] == [each.series for each in made]
    assert [each.trend for each in again] == [each.trend for each in made]
    assert len(times) == 1
    worked_out(desk, replace(now, text="of tomorrow"))
    assert len(times) == 2


def test_forecasts_are_worked_out_beside_the_pages_and_that_ends_with_the_desk(desk: Desk) -> None:
    before = {unit.id: unit.ahead for unit in fleet(desk, "before").units if unit.ahead}
    assert before
    with desk.store.writing() as connection:
        for table in ("forecast", "kept", "wear"):
            connection.execute(f"DELETE FROM {table}")
    assert not any(unit.ahead for unit in fleet(desk, "without").units)
    with Outlook(desk) as outlook:
        for _ in range(600):
            with desk.store.reading() as connection:
                if connection.execute("SELECT count(*) FROM kept").fetchone()[0]:
                    break
            time.sleep(0.1)
        process = outlook._process
        assert process.is_alive()
    assert not process.is_alive()
    assert process.exitcode == 0
    after = {unit.id: unit.ahead for unit in fleet(desk, "after").units if unit.ahead}
    assert {id: [each.what for each in ahead] for id, ahead in after.items()} == {
        id: [each.what for each in ahead] for id, ahead in before.items()
    }


def test_no_process_is_started_for_a_port_that_is_taken(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    started: list[Outlook] = []
    monkeypatch.setattr(Outlook, "__enter__", started.append)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(SetupError, match="cannot be served"):
            serve(desk, Place(port=taken.getsockname()[1]))
    assert not started
