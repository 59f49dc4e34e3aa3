"""The canonical text and the hash: RFC 8785, and that no change of a record goes unnoticed."""

from __future__ import annotations

import hashlib
import json
import struct
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import rfc8785
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.record.walks import signed
from voice.errors import RecordError
from voice.record.canonical import canonical
from voice.record.load import _content, _quickly, load_record, parse_record, read_record
from voice.record.model import InspectionRecord
from voice.record.seal import content_sha256, dump_record, save_record, seal


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> InspectionRecord:
    home = tmp_path_factory.mktemp("home")
    return signed(home, {"brake-lights": ("defect", "lamp out")}, only=("chocks", "steering-lash", "brake-lights"))


# RFC 8785, appendix B: IEEE 754 doubles in hex and their text (from memory of the RFC).
RFC_8785_NUMBERS = [
    ("0000000000000000", "0"),
    ("8000000000000000", "0"),
    ("0000000000000001", "5e-324"),
    ("8000000000000001", "-5e-324"),
    ("7fefffffffffffff", "1.7976931348623157e+308"),
    ("4340000000000000", "9007199254740992"),
    ("c340000000000000", "-9007199254740992"),
    ("4430000000000000", "295147905179352830000"),
    ("44b52d02c7e14af5", "9.999999999999997e+22"),
    ("44b52d02c7e14af6", "1e+23"),
    ("444b1ae4d6e2ef50", "1e+21"),
    ("3eb0c6f7a0b5ed8d", "0.000001"),
    ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"),
    ("41b3de4355555553", "333333333.3333332"),
    ("41b3de4355555555", "333333333.3333333"),
    ("becbf647612f3696", "-0.0000033333333333333333"),
]


@pytest.mark.parametrize(("bits", "text"), RFC_8785_NUMBERS)
def test_numbers_are_written_as_in_rfc_8785(bits: str, text: str) -> None:
    assert canonical(struct.unpack(">d", bytes.fromhex(bits))[0]) == text.encode()


def test_the_sorting_example_of_rfc_8785() -> None:
    # RFC 8785 section 3.2.3: keys in order of their UTF-16 code units (from memory of the RFC).
    keys = ["\u20ac", "\r", "\ufb33", "1", "\U0001f600", "\u0080", "\u00f6"]
    ordered = list(json.loads(canonical(dict.fromkeys(keys, 0))))
    assert ordered == ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]


def test_the_string_example_of_rfc_8785() -> None:
    # RFC 8785 section 3.2.2 (from memory of the RFC).
    text = '\u20ac$\u000f\nA\'B"\\\\"/'
    assert canonical(text).decode() == '"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"'


json_values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53), 2**53)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner, max_size=4),
    max_leaves=12,
)


odd_values = st.recursive(
    st.integers(-(2**70), 2**70)
    | st.sampled_from([0.0, -0.0, 1e-4, 9.99e-5, 1e15, 1e15 + 0.5, 2.0**53, 2.0**53 + 2, 2.0**63, 1e21, 1e-7, 5e-324])
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(alphabet='a\u00e9\ud7ff\ue000\uffff\U00010000\U0001f600\x00\x1f\x7f"\\/ \u2028', max_size=4),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.tuples(inner, inner)
        | st.dictionaries(st.text(alphabet='ab\u00e9\ue000\uffff\U00010000\U0001f600"', max_size=3), inner, max_size=4)
    ),
    max_leaves=10,
)


@settings(max_examples=400)
@given(json_values | odd_values)
def test_the_quick_text_is_the_plain_one(value: Any) -> None:
    """Byte for byte, against the library rfc8785, which was written by others and shares nothing with it.

    That one refuses whole numbers beyond 2**53, which RFC 8785 leaves open.
    """
    try:
        plain = rfc8785.dumps(value)
    except rfc8785.IntegerDomainError:
        return
    except rfc8785.CanonicalizationError:  # half of a surrogate pair
        with pytest.raises(UnicodeEncodeError):
            canonical(value)
        return
    assert canonical(value) == plain


