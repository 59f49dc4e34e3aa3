"""`gladhand limits show ID`: the entry, how it is known, who uses it, examples beside its figure, its test."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.judge.yard import truck
from voice.author.second_view import TEST, examples, users, where_tested
from voice.cli import app
from voice.data.folders import prompts_dir
from voice.judge import load_limits
from voice.route import load_library, load_vehicle, vehicle_files

ROOT = Path(__file__).resolve().parents[2]
WHOLE = load_limits()
RULES = (*WHOLE.limits, *WHOLE.criteria)
VEHICLES = [load_vehicle(file) for file in vehicle_files(None).values()]


def show(name: str, home: Path) -> list[str]:
    result = CliRunner().invoke(app, ["limits", "show", name, "--home", str(home)])
    assert result.exit_code == 0, result.output
    return result.output.splitlines()


def test_a_limit_from_all_sides(tmp_path: Path) -> None:
    lines = show("tread-steer", tmp_path)
    assert "  known        read: copy of the rule at govregs.com; (a) to (c) and (e) quoted at thetrucker.com" in lines
    assert "  holds        on every day, as far as is known" in lines
    assert "  used by      tire-tread" in lines
    [example] = [line for line in lines if "example" in line]
    assert example.endswith(
        "axle 1: 3/32 in: repair before leaving; 4/32 in: watch; 5/32 in: watch; 6/32 in: within the limit"
    )
    assert f'  test         {TEST} -k "tread-steer"' in lines


def test_what_decides_is_shown_whole(tmp_path: Path) -> None:
    assert "  watch        exactly at the figure" in show("rear-guard", tmp_path)
    assert "  watch        when it is met by 1/8 in or less" in show("stroke", tmp_path)
    for name in ("inflation-flat", "lining-other-annual"):
        assert not any(line.startswith("  watch ") for line in show(name, tmp_path)), name
    assert "  table        clamp 6 standard: 1 1/4 in (read)" in show("stroke", tmp_path)
    manual, power = show("steering-lash", tmp_path), show("steering-lash-power", tmp_path)
    assert "  table        20: 2 1/2 in (read)" in manual
    assert "  table        20: 5 1/4 in (read)" in power
    assert "  table        20: 5 1/4 in (read)" not in manual
    assert "  then         repair before leaving" in show("brake-no-action", tmp_path)


def test_an_entry_of_the_past_is_shown_by_its_own_days(tmp_path: Path) -> None:
    lines = show("spare-fuses-until-2026", tmp_path)
    assert "  holds        until 2026-04-19" in lines
    assert any(line.startswith("  2026-04-20   spare fuses are no longer asked for") for line in lines)
    assert any(line.endswith("spare-fuses, missing: repair before leaving") for line in lines)


def test_an_entry_of_the_user_s_own_has_no_test_here(tmp_path: Path) -> None:
    CliRunner().invoke(app, ["limits", "use", "quebec", "--home", str(tmp_path)])
    lines = show("compressor-quebec", tmp_path)
    assert "  used by      no item, for routes of your own" in lines
    assert "  test         none, it is from a file of your own" in lines


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_every_shipped_entry_has_an_example_and_a_test(rule: object) -> None:
    day = rule.valid_to or rule.valid_from  # type: ignore[attr-defined]
    limits = WHOLE.on(day) if day else WHOLE
    told = list(examples(limits, load_library(), rule, VEHICLES))  # type: ignore[arg-type]
    assert told
    assert "decides" not in told[0] or rule.level != "halt"  # type: ignore[attr-defined]
    assert (ROOT / TEST).is_file()
    assert rule.id in where_tested(rule)  # type: ignore[arg-type, attr-defined]


def test_who_uses_a_criterion() -> None:
    library = load_library()
    flat = WHOLE.rule("tire-flat")
    assert flat is not None
    assert users(library, flat) == ("tire-pressure",)
    assert list(examples(WHOLE, library, flat, [truck()]))
    listed = WHOLE.rule("other-part")
    assert listed is not None
    assert "hoses" in users(library, listed)
    assert "tire-pressure" not in users(library, listed)


def test_the_folder_of_shipped_vehicles_is_the_one_that_is_tried() -> None:
    assert {path.parent for path in vehicle_files(None).values()} == {prompts_dir() / "vehicles"}
