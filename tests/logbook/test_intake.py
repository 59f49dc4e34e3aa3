"""What may enter the logbook: whole, unaltered, signed by a known device; the rest is refused in one sentence."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.logbook.data import as_bytes, day, defect, record, tread
from voice.errors import RecordError
from voice.logbook.rows import UnsignedError, check_record, in_logbook_unit
from voice.measure.level import Level
from voice.record.device import device_key, trusted_keys
from voice.record.load import load_record, read_record
from voice.record.model import ReadingRecord
from voice.record.seal import content_sha256, dump_record

GOOD = record("r1", day(0), defects=[defect("horn#not-working", "halt")], readings=[tread("7/32")], odometer=120_000)


def reasons(body: bytes, trusted: dict[str, bytes] | None = None) -> str:
    with pytest.raises(RecordError) as refused:
        check_record(body, "the record", trusted or {})
    assert refused.value.message.count("\n") == 0
    return str(refused.value)


def changed(**fields: object) -> bytes:
    return json.dumps({**json.loads(as_bytes(GOOD)), **fields}).encode()


def test_a_good_record_is_taken_apart() -> None:
    found = check_record(as_bytes(GOOD), "r1", {})
    assert (found.id, found.vehicle, found.odometer, found.level) == ("r1", "unit-0001", 120_000.0, Level.HALT)
    (taken,) = found.readings
    assert (taken.item, taken.place, taken.quantity, taken.value) == ("tire-tread", "left-1", "tread-depth", 7 / 32)
    (fact,) = found.facts
    assert (fact.defect, fact.kind, fact.source, fact.at) == ("horn#not-working", "found", "record:r1", day(0))
    assert found.json() == as_bytes(GOOD)


def test_broken_altered_future_and_unsigned_are_told_apart() -> None:
    assert "is damaged, it is not a whole record" in reasons(as_bytes(GOOD)[:-40])
    assert "not a whole record" in reasons(b"\xff\xfe\x00")
    assert "altered" in reasons(changed(driver="Someone Else"))
    assert "version 2" in reasons(changed(schema_version=2))
    assert "Update the program" in reasons(changed(schema_version=2))
    assert "not an inspection record" in reasons(b"[]")
    assert "not an inspection record" in reasons(changed(schema_version=True))
    with pytest.raises(UnsignedError):
        check_record(as_bytes(record("r2", day(0), signed=False)), "r2", {})


def test_a_field_given_twice_is_refused() -> None:
    doubled = as_bytes(GOOD).replace(b'"driver"', b'"driver": "Someone Else", "driver"', 1)
    assert "given twice" in reasons(doubled)


def test_a_wrong_form_with_the_right_hash_is_refused() -> None:
    content = json.loads(as_bytes(GOOD))
    content["route"] = 5
    content["record_sha256"] = content_sha256(content)
    assert "broken at route" in reasons(json.dumps(content).encode())


def test_with_known_devices_only_their_records_are_taken(tmp_path: Path) -> None:
    key = device_key(tmp_path)
    trusted = trusted_keys(tmp_path)
    signed = key.sign(GOOD)
    assert check_record(dump_record(signed).encode(), "r1", trusted).id == "r1"
    assert "not signed by a device" in reasons(as_bytes(GOOD), trusted)
    stranger = device_key(tmp_path / "other").sign(GOOD)
    assert "does not know" in reasons(dump_record(stranger).encode(), trusted)
    # Altered and hashed anew by someone who knows how, with the old signature left on.
    content = json.loads(dump_record(signed))
    content["driver"] = "Someone Else"
    content["record_sha256"] = content_sha256(content)
    assert "signature does not fit" in reasons(json.dumps(content).encode(), trusted)


def test_every_changed_byte_is_noticed_or_means_the_same(tmp_path: Path) -> None:
    body = as_bytes(GOOD)
    for position in range(0, len(body), 7):
        spoiled = body[:position] + bytes([body[position] ^ 1]) + body[position + 1 :]
        try:
            found = check_record(spoiled, "x", {})
        except RecordError:
            continue
        # Only white space, or the signature's empty place, may change without notice.
        assert (found.sha256, found.readings, found.facts) == (GOOD.record_sha256, *_parts())


def _parts() -> tuple[object, object]:
    good = check_record(as_bytes(GOOD), "x", {})
    return good.readings, good.facts


@settings(deadline=None, max_examples=60)
@given(
    st.floats(-1e30, 1e30),
    st.text(max_size=12).filter(lambda text: "\0" not in text and text.isprintable()),
)
def test_the_quick_hash_judges_as_the_slow_one(number: float, words: str) -> None:
    """Against voice.record.canonical (RFC 8785), over all doubles that a record may hold, and odd texts."""
    reading = ReadingRecord(quantity="odometer", value="1", decimal=number, unit="mi", name=words)
    made = record("r1", day(0), driver=words, readings=[(tread("1/32")[0], reading)], seconds=1e-7)
    assert read_record(as_bytes(made), "r1").record_sha256 == made.record_sha256


def test_both_readers_take_and_refuse_the_same(tmp_path: Path) -> None:
    """Against voice.record.load.load_record."""
    for number, body in enumerate([as_bytes(GOOD), changed(driver="X"), changed(extra=1), b"{}", b"nonsense"]):
        file = tmp_path / f"{number}.json"
        file.write_bytes(body)
        outcomes = []
        for read in (lambda: load_record(file), lambda: check_record(body, "x", {})):  # noqa: B023
            try:
                read()
                outcomes.append("taken")
            except RecordError:
                outcomes.append("refused")
        assert outcomes[0] == outcomes[1]


def test_units_become_the_quantitys_own() -> None:
    """25.4 mm to the inch: definition of the international inch (1959)."""
    metric = ReadingRecord(quantity="tread-depth", value="127/20", decimal=6.35, unit="mm")
    assert in_logbook_unit(metric) == (0.25, "in")
    assert Fraction(127, 20) == Fraction("6.35")
    unknown = ReadingRecord(quantity="unheard-of", value="3", decimal=3, unit="mm")
    assert in_logbook_unit(unknown) == (3.0, "mm")