@pytest.mark.parametrize(("bits", "text"), RFC_8785_NUMBERS)
def test_the_plain_text_has_the_numbers_of_rfc_8785(bits: str, text: str) -> None:
    assert rfc8785.dumps(struct.unpack(">d", bytes.fromhex(bits))[0]) == text.encode()


def test_what_is_nested_without_end_is_refused() -> None:
    with pytest.raises(ValueError, match="ecursion"):
        canonical(json.loads("[" * 300 + "]" * 300))


@given(json_values)
def test_canonical_text_means_the_same_and_is_stable(value: Any) -> None:
    try:
        text = canonical(value)
    except UnicodeEncodeError:  # a lone surrogate is no JSON text
        return
    assert json.loads(text, parse_int=float) == value
    assert canonical(json.loads(text)) == text


def test_not_a_number_has_no_text() -> None:
    with pytest.raises(ValueError, match="no place in JSON"):
        canonical(float("nan"))


def test_hash_is_the_same_through_file_and_model(record: InspectionRecord, tmp_path: Path) -> None:
    path = tmp_path / "record.json"
    save_record(record, path)
    again = load_record(path)
    assert again == record
    assert seal(again).record_sha256 == record.record_sha256
    # Whoever checks it with another program needs no more than this: keys sorted, no blanks, whole numbers without a
    # point, two fields blank.
    content = _whole({**json.loads(path.read_text()), "record_sha256": "", "device": None})
    plain = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    assert hashlib.sha256(plain.encode()).hexdigest() == record.record_sha256


def _whole(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _whole(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_whole(inner) for inner in value]
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _places(value: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """The paths of all plain values, and of all lists and objects that are empty."""
    if isinstance(value, dict | list) and value:
        for key, inner in value.items() if isinstance(value, dict) else enumerate(value):
            yield from _places(inner, (*path, key))
    else:
        yield path


def _change(value: Any) -> Any:
    match value:
        case bool():
            return not value
        case int() | float():
            return value + 1
        case str():
            return value + "x" if not value.endswith("x") else value[:-1]
        case None:
            return "something"
        case list():
            return ["something"]
        case _:
            return {"something": 1}


def test_every_field_that_is_changed_is_noticed(record: InspectionRecord, tmp_path: Path) -> None:
    """Each single value of a whole record, one after the other."""
    path = tmp_path / "record.json"
    text = dump_record(record)
    places = list(_places(json.loads(text)))
    assert len(places) > 200
    for place in places:
        content = json.loads(text)
        inner = content
        for key in place[:-1]:
            inner = inner[key]
        inner[place[-1]] = _change(inner[place[-1]])
        path.write_text(json.dumps(content))
        if place[0] == "device":
            continue  # not under the hash; the device's signature is checked in test_device.py
        with pytest.raises(RecordError):
            load_record(path)


@settings(max_examples=60)
@given(st.data())
def test_entries_that_are_taken_out_or_swapped_are_noticed(record: InspectionRecord, data: st.DataObject) -> None:
    content = json.loads(dump_record(record))
    entries = content["entries"]
    one = data.draw(st.integers(0, len(entries) - 1))
    two = data.draw(st.integers(0, len(entries) - 1).filter(lambda two: two != one))
    if data.draw(st.booleans()):
        del entries[one]
    else:
        entries[one], entries[two] = entries[two], entries[one]
    assert content_sha256(content) != record.record_sha256


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "not a whole record"),
        ("{", "not a whole record"),
        ("[1]", "not an inspection record"),
        ("{}", "not an inspection record"),
        ('{"schema_version": "1"}', "not an inspection record"),
        ('{"schema_version": true}', "not an inspection record"),
        ('{"schema_version": 2}', "version 2; this program knows version 1"),
        ('{"schema_version": 1, "schema_version": 1}', "given twice"),
        ('{"schema_version": 1, "x": NaN}', "NaN is not JSON"),
        ('{"schema_version": 1}', "is broken at id"),
        ('{"schema_version": 1, "id": "\\ud800"}', "half of a character"),
        ("[" * 100_000, "not a whole record"),
    ],
)
def test_a_file_that_is_no_record_is_refused_in_one_sentence(tmp_path: Path, text: str, why: str) -> None:
    path = tmp_path / "record.json"
    path.write_text(text)
    with pytest.raises(RecordError, match=why) as caught:
        load_record(path)
    assert "\n" not in str(caught.value)
    assert caught.value.hint


