"""What a record may hold is bounded where it comes in, and one bad record never stops the others."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.record.test_records_cli import Cli
from tests.record.walks import signed
from voice.errors import RecordError
from voice.record.load import read_record
from voice.record.model import InspectionRecord
from voice.record.report import render_html
from voice.record.seal import content_sha256, dump_record, seal
from voice.record.table import readings_csv

FEW = ("chocks", "brake-lights", "tire-tread", "steering-lash")


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> InspectionRecord:
    return signed(tmp_path_factory.mktemp("home"), {"brake-lights": ("defect", "lamp out")}, only=FEW)


@pytest.fixture
def cli(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Cli:
    monkeypatch.chdir(tmp_path)
    return Cli(tmp_path / "home", monkeypatch, capsys)


def _put(content: dict[str, Any], path: str, value: object) -> None:
    *way, last = path.split(".")
    inner: Any = content
    for part in way:
        inner = inner[int(part) if part.isdigit() else part]
    inner[last] = value


def _reading(content: dict[str, Any]) -> str:
    """The path of the first reading."""
    return next(f"entries.{n}.readings.0" for n, entry in enumerate(content["entries"]) if entry["readings"])


OUT_OF_BOUNDS: list[tuple[str, object]] = [
    ("id", "../victim/record"),
    ("id", "x" * 101),
    ("id", ""),
    ("id", "con.json"),
    ("vehicle.id", "../x"),
    ("vehicle.id", "x" * 73),
    ("vehicle.name", "x" * 301),
    ("driver", "x" * 301),
    ("driver", "A\u0000B"),
    ("driver", "\u001b[2J"),
    ("started", "2026-03-01T06:00:00"),
    ("started", "0001-01-01T00:00:00+14:00"),
    ("started", "9999-12-31T23:59:59-14:00"),
    ("sign_off.at", "2026-03-01T06:00:00"),
    ("sign_off.name", "x" * 301),
    ("sign_off.clip", "../../etc/passwd"),
    ("sign_off.clip", "/etc/passwd"),
    ("journal.file", "../journal.jsonl"),
    ("journal.events", -1),
    ("journal.sha256", "0"),
    ("entries.0.asked_again", 10**12),
    ("entries.0.reason", "x" * 10_001),
    ("entries.0.place.axle", 10**9),
    ("entries.0.title", "A\u0000B"),
    ("READING.value", "1/0"),
    ("READING.value", "NaN"),
    ("READING.value", "1e99999999"),
    ("READING.value", "9" * 5000),
    ("READING.decimal", 1e300),
    ("READING.unit", "foot**9**9"),
    ("vehicle.steering.wheel_in", "1e99999999"),
    ("vehicle.steering.wheel_in", "1/0"),
]


@pytest.mark.parametrize(("path", "value"), OUT_OF_BOUNDS)
def test_what_is_out_of_bounds_is_refused_in_one_sentence(record: InspectionRecord, path: str, value: object) -> None:
    content = json.loads(dump_record(record))
    _put(content, path.replace("READING", _reading(content)), value)
    content["record_sha256"] = content_sha256(content)
    with pytest.raises(RecordError) as caught:
        read_record(json.dumps(content).encode(), "x.json")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ('"schema_version": 1,', '"schema_version": 1, "seconds": 1e999,', "too large"),
        ('"schema_version": 1,', '"schema_version": 1, "seconds": ' + "9" * 5000 + ",", "too many digits"),
        ('"program": "', '"program": "\\ud800', "half of a character"),
        ('"program": "', '"program": "\\uDFFF', "half of a character"),
        ('"schema_version": 1,', '"schema_version": 1, "x": ' + "[" * 400 + "]" * 400 + ",", "broken at"),
        ('"driver"', '"driver": "X", "driver"', "given twice"),
    ],
)
def test_verify_goes_on_after_a_record_that_is_no_json(
    cli: Cli, tmp_path: Path, record: InspectionRecord, old: str, new: str, why: str
) -> None:
    text = dump_record(record)
    assert old in text
    (tmp_path / "bad.json").write_text(text.replace(old, new, 1))
    (tmp_path / "good.json").write_text(dump_record(seal(record)))
    code, out, err = cli("verify", "bad.json", "good.json")
    assert code == 1, err
    assert why in out
    assert "good.json" in out
    assert out.count("unchanged since it was sealed") == 1


def test_verify_goes_on_after_one_that_is_not_there(cli: Cli, tmp_path: Path, record: InspectionRecord) -> None:
    (tmp_path / "good.json").write_text(dump_record(seal(record)))
    code, out, err = cli("verify", "nowhere", "x" * 300, "good.json")
    assert code == 2
    assert "There is no session nowhere" in err
    assert len(err.splitlines()) == 2
    assert "unchanged since it was sealed" in out


def test_the_name_of_a_written_file_never_leads_out_of_its_folder(cli: Cli, tmp_path: Path) -> None:
    made = signed(cli.home, only=FEW)
    folder = tmp_path / "copied"
    shutil.copytree(cli.home / "sessions" / made.id, folder)
    content = json.loads((folder / "record.json").read_text())
    content["id"] = "../victim/record"
    content["record_sha256"] = content_sha256(content)
    (folder / "record.json").write_text(json.dumps(content))
    victim = tmp_path / "victim"
    victim.mkdir()
    (victim / "record.json").write_text("precious")
    code, _, err = cli("export", str(folder), "--out", "out")
    assert code == 1
    assert "broken at id" in err
    assert (victim / "record.json").read_text() == "precious"


def test_units_that_do_not_fit_are_printed_as_they_stand(record: InspectionRecord) -> None:
    """A record of another program may hold them; the unit reader never sees one that is not in units.yaml."""
    content = json.loads(dump_record(record))
    path = _reading(content)
    for unit in ("psi", "furlong", "in", "lb"):
        _put(content, f"{path}.unit", unit)
        content["odometer"] = {"quantity": "odometer", "value": "7/32", "decimal": 0.21875, "unit": unit, "name": ""}
        content["record_sha256"] = content_sha256(content)
        strange = read_record(json.dumps(content).encode(), "x.json")
        assert unit in render_html(strange)
        assert unit in readings_csv(strange)
