"""A record that version 0.2.0 made and signed: today's commands take it, and what they write of it is what it was.

`earlier/` has the record and the journal as they were written, of an invented vehicle, and the public half of the key
that signed it.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import jsonschema
import pytest
from typer.testing import CliRunner, Result

from voice.cli import app
from voice.record.load import load_record
from voice.record.open_defects import open_defects
from voice.record.schema import record_schema

EARLIER = Path(__file__).parent / "earlier"
VEHICLE = "earlier-rig"


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A folder with the signed session: its record and its journal."""
    record = load_record(EARLIER / "record-0.2.0.json")
    folder = tmp_path / "home" / "sessions" / record.id
    folder.mkdir(parents=True)
    shutil.copy(EARLIER / "record-0.2.0.json", folder / "record.json")
    shutil.copy(EARLIER / "journal-0.2.0.jsonl", folder / "journal.jsonl")
    shutil.copy(EARLIER / "device-0.2.0.pub", tmp_path / "home" / "device.pub")
    return tmp_path / "home"


def record_file(home: Path) -> Path:
    (folder,) = (home / "sessions").iterdir()
    return folder / "record.json"


def run(home: Path, *arguments: str) -> Result:
    return CliRunner().invoke(app, [*arguments, "--home", str(home)], catch_exceptions=False)


def test_it_is_of_version_0_2_0_and_fits_the_schema() -> None:
    content = json.loads((EARLIER / "record-0.2.0.json").read_text(encoding="utf-8"))
    assert content["program"] == "gladhand 0.2.0"
    jsonschema.validate(content, record_schema(), cls=jsonschema.Draft202012Validator)


def test_it_is_verified(home: Path) -> None:
    result = run(home, "verify", str(record_file(home)))
    assert result.exit_code == 0
    assert "unchanged since it was sealed" in result.output
    assert "signed by" in result.output


def test_it_is_exported_as_it_was_with_its_report(home: Path, tmp_path: Path) -> None:
    """Fields came after 0.2.0 (parking_valve_psi and others): they do not get into it, or its hash would not fit."""
    out = tmp_path / "out"
    result = run(home, "export", record_file(home).parent.name, "--out", str(out))
    assert result.exit_code == 0, result.output
    (written,) = out.glob("*.json")
    assert written.read_bytes() == (EARLIER / "record-0.2.0.json").read_bytes()
    (report,) = out.glob("*.html")
    assert "lamp out" in report.read_text(encoding="utf-8").lower()


def test_its_defect_is_open_and_the_logbook_takes_it(home: Path) -> None:
    assert [defect.key for defect in open_defects(home, VEHICLE)] == ["brake-lights#lamp-out"]
    assert run(home, "logbook", "init").exit_code == 0
    taken = run(home, "logbook", "import", str(record_file(home)))
    assert taken.output.startswith("inspections: 1 imported"), taken.output
    assert "brake-lights#lamp-out" in run(home, "logbook", "open", VEHICLE).output
