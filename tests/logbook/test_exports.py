"""The logbook for other programs, read back by other libraries; and reports as PDF."""

from __future__ import annotations

import csv
import json
import shutil
import subprocess
from datetime import UTC, datetime
from pathlib import Path

import jsonschema
import pyarrow.parquet as pq
import pytest
from sqlalchemy import Engine

from tests.logbook.data import checked, day, defect, record, repair, tread
from tests.logbook.invented import truck, walks
from voice.logbook.database import reading, writing
from voice.logbook.exports import TABLES, Format, export, export_schema
from voice.logbook.pdf import Layout, Selection, to_pdf, write_reports
from voice.logbook.rows import take_apart
from voice.logbook.store import import_records, import_repairs
from voice.record.model import InspectionRecord
from voice.record.seal import dump_record

MADE = datetime(2026, 9, 1, tzinfo=UTC)
HORN = defect("horn#not-working", "halt")


@pytest.fixture
def filled(engine: Engine) -> Engine:
    records = [
        record("r1", day(0), defects=[HORN], readings=[tread("9/32")], odometer=1000, driver="=cmd()"),
        record("r2", day(1), vehicle=2, readings=[tread("8/32")]),
    ]
    with writing(engine) as session:
        import_records(session, [checked(one) for one in records], ["local", "local"])
        import_repairs(session, [repair(HORN.key, day(2))], ["local"])
    return engine


def write(engine: Engine, out: Path, format: Format, *vehicles: str) -> list[Path]:
    with reading(engine) as session:
        return export(session, out, format, MADE, vehicles)


def test_json_fits_its_schema(filled: Engine, tmp_path: Path) -> None:
    """By jsonschema's validator of JSON Schema 2020-12, formats included."""
    (file,) = write(filled, tmp_path, "json")
    content = json.loads(file.read_text())
    schema = export_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    checker = jsonschema.Draft202012Validator(schema, format_checker=jsonschema.FormatChecker())
    assert list(checker.iter_errors(content)) == []
    assert [row["record"] for row in content["records"]] == ["r1", "r2"]
    assert content["readings"][0]["value"] == 9 / 32
    assert content["defects"][0]["verdict"] == "repaired"
    assert [row["outcome"] for row in content["answers"]] == ["defect", "reading", "reading"]
    content["records"][0]["level"] = "splendid"
    assert list(checker.iter_errors(content)) != []


def test_one_vehicle_alone(filled: Engine, tmp_path: Path) -> None:
    (file,) = write(filled, tmp_path, "json", "unit-0002")
    content = json.loads(file.read_text())
    assert {row["vehicle"] for table in TABLES for row in content[table]} == {"unit-0002-tractor", "unit-0002-trailer"}


def test_csv_and_parquet_hold_the_same(filled: Engine, tmp_path: Path) -> None:
    json_file, *_ = write(filled, tmp_path, "json")
    expected = json.loads(json_file.read_text())
    write(filled, tmp_path, "csv")
    write(filled, tmp_path, "parquet")
    for table in TABLES:
        with (tmp_path / f"{table}.csv").open(newline="") as text:
            read = list(csv.DictReader(text))
        frame = pq.read_table(tmp_path / f"{table}.parquet")
        assert len(read) == frame.num_rows == len(expected[table])
        assert frame.column_names == list(TABLES[table].model_fields)
        for row, wanted in zip(frame.to_pylist(), expected[table], strict=True):
            for name, value in row.items():
                if isinstance(value, datetime):
                    assert value == datetime.fromisoformat(wanted[name])
                else:
                    assert value == wanted[name]
    assert str(pq.read_schema(tmp_path / "readings.parquet").field("at").type) == "timestamp[us, tz=UTC]"


def test_no_cell_is_a_formula(filled: Engine, tmp_path: Path) -> None:
    write(filled, tmp_path, "csv")
    with (tmp_path / "records.csv").open(newline="") as text:
        assert next(csv.DictReader(text))["driver"] == "'=cmd()"


# --- reports ----------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def walk() -> InspectionRecord:
    """A whole walk of a hundred answers with a defect or two."""
    made = [one for one in walks(truck(3, seed=2), 120, seed=2) if isinstance(one, InspectionRecord)]
    return next(one for one in made if 1 <= len(one.defects) <= 2)


def pages(pdf: Path) -> int:
    """By poppler."""
    if shutil.which("pdfinfo") is None:
        pytest.skip("poppler-utils is not installed")
    told = subprocess.run(["pdfinfo", str(pdf)], capture_output=True, text=True, check=True).stdout
    return int(next(line.split()[1] for line in told.splitlines() if line.startswith("Pages:")))


def test_a_walk_with_few_defects_is_one_page(engine: Engine, walk: InspectionRecord, tmp_path: Path) -> None:
    with writing(engine) as session:
        import_records(session, [take_apart(walk, dump_record(walk).encode())], ["local"])
    for paper in ("letter", "a4"):
        with reading(engine) as session:
            (file,) = write_reports(session, tmp_path / paper, Selection(), Layout(paper=paper))
        assert file.name == f"{walk.id}.pdf"
        assert pages(file) == 1
        text = subprocess.run(["pdftotext", str(file), "-"], capture_output=True, text=True, check=True).stdout
        assert walk.defects[0].title in text
        assert walk.driver is not None
        assert walk.driver in text
        with reading(engine) as session:
            (file,) = write_reports(session, tmp_path / paper, Selection(), Layout(length="whole", paper=paper))
        assert file.name == f"{walk.id}-whole.pdf"
        assert pages(file) > 1


def test_reports_in_batch_with_the_certifications_given_since(filled: Engine, tmp_path: Path) -> None:
    with reading(filled) as session:
        files = list(write_reports(session, tmp_path / "all", Selection(), Layout("html")))
        assert [file.stem for file in files] == ["r1", "r2"]
        assert "M. Mechanic" in files[0].read_text()
        assert "M. Mechanic" not in files[1].read_text()
        some = list(write_reports(session, tmp_path / "some", Selection(["unit-0002"]), Layout("html")))
        assert [file.stem for file in some] == ["r2"]
        late = list(write_reports(session, tmp_path / "late", Selection(since=day(0.5), until=day(9)), Layout("html")))
        assert [file.stem for file in late] == ["r2"]
        assert [
            file.stem for file in write_reports(session, tmp_path / "one", Selection(records=["r1"]), Layout("html"))
        ] == ["r1"]


def test_a_pdf_fetches_nothing(tmp_path: Path) -> None:
    secret = tmp_path / "secret.txt"
    secret.write_text("secret")
    pdf = to_pdf(f'<p>text</p><img src="file://{secret}"><a rel="attachment" href="file://{secret}">x</a>')
    assert pdf.startswith(b"%PDF")
    assert b"EmbeddedFile" not in pdf
