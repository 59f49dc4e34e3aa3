"""The commands, as a user runs them."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy.engine import URL
from typer.testing import CliRunner, Result

from tests.logbook.data import as_bytes, day, defect, record, repair, tread
from voice.cli import app
from voice.errors import SetupError
from voice.record.device import device_key
from voice.record.repairs import certify
from voice.route.vehicles import read_vehicle, vehicle_files

HORN, LAMP = defect("horn#not-working", "halt"), defect("lamp@left#out")


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.delenv("GLADHAND_LOGBOOK_URL", raising=False)
    monkeypatch.setenv("COLUMNS", "160")
    folder = tmp_path / "home"
    key = device_key(folder)
    for number, made in enumerate(
        (
            record("r1", day(0), defects=[HORN], readings=[tread("9/32")], odometer=1000),
            record("r2", day(1), defects=[LAMP], readings=[tread("8/32")], odometer=2000),
        )
    ):
        session = folder / "sessions" / f"r{number + 1}"
        session.mkdir(parents=True)
        (session / "record.json").write_bytes(as_bytes(key.sign(made)))
    certify(folder, repair(LAMP.key, day(2)), key)
    return folder


def run(home: Path, *arguments: str) -> Result:
    return CliRunner().invoke(app, [*arguments, "--home", str(home)], catch_exceptions=False)


def test_history_of_what_lies_in_the_sessions_without_any_setting_up(home: Path, tmp_path: Path) -> None:
    shown = run(home, "history", "unit-0001")
    assert shown.exit_code == 0
    assert "horn#not-working" in shown.output
    page = tmp_path / "page.html"
    assert run(home, "history", "unit-0001-tractor", "--html", str(page)).output.strip() == str(page)
    assert "<svg" in page.read_text()
    with pytest.raises(SetupError, match="knows no vehicle"):
        run(home, "history", "unit-0009")


def test_a_unit_with_a_profile_and_no_inspection_is_said_to_have_none(home: Path) -> None:
    (home / "vehicles").mkdir()
    profile = next(iter(vehicle_files().values()))
    (home / "vehicles" / "own.yaml").write_text(profile.read_text())
    with pytest.raises(SetupError, match="has no inspection yet"):
        run(home, "history", read_vehicle(profile).id)


def test_open_defects(home: Path) -> None:
    shown = run(home, "logbook", "open", "unit-0001").output
    assert shown.startswith("unit-0001-tractor: horn#not-working  may not be driven")
    assert "lamp" not in shown
    certify(home, repair(HORN.key, day(3)), device_key(home))
    assert "none" in run(home, "logbook", "open", "unit-0001").output


def test_a_vehicle_nobody_knows_is_not_told_to_be_without_defects(home: Path) -> None:
    with pytest.raises(SetupError, match=r"knows no vehicle 'unit-0009'.*unit-0001"):
        run(home, "logbook", "open", "unit-0009")


def test_import_says_what_became_of_each(home: Path, tmp_path: Path) -> None:
    assert run(home, "logbook", "import").output == (
        "inspections: 2 imported, 0 known already, 0 set aside\n"
        "certifications: 1 imported, 0 known already, 0 set aside\n"
    )
    assert "inspections: 0 imported, 2 known already" in run(home, "logbook", "import").output
    broken = tmp_path / "in"
    broken.mkdir()
    (broken / "x.json").write_bytes(as_bytes(record("r3", day(3)))[:-20])
    told = run(home, "logbook", "import", str(broken))
    assert told.exit_code == 1
    assert "0 imported, 0 known already, 1 set aside" in told.output
    assert "not a whole record" in told.output
    with pytest.raises(SetupError, match="There is no"):
        run(home, "logbook", "import", str(tmp_path / "nowhere"))


def test_prune_says_first_and_does_with_yes(home: Path) -> None:
    said = run(home, "prune", "--older-than", "3 months").output
    assert "would be removed: 1" in said
    assert "Kept because a defect is still open: 1" in said
    assert "Add --yes" in said
    assert (home / "sessions/r2").exists()
    assert "were removed: 1" in run(home, "prune", "--older-than", "3 months", "--yes").output
    assert sorted(path.name for path in (home / "sessions").iterdir()) == ["r1"]
    with pytest.raises(SetupError, match="3 months"):
        run(home, "prune", "--older-than", "2 days")


def test_exports_and_calendar(home: Path, tmp_path: Path) -> None:
    written = run(home, "logbook", "export", "--out", str(tmp_path), "--format", "json")
    assert json.loads((tmp_path / "logbook.json").read_text())["schema_version"] == 2
    assert written.output.strip() == str(tmp_path / "logbook.json")
    assert json.loads(run(home, "logbook", "export", "--schema").output)["title"] == "Gladhand logbook"
    run(home, "logbook", "calendar", "--out", str(tmp_path / "due.ics"))
    assert "BEGIN:VTODO" in (tmp_path / "due.ics").read_text()


def test_reports(home: Path, tmp_path: Path) -> None:
    written = run(home, "reports", "--out", str(tmp_path / "out"), "--since", "2026-03-02", "--format", "html")
    assert [Path(line).name for line in written.output.split()] == ["r1.html", "r2.html"]
    none = run(home, "reports", "--out", str(tmp_path / "out"), "--since", "2030-01-01")
    assert (none.exit_code, "No report fits" in none.output) == (1, True)
    with pytest.raises(SetupError, match="not a date"):
        run(home, "reports", "--out", str(tmp_path), "--since", "yesterday")
    for until in ("2026-03-01", "2026-03-02"):
        with pytest.raises(SetupError, match=r"No day lies from 2026-03-02 .*the day after the last"):
            run(home, "reports", "--out", str(tmp_path), "--since", "2026-03-02", "--until", until)


def test_without_a_depot_sync_says_how_to_set_one_up(home: Path) -> None:
    with pytest.raises(SetupError, match=r"No depot is set up.*depot\.url"):
        run(home, "sync")


@pytest.mark.postgres
def test_a_depot_from_first_to_last(
    home: Path, tmp_path: Path, new_database: Callable[[], URL], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Owner sets up and grants; the device syncs with its own file; the owner looks, and revokes."""
    depot = tmp_path / "depot"
    owner = new_database().render_as_string(hide_password=False)
    monkeypatch.setenv("GLADHAND_LOGBOOK_URL", owner)
    outputs = [run(depot, "logbook", "init", "--depot").output]
    credentials = tmp_path / "cab.url"
    granted = ["logbook", "grant", "cab-nine", "--vehicle", "unit-0001", "--credentials", str(credentials)]
    outputs.append(run(depot, *granted).output)
    assert "CREATE ROLE" in run(depot, "logbook", "grant", "cab-nine", "--script").output

    monkeypatch.delenv("GLADHAND_LOGBOOK_URL")
    (home / "depot.url").write_bytes(credentials.read_bytes())
    (home / "depot.url").chmod(0o600)
    (depot / "trusted").mkdir(parents=True)
    (depot / "trusted/cab.pub").write_bytes((home / "device.pub").read_bytes())
    first = run(home, "sync").output
    assert "3 handed in, 0 were there, 3 not yet looked at by the depot" in first
    assert "0 open defects on 2 vehicles known to it" in first
    assert "not among them until the depot has looked at it" in first
    with pytest.raises(SetupError, match="permission denied"):
        run(home, "logbook", "open", "unit-0001", "--depot")

    monkeypatch.setenv("GLADHAND_LOGBOOK_URL", owner)
    outputs.append(run(depot, "logbook", "absorb").output)
    assert "inspections: 2 imported" in outputs[-1]
    assert "certifications: 1 imported" in outputs[-1]
    assert "horn#not-working" in run(depot, "logbook", "open", "unit-0001", "--depot").output
    assert "lamp#" not in run(depot, "history", "unit-0001", "--depot").output

    monkeypatch.delenv("GLADHAND_LOGBOOK_URL")
    outputs.append(run(home, "sync").output)
    assert "0 handed in, 3 were there, 0 not yet looked at by the depot; 1 open defects" in outputs[-1]

    monkeypatch.setenv("GLADHAND_LOGBOOK_URL", owner)
    outputs.append(run(depot, "logbook", "revoke", "cab-nine").output)
    monkeypatch.delenv("GLADHAND_LOGBOOK_URL")
    with pytest.raises(SetupError, match="cannot be reached") as refused:
        run(home, "sync")
    secret = re.search(r":([^:@/]+)@", credentials.read_text())
    assert secret is not None
    assert not any(secret[1] in text for text in (*outputs, str(refused.value)))
