"""The calendar of law: an inspection is judged by what holds on the day it begins, and keeps that."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.judge.yard import at, rig
from voice.author.calendar import calendar, holds
from voice.cli import app
from voice.errors import SetupError
from voice.judge import LimitSet, judge_defect, limits_of, load_limits
from voice.measure.level import Level

LAST_FUSES = date(2026, 4, 19)


def fuses(limits: LimitSet) -> Level:
    return judge_defect(limits, at(rig(), item="spare-fuses"), "missing", part="emergency-equipment").level


def test_spare_fuses_were_asked_for_until_the_change_took_effect() -> None:
    """393.95(b), removed with effect of 20 April 2026."""
    whole = load_limits()
    assert fuses(whole.on(LAST_FUSES)) is Level.REPAIR
    assert fuses(whole.on(LAST_FUSES + timedelta(days=1))) is Level.WATCH
    assert fuses(whole.on(date(2019, 1, 1))) is Level.REPAIR


def test_a_home_gives_what_holds_on_the_day(tmp_path: Path) -> None:
    assert fuses(limits_of(tmp_path, LAST_FUSES)) is Level.REPAIR
    own = tmp_path / "own.yaml"
    own.write_text(
        "layer: own\ntitle: An invented house rule\nlimits:\n  - id: mud-flap\n    value: 8\n"
        "    valid_from: 2026-02-01\n"
        "    changes: [{day: 2026-02-01, what: house rule 3 begins}]\n"
        "    source: {section: House rule 3, known: practice}\n"
    )
    assert limits_of(tmp_path, date(2026, 2, 1), [own]).rule("mud-flap") is not None
    assert limits_of(tmp_path, date(2026, 1, 31), [own]).rule("mud-flap") is None


def test_entries_that_follow_each_other_leave_no_day_out() -> None:
    """A clock that is wrong takes no question away: of each quantity and item as much is judged on any day."""
    whole = load_limits()
    days = [date(1970, 1, 1), date(2199, 12, 31), date(2026, 3, 22), date(2026, 3, 23), LAST_FUSES, date(2026, 4, 20)]
    for day in days:
        held = whole.on(day)
        assert {limit.quantity for limit in held.limits} == {limit.quantity for limit in whole.limits}, day
        assert {i for rule in held.criteria for i in rule.items} == {i for rule in whole.criteria for i in rule.items}
        ids = [rule.id for rule in (*held.limits, *held.criteria)]
        assert not any(f"{name}-until-2026" in ids for name in ids)


def test_a_kept_set_is_judged_by_as_it_was() -> None:
    """A session keeps the set of its first day, as JSON; a later day changes nothing of it."""
    kept = load_limits().on(LAST_FUSES)
    again = LimitSet.model_validate_json(kept.model_dump_json())
    assert again == kept
    assert fuses(again) is Level.REPAIR


def test_the_calendar_is_in_order_and_says_what_begins_and_ends() -> None:
    days = calendar(load_limits(), date.min)
    assert list(days) == sorted(days, key=lambda each: (each.day, each.id))
    kinds = {(each.id, each.day): each.kind for each in days}
    assert kinds["spare-fuses", date(2026, 4, 20)] == "begins"
    assert kinds["spare-fuses-until-2026", date(2026, 4, 20)] == "ends"
    assert kinds["sheeting-older", date(2025, 5, 30)] == "noted"
    assert kinds["listed-part", date(2014, 12, 18)] == kinds["listed-part", date(2020, 9, 17)] == "noted"
    assert {each.day for each in calendar(load_limits(), date(2026, 4, 20))} == {date(2026, 4, 20)}
    rule = load_limits().rule("spare-fuses-until-2026")
    assert rule is not None
    assert holds(rule) == "until 2026-04-19"


def test_limits_changed_lists_what_and_why(tmp_path: Path) -> None:
    def run(since: str) -> str:
        result = CliRunner().invoke(app, ["limits", "changed", "--since", since, "--home", str(tmp_path)])
        assert result.exit_code == 0
        return result.output

    lines = run("2026-01-01").splitlines()
    assert lines[0].startswith("2026-03-23  rear-guard-defect (noted): its label or certification mark")
    assert any(
        line.startswith("2026-04-20  spare-fuses (begins): spare fuses are no longer asked for") for line in lines
    )
    assert all("2025" not in line[:4] for line in lines)
    assert run("2190-01-01") == "No change since 2190-01-01 is known.\n"


@pytest.mark.parametrize("since", ["yesterday", "2026-13-01", ""])
def test_a_day_that_is_none_is_one_sentence(tmp_path: Path, since: str) -> None:
    refused = CliRunner().invoke(app, ["limits", "changed", "--since", since, "--home", str(tmp_path)]).exception
    assert isinstance(refused, SetupError)
    assert "is no date" in str(refused)