def test_a_record_that_is_cut_short_anywhere_is_refused(record: InspectionRecord, tmp_path: Path) -> None:
    data = dump_record(record).encode()
    path = tmp_path / "record.json"
    for length in range(0, len(data) - 2, 997):
        path.write_bytes(data[:length])
        with pytest.raises(RecordError):
            load_record(path)


def _outcome(read: Callable[[], InspectionRecord]) -> InspectionRecord | None:
    try:
        return read()
    except RecordError:
        return None


def _thoroughly(body: bytes) -> InspectionRecord:
    return parse_record(_content(body, "x"), "x")


def test_the_quick_reader_takes_what_the_program_writes(record: InspectionRecord) -> None:
    assert _quickly(dump_record(record).encode()) == record == _thoroughly(dump_record(record).encode())


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_the_quick_reader_never_takes_what_the_thorough_one_refuses(
    record: InspectionRecord, data: st.DataObject
) -> None:
    body = dump_record(record).encode()
    at = data.draw(st.integers(0, len(body) - 1))
    kinds = [b"", b" ", b"0", b".0", b'"', b"\\", b":", b",", b"{}", b"\\u0022", b"\xff", b"e0", b"NaN", b"1"]
    put, cut = data.draw(st.sampled_from(kinds)), data.draw(st.integers(0, 2))
    spoiled = body[:at] + put + body[at + cut :]
    found = _quickly(spoiled)
    assert found is None or found == _outcome(lambda: _thoroughly(spoiled))
    assert _outcome(lambda: read_record(spoiled, "x")) == _outcome(lambda: _thoroughly(spoiled))


# Each hides a second "driver", before or after the true one, and makes up for it elsewhere.
HIDDEN = ['"driver": "X", ', '"driver" : "X", ', '"driver"\n:"X",', '"dri\\u0076er": "X", ']
ELSEWHERE = ["plain", "\\u0022:", ":", "\\u003a", " :", '\\":', "\\\\", '" :'.replace('"', '\\"')]


@pytest.mark.parametrize("hidden", HIDDEN)
@pytest.mark.parametrize("elsewhere", ELSEWHERE)
def test_a_field_given_twice_is_never_overlooked(record: InspectionRecord, hidden: str, elsewhere: str) -> None:
    named = seal(record.model_copy(update={"route_title": json.loads(f'"{elsewhere}"')}))
    text = dump_record(named)
    written = json.dumps(named.route_title, ensure_ascii=False)
    assert text.count(f'"route_title": {written}') == 1
    text = text.replace(f'"route_title": {written}', f'"route_title": "{elsewhere}"')
    assert read_record(text.encode(), "x") == named
    for spoiled in (
        text.replace('"driver"', f'{hidden}"driver"', 1),
        text.replace('"started"', f'{hidden}"started"', 1),
    ):
        with pytest.raises(RecordError, match="given twice"):
            read_record(spoiled.encode(), "x")


def test_unknown_fields_are_refused(record: InspectionRecord, tmp_path: Path) -> None:
    content = json.loads(dump_record(record))
    content["entries"][0]["passed"] = True
    content["record_sha256"] = content_sha256(content)
    path = tmp_path / "record.json"
    path.write_text(json.dumps(content))
    with pytest.raises(RecordError, match=r"broken at entries\.0\.passed"):
        load_record(path)


def test_a_changed_record_is_not_written(record: InspectionRecord, tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="changed after it was sealed"):
        save_record(record.model_copy(update={"driver": "someone else"}), tmp_path / "record.json")
    assert not list(tmp_path.iterdir())


def test_writing_into_a_missing_folder_says_so(record: InspectionRecord, tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="missing does not exist"):
        save_record(record, tmp_path / "missing" / "record.json")
