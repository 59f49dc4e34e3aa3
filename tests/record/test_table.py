"""The CSV files: RFC 4180, complete, and harmless in a spreadsheet."""

from __future__ import annotations

import csv
import io
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.record.walks import Script, signed
from voice.record.model import InspectionRecord
from voice.record.table import ENTRY_COLUMNS, READING_COLUMNS, entries_csv, entry_level, readings_csv
from voice.understand.meaning import Words


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> InspectionRecord:
    script: Script = {
        "brake-lights": ("defect", "lamp out"),
        "tire-tread@right-1": ("three thirty seconds", "yes"),
        "horn-air": ("not applicable", Words('no "air" horn, sir\nnone')),
    }
    return signed(tmp_path_factory.mktemp("home"), script)


def rows(text: str) -> list[dict[str, str]]:
    """As any program reads it: the standard library, with the byte order mark taken off by the encoding."""
    return list(csv.DictReader(io.StringIO(text.encode().decode("utf-8-sig"), newline="")))


def test_one_row_an_entry_in_order(record: InspectionRecord) -> None:
    read = rows(entries_csv(record))
    assert [row["step"] for row in read] == [entry.step for entry in record.entries]
    assert tuple(read[0]) == ENTRY_COLUMNS
    assert all(row["record"] == record.id for row in read)
    lamp = next(row for row in read if row["step"] == "brake-lights")
    assert (lamp["outcome"], lamp["defects"], lamp["level"]) == ("defect", "Brake lights: lamp out", "repair")
    assert lamp["details"] == "side: Left"


def test_quotes_commas_and_lines_come_through(record: InspectionRecord) -> None:
    row = next(row for row in rows(entries_csv(record)) if row["step"] == "horn-air")
    assert row["reason"] == 'no "air" horn, sir\nnone'


def test_one_row_a_reading_and_limit(record: InspectionRecord) -> None:
    read = rows(readings_csv(record))
    assert tuple(read[0]) == READING_COLUMNS
    taken = {(entry.step, r.quantity, r.name) for entry in record.entries for r in entry.readings}
    assert {(row["step"], row["quantity"], row["name"]) for row in read} == taken
    tread = next(row for row in read if row["step"] == "tire-tread@right-1" and row["level"] == "repair")
    assert Fraction(tread["value"]) == Fraction(3, 32)
    assert float(tread["decimal"]) == 0.09375
    assert (tread["source"], Fraction(tread["margin"])) == ("49 CFR 393.75(b)", Fraction(-1, 32))
    findings = sum(len(entry.findings) for entry in record.entries)
    assert sum(1 for row in read if row["limit"]) == findings


def test_lines_end_as_rfc_4180_says(record: InspectionRecord) -> None:
    text = entries_csv(record)
    assert text.startswith("\ufeff")
    assert text.endswith("\r\n")
    assert text.count("\r\n") == len(record.entries) + 1


def _with_reason(record: InspectionRecord, reason: str) -> InspectionRecord:
    entry = record.entries[0].model_copy(update={"reason": reason})
    return record.model_copy(update={"entries": (entry,)})


# The characters that make a spreadsheet take a cell for a formula: OWASP, "CSV Injection" (from memory).
@pytest.mark.parametrize(
    "reason",
    ["=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1", " =1+1", "=cmd|' /C calc'!A0", "＝1+1", "-2+3+cmd", "\n=1"],
)
def test_a_cell_that_looks_like_a_formula_is_made_text(record: InspectionRecord, reason: str) -> None:
    (row,) = rows(entries_csv(_with_reason(record, reason)))
    assert row["reason"] == "'" + reason


@pytest.mark.parametrize("reason", ["-1", "-0.25", "+3", "-1/32", "1e-5", "plain", "a=b", "5 - 3", ""])
def test_numbers_and_plain_text_stay_as_they_are(record: InspectionRecord, reason: str) -> None:
    (row,) = rows(entries_csv(_with_reason(record, reason)))
    assert row["reason"] == reason


@given(st.text(alphabet=st.characters(codec="utf-8", exclude_characters="\r")))
def test_any_text_comes_through(record: InspectionRecord, reason: str) -> None:
    (row,) = rows(entries_csv(_with_reason(record, reason)))
    assert row["reason"] in (reason, "'" + reason)
    assert row["reason"].lstrip()[:1] not in ("=", "@")


def test_the_level_is_the_worst(record: InspectionRecord) -> None:
    levels = {entry.step: entry_level(entry) for entry in record.entries}
    assert levels["tire-tread@right-1"] == "repair"
    assert levels["chocks"] is None


def test_written_and_read_as_a_file(record: InspectionRecord, tmp_path: Path) -> None:
    path = tmp_path / "entries.csv"
    path.write_bytes(entries_csv(record).encode())
    with path.open(encoding="utf-8-sig", newline="") as file:
        assert sum(1 for _ in csv.DictReader(file)) == len(record.entries)
